"""Checks the files of a trial by four rules that hold whatever goes wrong.

1. Every stored value is the supply's own, for its own time.
2. Every due poll has a row, and every one without an answer has a reason.
3. While the supply had cut out, something was sounding.
4. Nothing but questions was sent.
"""

import json
from collections import Counter
from dataclasses import dataclass, field

from benchmarks.page import Figure
from monitor.model.run import RunRow
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.reader import open_store
from tests.whole.bath_track import AROUND
from tests.whole.bath_trial import Trial

SLACK_S = 0.03
"""Real seconds by which two processes may differ on when a question came."""
SOUND_WITHIN_S = 4.5
"""Real seconds within which the sound comes again: its repeat, its player's start, and a poll."""
AFTER_OUTAGE_S = 6.0
"""Real seconds after which a recorder that was stopped or killed must have sounded again."""


@dataclass
class Findings:
    """The figures of a trial, and its broken rules."""

    faults: Counter[str] = field(default_factory=Counter)
    due: int = 0
    stored: int = 0
    gaps: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    holes: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)
    sent: list[str] = field(default_factory=list)
    alarms_due_s: int = 0
    alarms: Counter[str] = field(default_factory=Counter)
    sounds: int = 0
    latest_sound_s: float = 0.0
    bytes_sent: int = 0
    bath_s: float = 0.0

    @property
    def broken(self) -> list[str]:
        """Everything that breaks a rule."""
        return [*self.wrong, *self.holes, *self.silent, *self.sent]


@dataclass(frozen=True, slots=True)
class Asked:
    """One exchange of the simulator's log: bath seconds, the values that it answered."""

    t_s: float
    values: tuple[float, float]


def judge(trial: Trial) -> Findings:
    """Hold the files against the rules."""
    around = [one.kind for one in trial.strikes if one.kind in AROUND]
    if not trial.has_small_disk:
        # Without the right to mount there was no disk that could be filled.
        around = [kind for kind in around if kind != "disk full"]
    found = Findings(faults=Counter(around))
    exchanges = [json.loads(line) for line in trial.log.read_text().splitlines()]
    found.faults.update(one["fault"] for one in exchanges if one["fault"] is not None)
    found.bytes_sent = sum(len(bytes.fromhex(one["asked"])) for one in exchanges)
    found.sent = [f"not a question: {one['question']}" for one in exchanges if one["commands"]]
    asked = _measured(exchanges)
    with open_store(trial.store) as store:
        runs = [(row, list(store.run(row.run).rows())) for row in store.runs()]
        for row, _ in runs:
            found.alarms.update(
                event.alarm
                for event in store.run(row.run).alarms()
                if event.change.value == "raised"
            )
    offset_s = _offset_s(runs, asked)
    for row, rows in runs:
        _judge_values(trial, row, rows, asked, offset_s, found)
        _judge_holes(trial, rows, found)
    _judge_sounds(trial, exchanges, runs[0][0], offset_s, found)
    return found


def _measured(exchanges: list[dict[str, object]]) -> list[Asked]:
    """What was asked for together, or volts and right after them amps.

    A supply whose joined answer is spoilt while it is tried out is asked in two from then on.
    """
    found, volts_before = [], ""
    for exchange in exchanges:
        question, answer = str(exchange["question"]).upper(), str(exchange["answer"] or "")
        volts, amps = "", ""
        if question.startswith("MEAS:VOLT?;"):
            volts, _, amps = answer.partition(";")
        elif question == "MEAS:CURR?":
            volts, amps = volts_before, answer
        volts_before = answer if question == "MEAS:VOLT?" else ""
        if volts and amps:
            found.append(Asked(float(str(exchange["t_s"])), (float(volts), float(amps))))
    return found


