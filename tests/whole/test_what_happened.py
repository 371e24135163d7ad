"""Heat and causes on the real road: scene, port, bench.toml, recorder, store, text and report.

One bench is watched past the limits that its bench.toml names; on the other the supply cuts out
twice, and the recorder is killed in between.
"""

import os
import signal
import sqlite3
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.whole.processes import in_process, lines_of, simulator, start, wait_until

SPEED = 15.0

POT = """
story = "A part in the swab pot at 8 V from bench-1."
seed = 3
duration_s = 400

[supply]
name = "bench-1"
limit_amps = 10.0
at_limit = "trips"
cut_out = "delay"
delay_s = 0.4
cool_down_s = 20
soft_start_s = 2.0

[bath]
name = "swab pot"
litres = {litres}
celsius = 20.0
watts_per_kelvin = 0.5
evaporation_ml_per_hour = 0.0
probe = true

[circuit]
siemens_at_25 = {siemens}
polarisation_volts = 1.8
lead_ohms = 0.01
wander_share = 0.002

[[event]]
at_s = 2
do = "set-volts"
volts = 8.0

[[event]]
at_s = 3
do = "output-on"
"""

CLIP_GETS_WORSE = """
[[event]]
at_s = 90
do = "lead-ohms"
ohms = 0.1
"""

SWITCHED_ON_AGAIN = "".join(
    f"""
[[event]]
after_trip_s = {after_s}
trip = {trip}
do = "{do}"
"""
    for trip in (1, 2)
    for after_s, do in ((70, "reset"), (71, "output-on"))
) + (
    """
[[event]]
after_trip_s = 60
trip = 2
do = "set-volts"
volts = 6.5
"""
)

BENCH = """
[supplies.bench-1]
address = "{address}"
limit_amps = 10.0
bath = "swab pot"

[supplies.bench-1.conductors.sleeve]
rated_amps = 6.0
time_constant_s = 150

[supplies.bench-1.leads]
gauge_awg = 12
loop_metres = 2.0

[supplies.bench-1.job]
area_dm2 = 1.0
most_amps_per_dm2 = 6.0

[baths."swab pot"]
litres = 0.4
most_celsius = 26.0
"""


@dataclass(frozen=True)
class Told:
    """What came of one bench: its JSON lines, its text and its page."""

    lines: list[dict[str, str | float | int | None]]
    text: str
    page: str
    again: list[dict[str, str | float | int | None]]

    def alarms(self, again: bool = False) -> list[tuple[str, str, str]]:
        """Alarm, change and message of all lines, as recorded or as replayed."""
        return [
            (str(line["alarm"]), str(line["change"]), str(line["message"]))
            for line in (self.again if again else self.lines)
            if line["kind"] == "alarm"
        ]

    def raised(self, alarm: str) -> list[tuple[float, str, str]]:
        """Time, priority and message of each."""
        return [
            (float(str(line["t_s"])), str(line["priority"]), str(line["message"]))
            for line in self.lines
            if line.get("alarm") == alarm and line["change"] == "raised"
        ]


def cut_outs_in(store: Path) -> int:
    try:
        with sqlite3.connect(f"{store.as_uri()}?mode=ro", uri=True) as connection:
            found = "SELECT count(*) FROM alarms WHERE alarm = 'tripped' AND change = 'raised'"
            return int(connection.execute(found).fetchone()[0])
    except sqlite3.OperationalError:
        return 0


@pytest.fixture(scope="module")
def benches(tmp_path_factory: pytest.TempPathFactory) -> tuple[Told, Told]:
    """The bench that gets hot and the one that cuts out, recorded side by side."""
    folder = tmp_path_factory.mktemp("benches")
    hot, cut = folder / "hot.toml", folder / "cut.toml"
    hot.write_text(POT.format(litres=0.4, siemens=1.27) + CLIP_GETS_WORSE)
    cut.write_text(POT.format(litres=0.2, siemens=1.68) + SWITCHED_ON_AGAIN)
    with ExitStack() as held:
        hot_address, _ = held.enter_context(simulator(str(hot), "scpi-tcp", SPEED))
        cut_address, _ = held.enter_context(simulator(str(cut), "scpi-serial", SPEED))
        bench = folder / "bench.toml"
        bench.write_text(BENCH.format(address=hot_address))
        speed = ("--clock-speed", str(SPEED), "--json")
        first = start(
            "record", "--config", bench, "--store", folder / "hot.db", "--for-s", "170", *speed
        )
        store = folder / "cut.db"
        line = ("record", cut_address, "--limit-amps", "10", "--store", store, *speed)
        killed = start(*line)
        wait_until("the first cut-out", lambda: cut_outs_in(store) or None)
        os.kill(killed.pid, signal.SIGKILL)
        before, _ = killed.communicate()
        second = start(*line)
        wait_until("the second cut-out", lambda: cut_outs_in(store) > 1 or None)
        wait_until("both causes", lambda: explained(store) > 1 or None)
        second.send_signal(signal.SIGTERM)
        after, talk = second.communicate(timeout=30)
        assert second.returncode == 0, talk
        out, talk = first.communicate(timeout=60)
        assert first.returncode == 0, talk
    return (
        told(out, folder / "hot.db", folder / "hot.html"),
        told(before[: before.rfind("\n") + 1] + after, store, folder / "cut.html"),
    )


