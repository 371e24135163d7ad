"""The limits that are watched in a run, in sentences, and the usual cautions."""

from monitor.model.card import STAYS_S
from monitor.model.run import LimitKind, RunFacts

CAUTIONS = (
    "Chromium comes off as hexavalent chromium: toxic, a carcinogen. Caustic burns skin and eyes.",
    "Gas makes mist, and hydrogen that burns: extraction on, no sparks, gloves and goggles.",
    "The chemical's SDS and local codes come first. This screen is not an interlock.",
)

RULES = "Follow the chemical's SDS and local codes. This screen is not an interlock."


def limits_in_words(facts: RunFacts) -> tuple[str, ...]:
    """The limits in force for a run.

    Examples
    --------
    >>> for sentence in limits_in_words(RunFacts("bench-1", "scpi:tcp://10.0.0.7:5025", 10.0)):
    ...     print(sentence)
    bench-1 cuts out at 10 A. A warning comes when that is expected within 120 s.
    Read every 0.2 s.
    """
    at_limit = "cuts out" if facts.limit_kind is LimitKind.TRIPS else "holds the current"
    sentences = [
        f"{facts.supply} {at_limit} at {facts.limit_amps:g} A. "
        f"A warning comes when that is expected within {facts.horizon_s:g} s.",
        f"Read every {facts.poll_s:g} s.",
    ]
    if facts.bath:
        litres = "" if facts.bath_litres is None else f", {facts.bath_litres:g} L"
        sentences.append(f"Connected to {facts.bath}{litres}.")
    return tuple(sentences)


def way_in_words(facts: RunFacts, reaction_s: float) -> str:
    """Where the operator is, and how far ahead a warning comes for it.

    >>> facts = RunFacts("bench-1", "scpi:tcp://10.0.0.7:5025", 10.0)
    >>> way_in_words(facts, 240.0)
    'You come when it calls: it warns 240 s ahead.'
    >>> way_in_words(facts, 15.0)
    'You stay here: it warns 120 s ahead.'
    """
    where = "stay here" if reaction_s <= STAYS_S else "come when it calls"
    return f"You {where}: it warns {max(facts.horizon_s, reaction_s):g} s ahead."
