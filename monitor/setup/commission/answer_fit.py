"""Which of the numbers in an answer are volts and amps, by what the panel showed.

A number is volts or amps if, times a power of ten, it is near what the panel showed at every
setting. More than one way may fit: then the operator points at the right one.
"""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import product
from typing import TypeAlias, TypeVar

from monitor.setup.commission.candidates import SCALES
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.panel import Panel

P = TypeVar("P", bound=Hashable)

Chosen: TypeAlias = dict[str, tuple[P, float]]
"""The place of each quantity in an answer, and what one step of it is worth."""


def fitting(
    values: Sequence[Mapping[str, Mapping[P, float]]], shown: Sequence[Panel]
) -> Iterator[Chosen[P]]:
    """All ways to choose places for the quantities that the panel showed.

    Parameters
    ----------
    values
        For each answer, by the quantity: the value at each place that could be it.

    Raises
    ------
    NotCommissioned
        Where a way is near, but is not what the panel showed.
    """
    near: dict[str, list[tuple[P, float]]] = {
        name: [
            (place, scale)
            for place in values[0][name]
            for scale in SCALES
            if all(
                place in answer[name] and panel[name].is_near(answer[name][place] * scale)
                for answer, panel in zip(values, shown, strict=True)
            )
        ]
        for name in shown[0]
    }
    for chosen in product(*near.values()):
        if len({place for place, _ in chosen}) < len(chosen):
            continue
        named = dict(zip(near, chosen, strict=True))
        _demand_fit(values, shown, named)
        yield named


def _demand_fit(
    values: Sequence[Mapping[str, Mapping[P, float]]],
    shown: Sequence[Panel],
    named: Chosen[P],
) -> None:
    for answer, panel in zip(values, shown, strict=True):
        for name, (place, scale) in named.items():
            value = answer[name][place] * scale
            if not panel[name].fits(value):
                raise NotCommissioned(
                    f"the answer says {value:g} where the panel showed {panel[name].words}: wait "
                    "until the panel is steady, and try again"
                )
