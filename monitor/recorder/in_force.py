"""A plan in, the limits in force as flat JSON out; two of them in, what has changed out.

The run keeps what was in force when it began, and each change with its moment: whoever reads the
run later need not have the bench.toml of that day.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict

from monitor.alarms.board import SHELF_NS
from monitor.alarms.catalogue import KINDS
from monitor.model.card import JobCard
from monitor.model.event import SettingChange, Status
from monitor.model.fittings import Fittings
from monitor.model.kept_setting import kept_table
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.wall_clock import WALL_CLOCK
from monitor.watch.vigil import NO_DATA_POLLS

NO_CARD = JobCard()
ALARMS = "alarms"
"""Name of the status that says which alarms are out of service."""

Value = str | float | bool | None
InForce = dict[str, Value]


def in_force(plan: SupplyPlan, channels: Sequence[str], card: JobCard = NO_CARD) -> InForce:
    """Every limit, delay and wait that the watch of one supply goes by, defaults included.

    Parameters
    ----------
    channels
        Names of the ways by which notices go out.
    card
        The run's job card, whose step is in force.
    """
    facts = plan.facts
    found: InForce = {
        "limit_amps": facts.limit_amps,
        "at_limit": facts.limit_kind.value,
        "poll_s": facts.poll_s,
        "timeout_s": plan.timeout_s,
        "horizon_s": facts.horizon_s,
        "no_data_after_s": max(plan.no_data_after_s, NO_DATA_POLLS * facts.poll_s),
        "bath_litres": facts.bath_litres,
        "per_kelvin": plan.per_kelvin,
        "shelf_s": SHELF_NS / 1e9,
        "notices": ", ".join(channels),
    }
    found |= flat_fittings(plan.fittings.for_card(card))
    for kind in KINDS:
        name = f"alarms.{kind.name}"
        found |= {
            f"{name}.priority": kind.priority.value,
            f"{name}.on_delay_s": kind.on_delay_s,
            f"{name}.off_delay_s": kind.off_delay_s,
            f"{name}.latched": kind.latched,
            f"{name}.out_of_service": plan.out_of_service.get(kind.name),
        }
    return found


def flat_fittings(fittings: Fittings) -> InForce:
    """What the amps go through and may do there, under flat names.

    Of the step in force the name alone: its windows stand among the steps and in the limits.
    """
    found = dict(_flat("fittings", asdict(fittings)))
    return {
        name: value
        for name, value in found.items()
        if not name.startswith("fittings.step.") or name == "fittings.step.name"
    }


def service_status(out_of_service: Mapping[str, str], utc_ns: int) -> Status:
    """Which alarms are out of service, as it stands on the screen for the whole run.

    >>> service_status({"density-high": "no area known"}, 0).text
    'DENSITY-HIGH OUT OF SERVICE: no area known'
    """
    if not out_of_service:
        return Status(ALARMS, utc_ns, "every alarm is in service", True)
    names = ", ".join(out_of_service).upper()
    return Status(ALARMS, utc_ns, f"{names} OUT OF SERVICE: {'; '.join(out_of_service.values())}")


def as_settings(found: InForce, bench: str) -> str:
    """What the run keeps: the limits in force, and the settings of the bench as they were given."""
    return json.dumps({"in_force": found, "bench": json.loads(bench)}, separators=(",", ":"))


def changes(
    settings: str, so_far: Sequence[SettingChange], now: InForce, t_ns: int, utc_ns: int
) -> list[SettingChange]:
    """What is in force otherwise than when the run was last recorded.

    Parameters
    ----------
    settings, so_far
        Of the stored run: what it began with, and the changes since.
    t_ns, utc_ns
        When it is taken up again.
    """
    stored = kept_table(settings, "in_force")
    if not stored:
        return []
    before = {str(name): json.dumps(value) for name, value in stored.items()}
    before |= {one.name: one.after for one in so_far if one.name != WALL_CLOCK}
    return _differences(before, _as_json(now), t_ns, utc_ns)


def card_changes(before: Fittings, after: Fittings, t_ns: int, utc_ns: int) -> list[SettingChange]:
    """What a job card has changed of the limits in force."""
    old, new = _as_json(flat_fittings(before)), _as_json(flat_fittings(after))
    return _differences(old, new, t_ns, utc_ns)


def _as_json(found: InForce) -> dict[str, str]:
    return {name: json.dumps(value) for name, value in found.items()}


def _differences(
    before: Mapping[str, str], after: Mapping[str, str], t_ns: int, utc_ns: int
) -> list[SettingChange]:
    return [
        SettingChange(t_ns, utc_ns, name, before.get(name, "null"), after.get(name, "null"))
        for name in sorted({*before, *after})
        if before.get(name, "null") != after.get(name, "null")
    ]


def _flat(name: str, value: object) -> Iterator[tuple[str, Value]]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _flat(f"{name}.{key}", inner)
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value):
            yield from _flat(f"{name}.{number}", inner)
    elif value is None or isinstance(value, str | float | bool):
        yield name, value
    else:
        yield name, str(value)
