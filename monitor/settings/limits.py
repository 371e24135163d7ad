"""A supply's settings in, the limits in force for it out, in sentences for people."""

from monitor.settings.bench import Bench
from monitor.store.rows import LimitKind


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
    at_limit = "cuts out" if supply.limit_kind is LimitKind.TRIPS else "holds the current"
    limit, poll, horizon = (
        f"{value:g}" for value in (supply.limit_amps, supply.poll_s, bench.forecast.horizon_s)
    )
    sentences = [
        f"{name} {at_limit} at {limit} A; a warning is raised when that is expected within "
        f"{horizon} s.",
        f"{name} is asked every {poll} s; {bench.no_data.after_s:g} s without a good reading "
        "raise an alarm.",
    ]
    if supply.bath is None:
        sentences.append(
            f"{name} is not tied to a bath: how the bath warms is not reckoned from its size."
        )
    else:
        bath = bench.baths[supply.bath]
        sentences.append(
            f"{name} feeds {supply.bath}, {bath.litres:g} L, which conducts "
            f"{100 * bath.per_kelvin:g} % more for each kelvin."
        )
    return sentences
