"""Finds how volts and amps are read where a register tells how many decimals they have.

Pure: no port, no clock. What the panel showed is divided by what such a register says in each of
its meanings; the search for one way to read then goes on as if there were no scale. Exactly one
meaning must be left.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from drivers.modbus.scale_register import MEANINGS, ScaleMeaning, scale_of
from monitor.setup.commission.candidates import FUNCTIONS, Facts, Pair, Setting, search
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.panel import Shown


def search_scaled(
    settings: Sequence[Setting],
    addresses: Mapping[str, int],
    scales: Mapping[str, int],
    ratings: Mapping[str, float],
    facts: Facts,
) -> tuple[Pair, ScaleMeaning]:
    """The one way to read both, and what the registers of their scales mean.

    Parameters
    ----------
    scales
        The wire address of each quantity's scale as the manual was taken to say; one more or less
        is tried along with the quantities' own.

    Raises
    ------
    Ambiguous, NotCommissioned
    """
    fitting: dict[ScaleMeaning, Pair] = {}
    failure: NotCommissioned | None = None
    for meaning in MEANINGS:
        for function in FUNCTIONS:
            for offset in (0, -1, 1):
                own = replace(facts, function=function, offset=offset, scales=(1.0,))
                read = _read_scales(settings, scales, meaning, function, offset)
                if read is None or meaning in fitting or facts.function not in (None, function):
                    continue
                steps = {name: rated / read[name][0] for name, rated in ratings.items()}
                try:
                    fitting[meaning] = search(_divided(settings, read), addresses, steps, own)
                except NotCommissioned as error:
                    failure = failure if isinstance(failure, Ambiguous) else error
    if len(fitting) > 1:
        raise Ambiguous(
            f"the register of the scale fits as {' and as '.join(fitting)}: say by the manual "
            "which, as scale_from in a description of your own"
        )
    for meaning, pair in fitting.items():
        return pair, meaning
    raise failure or NotCommissioned(
        "the register of the scale is not given, or holds nothing that can be one: check its "
        "number, or leave it out"
    )


def _read_scales(
    settings: Sequence[Setting],
    scales: Mapping[str, int],
    meaning: ScaleMeaning,
    function: int,
    offset: int,
) -> dict[str, list[float]] | None:
    """The scale of each quantity at each setting; None where there is none."""
    read: dict[str, list[float]] = {}
    for name, address in scales.items():
        for setting in settings:
            registers = setting.registers(function, address + offset, 1)
            scale = None if registers is None else scale_of(meaning, registers[0])
            if scale is None:
                return None
            read.setdefault(name, []).append(scale)
    return read


def _divided(settings: Sequence[Setting], scales: Mapping[str, list[float]]) -> list[Setting]:
    """The settings with their panels in steps of the scale."""
    divided = []
    for number, setting in enumerate(settings):
        panel = {
            name: Shown(shown.value / scales[name][number], shown.step / scales[name][number])
            for name, shown in setting.shown.items()
            if name in scales
        }
        divided.append(replace(setting, shown=panel))
    return divided
