"""The limits in force of one supply: what the run keeps of them, and what changes in mid-run.

The run keeps what was in force when it began, and each change with its moment: whoever reads the
run later need not have the bench.toml of that day.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass

from monitor.alarms.catalogue import KINDS
from monitor.model.alarm import SHELF_NS, Priority
from monitor.model.card import JobCard
from monitor.model.event import SettingChange, Status
from monitor.model.fittings import Fittings
from monitor.model.kept_settings import kept_table
from monitor.model.run import LimitKind
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.wall_clock import WALL_CLOCK
from monitor.text import badges
from monitor.watch.vigil import NO_DATA_POLLS

NO_CARD = JobCard()
NEWER = {"cells": "1", "has_default_volts": "false"}
"""Limits that an earlier program did not keep, as JSON: so it watched."""
ALARMS = "alarms"
"""Name of the status that says which alarms are out of service."""


@dataclass(frozen=True, slots=True)
class AlarmInForce:
    """How one alarm is judged; `out_of_service` is why it is not, None where it is."""

    priority: Priority
    on_delay_s: float
    off_delay_s: float
    latched: bool
    out_of_service: str | None


@dataclass(frozen=True, slots=True)
class InForce:
    """Every limit, delay and wait by which one supply is watched, defaults included.

    Parameters
    ----------
    shelf_s
        For how long an alarm may be shelved.
    notices
        Names of the ways by which notices go out, with commas between.
    fittings
        With the step in force and the work that the job card names.
    """

    limit_amps: float
    at_limit: LimitKind
    poll_s: float
    timeout_s: float
    horizon_s: float
    no_data_after_s: float
    bath_litres: float | None
    per_kelvin: float
    shelf_s: float
    notices: str
    fittings: Fittings
    alarms: Mapping[str, AlarmInForce]


def in_force(plan: SupplyPlan, channels: Sequence[str], card: JobCard = NO_CARD) -> InForce:
    """The limits by a plan, the names of the channels of notices, and the run's job card."""
    facts = plan.facts
    return InForce(
        limit_amps=facts.limit_amps,
        at_limit=facts.limit_kind,
        poll_s=facts.poll_s,
        timeout_s=plan.timeout_s,
        horizon_s=max(facts.horizon_s, card.reaction_s or 0.0),
        no_data_after_s=max(plan.no_data_after_s, NO_DATA_POLLS * facts.poll_s),
        bath_litres=facts.bath_litres,
        per_kelvin=plan.per_kelvin,
        shelf_s=SHELF_NS / 1e9,
        notices=", ".join(channels),
        fittings=plan.fittings.for_card(card),
        alarms={
            kind.name: AlarmInForce(
                kind.priority,
                kind.on_delay_s,
                kind.off_delay_s,
                kind.latched,
                plan.out_of_service.get(kind.name),
            )
            for kind in KINDS
        },
    )


def service_status(out_of_service: Mapping[str, str], utc_ns: int) -> Status:
    """Which alarms are out of service, as it stands on the screen for the whole run.

    >>> service_status({"density-high": "no area known"}, 0).text
    'DENSITY-HIGH OUT OF SERVICE: no area known'
    """
    if not out_of_service:
        return Status(ALARMS, utc_ns, "every alarm is in service", True)
    badge = badges.out_of_service(out_of_service)
    return Status(ALARMS, utc_ns, f"{badge}: {'; '.join(out_of_service.values())}")


def as_settings(limits: InForce, bench: str) -> str:
    """What the run keeps: the limits in force, and the settings of the bench as they were given."""
    kept = {"in_force": asdict(limits), "bench": json.loads(bench)}
    return json.dumps(kept, separators=(",", ":"))


def changes(
    settings: str, so_far: Sequence[SettingChange], now: InForce, t_ns: int, utc_ns: int
) -> list[SettingChange]:
    """The limits that differ from those when the run was last recorded.

    Parameters
    ----------
    settings, so_far
        Of the stored run: what it began with, and the changes since.
    t_ns, utc_ns
        When it is taken up again.
    """
    kept = kept_table(settings, "in_force")
    if not kept:
        return []
    # An earlier program knew of no stacks.
    before = {"fittings.cells": "1"} | dict(_leaves(kept))
    before |= {change.name: change.after for change in so_far if change.name != WALL_CLOCK}
    return _differences(before, dict(_leaves(asdict(now))), t_ns, utc_ns)


def card_changes(before: Fittings, after: Fittings, t_ns: int, utc_ns: int) -> list[SettingChange]:
    """The limits that a job card has changed."""
    old, new = (dict(_leaves(asdict(fittings), "fittings.")) for fittings in (before, after))
    return _differences(old, new, t_ns, utc_ns)


def horizon_changes(before_s: float, after_s: float, t_ns: int, utc_ns: int) -> list[SettingChange]:
    """How far ahead is warned, where a job card has changed it.

    >>> [change.after for change in horizon_changes(120.0, 240.0, 0, 0)]
    ['240.0']
    """
    was, now = ({"horizon_s": json.dumps(value)} for value in (before_s, after_s))
    return _differences(was, now, t_ns, utc_ns)


def _differences(
    before: Mapping[str, str], after: Mapping[str, str], t_ns: int, utc_ns: int
) -> list[SettingChange]:
    changes = []
    for name in sorted({*before, *after}):
        earlier = NEWER.get(name.rpartition(".")[2], "null")
        was, now = before.get(name, earlier), after.get(name, earlier)
        if was != now:
            changes.append(SettingChange(t_ns, utc_ns, name, was, now))
    return changes


def _leaves(table: Mapping[str, object], above: str = "") -> Iterator[tuple[str, str]]:
    """Each value as JSON, by the name that a change has, such as "fittings.job.area_dm2".

    Of the step in force the name alone: its windows stand among the steps and in the limits.
    """
    for key, value in table.items():
        name = f"{above}{key}"
        if isinstance(value, list | tuple):
            value = {str(number): part for number, part in enumerate(value)}
        if isinstance(value, Mapping):
            yield from _leaves(value, f"{name}.")
        elif not above.startswith("fittings.step.") or name == "fittings.step.name":
            yield name, json.dumps(value)
