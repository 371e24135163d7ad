"""The description of a supply, made from a session with it and tried before it is kept."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil
from pathlib import Path
from tempfile import TemporaryDirectory

from drivers.base.clock import Clock
from drivers.base.timeout import TIMEOUT_S
from drivers.commissioned import Seen
from drivers.description import FORMAT
from drivers.errors import BadDescription
from drivers.link.serial_settings import SerialSettings
from drivers.reply_times import ReplyTimes
from monitor.base.program import VERSION
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.questionnaire import Answers, ratings_of
from monitor.setup.commission.toml_text import Document, Plain, Value, toml_text

RESTS_MS = (0, 20, 60, 150, 400, 1000)
"""The rests between an answer and the next question that are tried on a supply in text."""


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
    kind
        The kind of description that it makes; "" for that of its address.
    """

    tables: Mapping[str, Value]
    choice: str
    seen: tuple[Seen, ...]
    kind: str = ""


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


def describe(
    kind: str,
    made: Made,
    answers: Answers,
    serial: SerialSettings | None,
    clock: Clock,
) -> str:
    """The text of the whole description."""
    document: dict[str, Value] = {
        "format": FORMAT,
        "kind": made.kind or kind,
        "title": answers["title"],
        "source": answers["source"],
    }
    if ratings := ratings_of(answers):
        document["ratings"] = ratings
    if serial is not None:
        document["serial"] = {
            "baud": serial.baud,
            "parity": serial.parity,
            "stop_bits": serial.stop_bits,
            "data_bits": serial.data_bits,
        }
    document.update(made.tables)
    document["commissioned"] = {
        "operator": answers["operator"],
        "date": datetime.fromtimestamp(clock.utc_ns() / 1e9, UTC).date().isoformat(),
        "program": f"bathvigil {VERSION}",
        "choice": made.choice,
        "seen": [_seen_table(seen) for seen in made.seen],
    }
    return toml_text(document)


@contextmanager
def draft(text: str) -> Iterator[str]:
    """The path of a description to load, which is gone afterwards.

    Raises
    ------
    NotCommissioned
        Where the driver refuses it.
    """
    with TemporaryDirectory(prefix="bathvigil-") as folder:
        path = Path(folder) / "draft.toml"
        path.write_text(text, encoding="utf-8")
        try:
            yield str(path)
        except BadDescription as error:
            raise NotCommissioned(f"the description would not be usable: {error}") from error


def _seen_table(seen: Seen) -> Document:
    shown = {"shown": seen.shown} if seen.shown else {}
    return {"asked": seen.asked, "raw": seen.raw, **shown}
