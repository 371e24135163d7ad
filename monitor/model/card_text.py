"""The job card as the text of a request to the recorder, and read back from that text."""

import json
import math
from dataclasses import asdict

from monitor.model.card import JobCard, Way

LONGEST_WAY_S = 3600.0


def card_as_text(card: JobCard) -> str:
    """The step, for people, and after a # the whole card.

    Examples
    --------
    >>> card = JobCard("north tank", "strip", Way.TANK, area_dm2=1.6)
    >>> card_as_text(card).partition("#")[0], card_from_text(card_as_text(card)) == card
    ('strip', True)
    """
    return f"{card.step.replace('#', ' ')}#{json.dumps(asdict(card), separators=(',', ':'))}"


def card_from_text(text: str) -> JobCard | None:
    """The card; None where the text holds none."""
    try:
        fields = json.loads(text.partition("#")[2])
        if not isinstance(fields, dict):
            return None
        way = _words(fields.get("way") or "")
        return JobCard(
            bath=_words(fields.get("bath", "")),
            step=_words(fields.get("step", "")),
            way=Way(way) if way else None,
            part=_words(fields.get("part", "")),
            area_dm2=_size(fields.get("area_dm2")),
            micrometres=_size(fields.get("micrometres")),
            operator=_words(fields.get("operator", "")),
            reference=_words(fields.get("reference", "")),
            checked=_words(fields.get("checked", "")),
            reaction_s=_reaction(fields.get("reaction_s")),
        )
    except (ValueError, RecursionError, OverflowError):
        return None


def _size(value: object) -> float | None:
    """Raises ValueError for what is no size."""
    if value is None:
        return None
    if not isinstance(value, int | float) or isinstance(value, bool) or not 0 < value < math.inf:
        raise ValueError(f"{value!r} is no size")
    return float(value)


def _reaction(value: object) -> float | None:
    """A way of more than an hour is none."""
    seconds = _size(value)
    if seconds is not None and seconds > LONGEST_WAY_S:
        raise ValueError(f"{value!r} is no way to the supply")
    return seconds


def _words(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text")
    return value
