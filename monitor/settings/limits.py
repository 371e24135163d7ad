"""The limits in force for a supply, in sentences for people."""

from monitor.model.run import LimitKind
from monitor.model.step import SWAB_VOLTS, window_text
from monitor.settings.bench import Bench
from monitor.text.prompts import HEAT_NOT_WATCHED


def effective_limits_in_words(bench: Bench, name: str) -> list[str]:
    """What will be watched for one supply, defaults included.

    Parameters
    ----------
    name
        Of a supply of the bench.

    Raises
    ------
    KeyError
        The bench has no such supply.
    """
    supply = bench.supplies[name]
    at_limit = "cuts out" if supply.at_limit is LimitKind.TRIPS else "holds the current"
    limit, poll, horizon = (
        f"{value:g}" for value in (supply.limit_amps, supply.poll_s, bench.forecast.ahead_s)
    )
    sentences = [
        f"{name} {at_limit} at {limit} A; a warning is raised when that is expected within "
        f"{horizon} s.",
        f"{name} is read every {poll} s; {bench.no_data.after_s:g} s without a good reading "
        "raise an alarm.",
    ]
    if supply.bath is None:
        sentences.append(
            f"{name} is not connected to a bath of bench.toml: its warming cannot be calculated."
        )
    else:
        bath = bench.baths[supply.bath]
        sentences.append(
            f"{name} is connected to {supply.bath}, {bath.litres:g} L, which conducts "
            f"{100 * bath.per_kelvin:g} % more for each kelvin."
        )
    out = [
        f"The alarm {alarm} is OUT OF SERVICE and will not be raised: {why}."
        for alarm, why in bench.out_of_service().items()
    ]
    return [*sentences, *_of_the_circuit(bench, name), *out]


def _of_the_circuit(bench: Bench, name: str) -> list[str]:
    """What the amps may do on their way, and how they are watched there."""
    supply, fittings = bench.supplies[name], bench.fittings(name)
    sentences = [f"Step {step.line}." for step in fittings.steps]
    if any(step.has_default_volts for step in fittings.steps):
        swab = window_text(SWAB_VOLTS, "V")
        sentences.append(f"A strip with a swab has {swab} (default).")
    for part, conductor in supply.conductors.items():
        sentences.append(
            f"The {part} can carry {conductor.rated_amps * conductor.k_factor:g} A all day and "
            f"reaches 63 % of its final temperature rise in {conductor.time_constant_s:g} s."
        )
    if supply.leads is not None:
        sentences.append(
            f"The leads are {supply.leads.loop_metres:g} m of gauge {supply.leads.gauge_awg:g}."
        )
    if fittings.leads is not None and len(fittings.heated) > len(fittings.conductors):
        sentences.append(
            f"By their gauge they can carry {fittings.leads.rated_amps:.0f} A all day in free air "
            "(National Electrical Code, table 310.17, 60 C)."
        )
    if not fittings.heated:
        sentences.append(HEAT_NOT_WATCHED[0].upper() + HEAT_NOT_WATCHED[1:] + ".")
    if supply.cells > 1:
        sentences.append(f"{name} feeds {supply.cells} cells in series.")
    if supply.job is not None and supply.job.most_amps_per_dm2 is not None:
        area = supply.job.area_dm2
        work = "The work" if area is None else f"The work, {area:g} dm2,"
        sentences.append(f"{work} can take {supply.job.most_amps_per_dm2:g} A/dm2.")
    bath = None if supply.bath is None else bench.baths[supply.bath]
    if bath is not None and bath.most_celsius is not None:
        sentences.append(f"{supply.bath} must not get warmer than {bath.most_celsius:g} C.")
    return sentences
