"""What was found out about a supply in, its description out: tried before it is kept."""

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil
from pathlib import Path

from drivers.base.clock import Clock
from drivers.base.timeout import TIMEOUT_S
from drivers.commissioned import Seen
from drivers.description import FORMAT
from drivers.errors import BadDescription
from drivers.link.serial_settings import SerialSettings
from drivers.reply_times import ReplyTimes
from monitor.base.errors import WrongUse
from monitor.base.program import VERSION
from monitor.base.whole_file import whole_file
from monitor.setup.commission.answers import Operator
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.toml_text import Document, Plain, Value, toml_text


@dataclass(frozen=True, slots=True)
class Made:
    """What one kind of supply adds to its description.

    Parameters
    ----------
    tables
        The tables of its kind.
    choice
        What was chosen, and why, in words.
    seen
        The answers that it was chosen from.
    """

    tables: Mapping[str, Value]
    choice: str
    seen: tuple[Seen, ...]


def time_to_answer(times: ReplyTimes) -> dict[str, Plain]:
    """What a `[talk]` says of a supply too slow for the usual time-out: three times its slow ones.

    Examples
    --------
    >>> times = ReplyTimes()
    >>> time_to_answer(times)
    {}
    >>> times.add(0.41)
    >>> time_to_answer(times)
    {'answer_within_s': 1.3}
    """
    wanted_s = times.proposed_timeout_s
    if wanted_s is None or wanted_s <= TIMEOUT_S:
        return {}
    return {"answer_within_s": ceil(10 * wanted_s) / 10}


def read_ratings(operator: Operator) -> dict[str, float]:
    """What the rating plate says, by "volts" and "amps"; what is not said is left out.

    Raises
    ------
    WrongUse
    """
    ratings = {}
    for name in ("volts", "amps"):
        text = operator.answer(f"rated_{name}").strip().replace(",", ".")
        if not text:
            continue
        try:
            ratings[name] = float(text.rstrip("VAva "))
        except ValueError:
            raise WrongUse(f"rated {name} {text!r}: type a number, such as 12") from None
        if not 0.1 <= ratings[name] <= 10_000:
            raise WrongUse(f"rated {name} {text!r}: must be from 0.1 to 10000")
    return ratings


def describe(
    kind: str,
    made: Made,
    operator: Operator,
    ratings: Mapping[str, float],
    serial: SerialSettings | None,
    clock: Clock,
) -> str:
    """The text of the whole description."""
    document: dict[str, Value] = {
        "format": FORMAT,
        "kind": kind,
        "title": operator.answer("title"),
        "source": operator.answer("source"),
    }
    if ratings:
        document["ratings"] = dict(ratings)
    if serial is not None:
        document["serial"] = {
            "baud": serial.baud,
            "parity": serial.parity,
            "stop_bits": serial.stop_bits,
            "data_bits": serial.data_bits,
        }
    document.update(made.tables)
    document["commissioned"] = {
        "operator": operator.answer("operator"),
        "date": datetime.fromtimestamp(clock.utc_ns() / 1e9, UTC).date().isoformat(),
        "program": f"bathvigil {VERSION}",
        "choice": made.choice,
        "seen": [_seen(one) for one in made.seen],
    }
    return toml_text(document)


def keep(text: str, to: Path, load: Callable[[str], object], replace: bool) -> None:
    """Write a description, once it has been loaded as the driver will load it.

    Raises
    ------
    WrongUse
        Where a file is there already.
    NotCommissioned
        Where the driver refuses it.
    """
    if to.suffix != ".toml":
        raise WrongUse(f"{to}: a description's name ends in .toml")
    if to.exists() and not replace:
        raise WrongUse(f"{to} is there already: name another file, or give --replace")
    try_out(text, load)
    with whole_file(to) as file:
        file.write(text)


def try_out(text: str, load: Callable[[str], object]) -> None:
    """Load a description from a file that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="bathvigil-") as folder:
        draft = Path(folder) / "draft.toml"
        draft.write_text(text, encoding="utf-8")
        try:
            load(str(draft))
        except BadDescription as error:
            raise NotCommissioned(f"the description would not be usable: {error}") from error


def _seen(one: Seen) -> Document:
    shown = {"shown": one.shown} if one.shown else {}
    return {"asked": one.asked, "raw": one.raw, **shown}