def _offset_s(runs: list[tuple[RunRow, list[Sample | Gap]]], asked: list[Asked]) -> float:
    """How far the recorder's first run began before the simulator's scene, bath seconds.

    The first samples are undisturbed: each question was asked before the supply had it, and
    answered after.
    """
    _, rows = runs[0]
    samples = [one for one in rows if isinstance(one, Sample) and one.volts is not None][:10]
    differences = []
    for sample in samples:
        same = [one.t_s for one in asked if one.values == (sample.volts, sample.amps)]
        differences += [sample.t_s - t_s for t_s in same[:1]]
    differences.sort()
    return differences[len(differences) // 2]


def _judge_values(
    trial: Trial,
    row: RunRow,
    rows: list[Sample | Gap],
    asked: list[Asked],
    offset_s: float,
    found: Findings,
) -> None:
    by_values: dict[tuple[float, float], list[float]] = {}
    for one in asked:
        by_values.setdefault(one.values, []).append(one.t_s + offset_s)
    for sample in rows:
        if not isinstance(sample, Sample) or sample.quality is Quality.SUSPECT:
            continue
        if sample.volts is None or sample.amps is None:
            continue
        found.stored += 1
        half_s = sample.latency_us / 2e6 + SLACK_S * trial.speed
        times = by_values.get((sample.volts, sample.amps), [])
        if not any(abs(t_s - sample.t_s) <= half_s for t_s in times):
            nearest = min((abs(t_s - sample.t_s) for t_s in times), default=None)
            found.wrong.append(
                f"run {row.run} seq {sample.seq}: {sample.volts} V {sample.amps} A at "
                f"{sample.t_s:.2f} s is no answer of that time (nearest {nearest})"
            )


def _judge_holes(trial: Trial, rows: list[Sample | Gap], found: Findings) -> None:
    found.due += len(rows)
    if not rows:
        return
    found.bath_s += rows[-1].t_s
    seqs = [one.seq for one in rows]
    if seqs != list(range(len(rows))):
        found.holes.append(f"seqs {seqs[:3]} ... {seqs[-3:]} are not 0 to {len(rows) - 1}")
    times = [one.t_ns for one in rows]
    if times != sorted(set(times)):
        found.holes.append("times go back")
    for one in rows:
        if isinstance(one, Gap):
            found.gaps[one.reason] += 1
            if not one.reason:
                found.holes.append(f"seq {one.seq} has no reason")


def _judge_sounds(
    trial: Trial,
    exchanges: list[dict[str, object]],
    first: RunRow,
    offset_s: float,
    found: Findings,
) -> None:
    lines = trial.sounds.read_text().splitlines() if trial.sounds.exists() else []
    heard = sorted(float(line.split()[0]) for line in lines)
    found.sounds = len(heard)
    began_s = first.began_utc_ns / 1e9

    def wall_s(bath_s: float) -> float:
        return began_s + (bath_s + offset_s) / trial.speed

    out = [one for one in exchanges if _true_mode(one) == "cut-out"]
    if not out:
        return
    from_s = wall_s(float(str(out[0]["t_s"]))) + SOUND_WITHIN_S
    to_s = wall_s(float(str(out[-1]["t_s"])))
    moment_s = from_s
    while moment_s < to_s:
        is_out = any(
            outage.began_s <= moment_s <= outage.ended_s + AFTER_OUTAGE_S
            for outage in trial.outages
        )
        if not is_out:
            found.alarms_due_s += 1
            last = max((one for one in heard if one <= moment_s), default=0.0)
            found.latest_sound_s = max(found.latest_sound_s, moment_s - last)
            if moment_s - last > SOUND_WITHIN_S:
                found.silent.append(f"no sound for {moment_s - last:.1f} s at {moment_s:.1f}")
        moment_s += 1.0


def _true_mode(exchange: dict[str, object]) -> str:
    true = exchange["true"]
    assert isinstance(true, dict)
    return str(true["mode"])


def figures_of(found: Findings, seconds: float) -> list[Figure]:
    """The figures of a trial."""
    faults = ", ".join(f"{kind} {count}" for kind, count in sorted(found.faults.items()))
    gaps = ", ".join(f"{reason} {count}" for reason, count in sorted(found.gaps.items()))
    alarms = ", ".join(f"{alarm} {count}" for alarm, count in sorted(found.alarms.items()))
    wrong, holes, silent, sent = map(len, (found.wrong, found.holes, found.silent, found.sent))
    each = found.alarms.total() / found.faults.total()
    waits = f"{found.sounds}; {found.latest_sound_s:.1f} s"
    return [
        Figure("real seconds, bath hours", f"{seconds:.0f}, {found.bath_s / 3600:.2f}"),
        Figure("faults tried", f"{found.faults.total()}: {faults}"),
        Figure("polls due", f"{found.due}"),
        Figure("samples stored", f"{found.stored}"),
        Figure("polls without a sample, by reason", gaps or "none"),
        Figure("wrong values", f"{wrong}", "0", not wrong),
        Figure("due polls without a row or a reason", f"{holes}", "0", not holes),
        Figure("alarms raised", alarms or "none"),
        Figure("alarms for each fault tried", f"{each:.2f}"),
        Figure(
            "seconds cut out, of which silent",
            f"{found.alarms_due_s}, {silent}",
            "none silent",
            not silent,
        ),
        Figure("sounds; longest wait for one while cut out", waits),
        Figure(
            "bytes sent; messages that were no question",
            f"{found.bytes_sent}; {sent}",
            "no message that is no question",
            not sent,
        ),
    ]
