"""A run in which everything happened, over and over, in long words: the most a page meets."""

from dataclasses import replace
from pathlib import Path

from monitor.model.alarm import Priority
from monitor.model.card import JobCard, Way
from monitor.model.event import Mark, Prompt, SettingChange
from monitor.model.outcome import Gone, Outcome
from monitor.store.job_rows import JobBox
from tests.clock import HandClock
from tests.monitor.store.bench import (
    POLL_NS,
    a_gap,
    a_run,
    a_sample,
    a_store,
    an_estimate,
    an_event,
)

WORDS = (
    "the supply cut out after 40.16 A (limit 40 A): slow rise, from 34.9 A to 40.2 A in 12:13 "
    "at the same volts, and the bath conducts 15 % more than at the start of this run"
)
ALARMS = (
    ("trip-expected", Priority.HIGH),
    ("tripped", Priority.CRITICAL),
    ("connection-resistance", Priority.MEDIUM),
)
PROMPTS = ("strip-looks-finished", "hold-done", "check-wetting", "outside-step-window")
CARD = JobCard(
    "north tank", "strip", Way.TANK, "six handlebars of 1932 with lamp brackets", 1.6, 0.3, "Ada",
    "order 112 of the bicycle museum",
)  # fmt: skip
POLLS = 3000


def crowded_run(path: Path) -> None:
    """Fill a new store with it, as run 1: 90 alarms, 24 prompts, 12 marks, 30 gaps."""
    clock = HandClock()
    with a_store(path, clock) as writer:
        run = a_run(writer, clock)
        for seq in range(POLLS):
            if seq % 100 < 4:
                writer.write([(run, a_gap(seq, "no answer", WORDS))])
                continue
            told = an_estimate(seq)._replace(amps_expected=6.0, siemens_at_start=0.7, celsius=24.0)
            writer.write([(run, a_sample(seq, amps=5.0 + seq / 700.0)), (run, told)])
        for number in range(30):
            writer.write(
                [
                    (run, replace(
                        an_event(number * 90 + 50, alarm=alarm, priority=priority,
                                 occurrence=number + 1),
                        message=WORDS,
                    ))
                    for alarm, priority in ALARMS
                ]
            )  # fmt: skip
        for number in range(6):
            first = number * 480
            writer.write(
                [
                    (run, Prompt(prompt, first + at, (first + at) * POLL_NS, WORDS))
                    for at, prompt in enumerate(PROMPTS)
                ]
            )
        for number in range(12):
            t_ns = number * 40_000_000_000
            text = "flushed the sleeve and turned the clip round; " * 3
            writer.write([(run, Mark(number + 1, t_ns, clock.utc_ns(), text))])
            for limit in ("lowest_volts", "highest_volts"):
                name = f"fittings.window.{limit}"
                writer.write([(run, SettingChange(t_ns, clock.utc_ns(), name, "6.0", "4.0"))])
        clock.pass_s(600.0)
        writer.end_run(run, POLLS * POLL_NS, "ended by the operator")
    JobBox(path, clock).put_card(1, CARD)
    JobBox(path, clock).put_outcome(1, Outcome(Gone.PATCHES, film_holds=False, by="Ada"))
