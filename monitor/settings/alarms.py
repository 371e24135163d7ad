"""The tables `[alarms.NAME]` of bench.toml: what a shop takes out of service, and why."""

from typing import Annotated

from pydantic import AfterValidator, Field

from drivers.base.nearest import nearest
from monitor.alarms.catalogue import BY_NAME
from monitor.settings.table import Table


def _may_be_set(name: str) -> str:
    """The name of an alarm that a setting may silence: none that is critical."""
    kind = BY_NAME.get(name)
    if kind is None:
        close = nearest(name, BY_NAME)
        hint = f"did you mean '{close}'?" if close else f"known: {', '.join(BY_NAME)}"
        raise ValueError(f"there is no alarm '{name}'; {hint}")
    if not kind.may_be_shelved:
        raise ValueError(f"'{name}' is critical and stays in service; leave the table out")
    return name


AlarmName = Annotated[str, AfterValidator(_may_be_set)]


class AlarmSettings(Table):
    """A table `[alarms.NAME]`: one alarm, which must not be critical.

    Parameters
    ----------
    out_of_service
        Why the alarm is judged no more, in words that stand on the screen for as long as it is;
        leave the table out and start the recorder again to put it back.
    """

    out_of_service: str = Field(min_length=3, max_length=80)
