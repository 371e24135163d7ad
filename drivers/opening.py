"""What every driver does when its opening fails: the link is given back, and a cure is told."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from drivers.errors import AskAgain, GarbledAnswer, SupplySilent, SupplyUnreadable


@contextmanager
def closed_on_failure(close: Callable[[], None]) -> Iterator[None]:
    """Close when what is inside fails; an answer that failed asks for a reopening.

    Raises
    ------
    SupplyUnreadable, SupplySilent
        In the place of `GarbledAnswer` and of any other `AskAgain`; others leave as they are.
    """
    try:
        yield
    except GarbledAnswer as error:
        close()
        raise SupplyUnreadable(str(error)) from error
    except AskAgain as error:
        close()
        raise SupplySilent(str(error)) from error
    except BaseException:
        close()
        raise
