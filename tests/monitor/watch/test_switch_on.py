"""The amps after switching on, against like jobs or the part's area."""

from dataclasses import replace

import pytest

from monitor.model.event import Prompt
from monitor.model.fittings import Fittings, Job
from monitor.model.step import JobStep
from monitor.model.usual_amps import UsualAmps
from monitor.watch.switch_on import SwitchOn
from simulators.cell import Bath, Cell, Circuit
from tests.monitor.watch.seeing import seen

BY_AREA = Fittings(job=Job(area_dm2=2.0), step=JobStep("strip", amps_per_dm2=(2.0, 8.0)))
USUAL = UsualAmps(5.8, 6.4, 7.1)


def told(watch: SwitchOn, amps: float, volts: float = 7.0, began: float = 0.0) -> list[Prompt]:
    """Off, a soft start of two seconds, then it stands."""
    prompts: list[Prompt] = []
    for n in range(60):
        t_s = began + n * 0.5
        share = min(max(n - 4, 0) / 4.0, 1.0)
        prompts += watch.update(seen(t_s, amps * share, volts * share, off=n < 4))
    return prompts


def test_far_more_than_like_jobs_is_asked_about_within_ten_seconds() -> None:
    (prompt,) = told(SwitchOn(Fittings(), USUAL), 9.8)
    assert prompt.prompt == "amps-unexpected"
    assert prompt.message.startswith("expected 6.4 A (5.8 to 7.1), measured 9.8 A:")
    assert prompt.t_s <= 4.0 + 10.0


@pytest.mark.parametrize(("amps", "asks"), [(1.5, True), (6.0, False), (15.0, False), (17.0, True)])
def test_without_history_the_area_and_its_window_decide(amps: float, asks: bool) -> None:
    assert bool(told(SwitchOn(BY_AREA), amps)) is asks


def test_without_area_or_history_nothing_is_judged() -> None:
    watch = SwitchOn(Fittings())
    assert told(watch, 9.0) == []
    assert not watch.fits(8.0)


def test_like_jobs_at_other_volts_are_brought_to_these() -> None:
    # 6.4 A at 7 V over an intercept of 2 V are 8.96 A at 9 V.
    usual = USUAL._replace(volts=7.0)
    assert told(SwitchOn(Fittings(), usual), 9.0, 9.0) == []
    assert len(told(SwitchOn(Fittings(), USUAL), 9.0, 9.0)) == 1


def test_amps_as_expected_are_shown_for_a_while() -> None:
    watch = SwitchOn(Fittings(), USUAL)
    assert told(watch, 6.5) == []
    assert watch.fits(10.0)
    assert not watch.fits(30.0)


def test_each_switching_on_is_judged_once() -> None:
    watch = SwitchOn(Fittings(), USUAL)
    assert len(told(watch, 9.8)) == 1
    assert len(told(watch, 9.8, began=100.0)) == 1


def test_amps_that_never_stand_are_not_judged() -> None:
    watch = SwitchOn(Fittings(), USUAL)
    rows = [seen(n * 0.5, 5.0 if n % 2 else 9.0) for n in range(400)]
    assert [prompt for row in rows for prompt in watch.update(row)] == []


@pytest.mark.parametrize(("celsius", "amps"), [(25.0, 6.4), (35.0, 6.4 * 1.175)])
def test_a_bath_that_is_warmer_draws_more(celsius: float, amps: float) -> None:
    """1.75 % a kelvin: see `bath_heat.CAUSTIC_PER_KELVIN`."""
    narrow = UsualAmps(0.95 * 6.4, 6.4, 1.05 * 6.4, None, 25.0)
    for off, asks in ((1.0, 0), (1.08, 1), (0.92, 1)):
        watch = SwitchOn(Fittings(), narrow)
        prompts: list[Prompt] = []
        for n in range(40):
            one = seen(n * 0.5, off * amps)
            row = replace(one.row, celsius=celsius)  # type: ignore[arg-type]  # a sample
            prompts += watch.update(one._replace(row=row))
        assert len(prompts) == asks


def test_a_narrow_band_without_its_temperature_judges_nothing() -> None:
    assert told(SwitchOn(Fittings(), USUAL._replace(celsius=25.0)), 9.8) == []


def test_volts_far_above_those_of_like_jobs_are_asked_about() -> None:
    usual = USUAL._replace(volts=7.0, most_volts=7.5)
    (prompt,) = told(SwitchOn(Fittings(), usual), 11.5, 11.0)
    assert prompt.message.startswith("expected about 7.0 V as in like jobs, measured 11.0 V")
    # Like jobs ran at these volts, too; lower ones are what a plan may ask for.
    assert told(SwitchOn(Fittings(), usual), 7.3, 7.5) == []
    assert told(SwitchOn(Fittings(), usual), 3.9, 5.0) == []


def drawn(
    volts: float = 7.0, siemens: float = 1.3, lead_ohms: float = 0.01, wetted: float = 1.0
) -> float:
    """Amps of a simulated cell."""
    bath = Bath("north tank", 9.0, celsius=25.0)
    cell = Cell(bath, Circuit(siemens, 2.0, lead_ohms=lead_ohms), None, 0.5)
    cell.step(volts, 0.0, 0.0, wetted)
    return cell.amps_at(volts)


@pytest.mark.parametrize(
    ("amps", "volts", "says"),
    [
        (drawn(siemens=2.2), 7.0, "metal touching"),
        (drawn(siemens=2.6), 7.0, "too many parts"),
        (drawn(volts=11.0), 11.0, "wrong volts"),
        (drawn(lead_ohms=0.4), 7.0, "bad clip"),
        (drawn(wetted=0.5), 7.0, "part half out"),
    ],
    ids=["touching", "twice the area", "wrong volts", "bad clip", "half out"],
)
def test_each_fault_is_among_the_reasons_and_a_sound_start_is_none(
    amps: float, volts: float, says: str
) -> None:
    sound = drawn()
    # 20 % without a probe, and the volts of the like jobs.
    usual = UsualAmps(0.8 * sound, sound, 1.2 * sound, 7.0, None, 7.0)
    (prompt,) = told(SwitchOn(Fittings(), usual), amps, volts)
    assert says in prompt.message
    assert ("bad clip" in prompt.message) is (amps < sound)
    assert ("touching" in prompt.message) is (amps > sound and volts == 7.0)
    assert told(SwitchOn(Fittings(), usual), sound) == []