def explained(store: Path) -> int:
    with sqlite3.connect(f"{store.as_uri()}?mode=ro", uri=True) as connection:
        return int(connection.execute("SELECT count(*) FROM explanations").fetchone()[0])


def told(out: str, store: Path, page: Path) -> Told:
    text = in_process("review", "1", "--store", store)
    report = in_process("report", "1", "--to", page, "--store", store)
    assert (text.returncode, report.returncode) == (0, 0), text.stderr + report.stderr
    again = in_process("replay", "--run", "1", "--store", store, "--json")
    assert again.returncode == 0, again.stderr
    read = page.read_text(encoding="utf-8")
    return Told(lines_of(out), text.stdout, read, lines_of(again.stdout))


def test_a_sleeve_is_told_before_it_is_too_hot_with_its_time(benches: tuple[Told, Told]) -> None:
    """150 ln(I^2 / (I^2 - 36)) seconds from cold (IEC 60255-149): some 190 s at 7.1 A."""
    raised = benches[0].raised("overheating")
    t_s, priority, message = raised[0]
    assert priority == "high"
    assert "the sleeve reaches the heat it can take in about" in message
    # Warned two minutes ahead, of a moment that lies 150 to 230 s after switching on.
    assert 30.0 <= t_s <= 110.0
    assert benches[0].lines
    assert "overheating raised" in benches[0].text


def test_the_bath_is_told_before_its_limit_with_its_time(benches: tuple[Told, Told]) -> None:
    # 50 W into 0.4 L: some 1.8 K a minute (4144 J/(L K), Laliberte 2009), and 6 K to go.
    assert "the bath reaches 26 C in about" in benches[0].text


def test_a_density_over_the_jobs_limit_is_told(benches: tuple[Told, Told]) -> None:
    _, priority, message = benches[0].raised("density-high")[0]
    assert priority == "medium"
    # 7 A on one square decimetre.
    assert message.endswith("A/dm2 on the part; at most 6 are allowed")
    assert "density-high raised" in benches[0].text


def test_a_clip_that_gets_worse_at_once_is_asked_about_with_its_watts(
    benches: tuple[Told, Told],
) -> None:
    """90 milliohm more: by Ohm's law some 4 W at 6.7 A. A part taken out looks the same."""
    asked = [line for line in benches[0].lines if line.get("prompt") == "resistance-jumped"]
    assert len(asked) == 1
    assert 90.0 < float(asked[0]["t_s"] or 0.0) < 130.0
    message = str(asked[0]["message"])
    milliohm = float(message.split("jumped by ")[1].split(" milliohm")[0])
    assert milliohm == pytest.approx(90.0, rel=0.25)
    assert "bad clip (4 W of heat in it), or a part taken out?" in message
    assert not benches[0].raised("connection-resistance")


def test_a_replay_of_the_run_tells_the_same_as_the_recorder_did(
    benches: tuple[Told, Told],
) -> None:
    hot, _ = benches
    assert hot.alarms(again=True) == hot.alarms()
    assert {"overheating", "density-high"} <= {a for a, *_ in hot.alarms()}


def test_a_second_cut_out_is_told_as_such_over_the_recorders_death(
    benches: tuple[Told, Told],
) -> None:
    _, cut = benches
    raised = cut.raised("tripped")
    assert [priority for _, priority, _ in raised] == ["critical", "critical"]
    assert "second cut-out in " in raised[1][2]
    assert "last time it took 1:1" in raised[1][2]
    causes = [line for line in cut.lines if line["kind"] == "explanation"]
    assert [line["cause"] for line in causes] == ["slow rise", "slow rise"]
    order = str(causes[1]["order"])
    assert order.index("cut out") < order.index("the recorder went on after an interruption")
    assert "on again after 1:1" in order


def test_the_explanation_stands_in_the_runs_text_and_its_report(
    benches: tuple[Told, Told],
) -> None:
    _, cut = benches
    for told_in in (cut.text, cut.page):
        assert "slow rise" in told_in
        assert "second cut-out in " in told_in
        assert "the recorder went on after an interruption" in told_in
    assert cut.text.count("what happened: ") == 2
    assert cut.text.count("in order: ") == 2
