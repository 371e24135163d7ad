"""A job card in, the text of a request to the recorder out; and back."""

import json
from dataclasses import asdict, fields

from monitor.job.card import JobCard, Way


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
        found = json.loads(text.partition("#")[2])
    except ValueError:
        return None
    if not isinstance(found, dict):
        return None
    known = {field.name for field in fields(JobCard)}
    way = found.get("way")
    cells = {name: value for name, value in found.items() if name in known}
    return JobCard(**{**cells, "way": Way(way) if way else None})
