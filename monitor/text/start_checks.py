"""The start card's checklist, in words: what no meter sees."""

from collections.abc import Collection

from monitor.model.start_check import StartCheck

NOT_WATCHED = "No meter sees these. Nothing watches them."
ASKS = {
    StartCheck.EXTRACTION: "extraction is on",
    StartCheck.LID: "lid is within reach",
    StartCheck.LEVEL: "solution covers the part",
    StartCheck.GOGGLES: "goggles and gloves are on",
    StartCheck.BASE_METAL: "no zinc, brass or aluminium below the nickel",
    StartCheck.POLARITY: "part is on +, steel is on -",
}
PRINTED = f"BEFORE YOU SWITCH ON: {'; '.join(ASKS.values())}. {NOT_WATCHED}"
"""For a recorder without a screen."""


def confirmed(checks: Collection[StartCheck]) -> str:
    """What was confirmed and what was not, for a report.

    >>> confirmed(tuple(StartCheck)[:5])
    'extraction, lid, level, goggles, base metal. Not confirmed: polarity. Nothing watches them.'
    >>> confirmed(())
    'none. Nothing watches them.'
    """
    yes, no = (
        ", ".join(check.replace("-", " ") for check in StartCheck if (check in checks) is wanted)
        for wanted in (True, False)
    )
    missing = f" Not confirmed: {no}." if yes and no else ""
    return f"{yes or 'none'}.{missing} Nothing watches them."
