"""The numbers in the cautions are those of their sources, and each stands where it matters.

Defer to local codes, the authority having jurisdiction, the chemical's SDS and licensed or
qualified practice; these are United States numbers unless said otherwise.
"""

import re
from pathlib import Path

import pytest

from monitor.baths import cautions
from monitor.commands.main import run
from monitor.text.start_checks import ASKS, NOT_WATCHED

UG_PER_MG = 1000.0


def limits(text: str) -> dict[str, list[float]]:
    """Every limit in air that a caution names, in ug/m3, by who set it (or what it is)."""
    named: dict[str, list[float]] = {}
    who = re.compile(r"((?:\w+ and )?(?:OSHA|NIOSH|ACGIH|IDLH|level))\s([\d.]+)(?: (ug|mg)/m3)?")
    units = {"ug": 1.0, "mg": UG_PER_MG}
    unit = re.findall(r"(ug|mg)/m3", text)[0]
    for names, number, own in who.findall(text):
        for name in names.split(" and "):
            named.setdefault(name, []).append(float(number) * units[own or unit])
    return named


def test_the_limits_of_hexavalent_chromium_are_those_of_who_set_them() -> None:
    named = limits(cautions.HEXAVALENT)
    # 29 CFR 1910.1026(c), 71 FR 10099 (28 Feb 2006): 5 ug/m3 over 8 h; (b): the action level is
    # 2.5 ug/m3. NIOSH publication 2013-128 (January 2013): 0.2 ug/m3. ACGIH 2018, inhalable, as
    # summarised: 0.0002 mg/m3.
    assert named == {
        "OSHA": [5.0],
        "level": [2.5],
        "NIOSH": [0.2],
        "ACGIH": [pytest.approx(0.0002 * UG_PER_MG)],
    }
    assert re.search(r"1910\.1026, 2006", cautions.HEXAVALENT)


def test_the_limits_of_caustic_are_those_of_who_set_them() -> None:
    # cdc.gov/niosh/idlh/1310732.html: 2 mg/m3 over 8 h, 2 as a ceiling, IDLH 10.
    mg = {who: [value / UG_PER_MG for value in of] for who, of in limits(cautions.CAUSTIC).items()}
    assert mg == {"OSHA": [2.0], "NIOSH": [2.0], "ACGIH": [2.0], "IDLH": [10.0]}


def test_what_makes_spent_strip_a_hazardous_waste_is_what_the_code_says() -> None:
    # 40 CFR 261.24 table 1: chromium from 5.0 mg/L on is D007; 261.22(a)(1): pH 12.5, D002.
    said = re.findall(
        r"(chromium|pH) from ([\d.]+).*?(D\d{3}) \(40 CFR\s+(261\.\d+)", cautions.WASTE
    )
    assert said == [("chromium", "5.0", "D007", "261.24"), ("pH", "12.5", "D002", "261.22")]


def test_a_water_film_holds_for_a_minute_and_a_finish_is_held_on_for_half_of_one() -> None:
    # ASTM F22-13(2021), 4.1 and 5.1: the draining film breaks within one minute, or passes.
    assert "within one minute" in cautions.WETTING
    assert "ASTM F22" in cautions.WETTING
    # 15 to 30 s, more if in doubt: common practice, no source.
    assert re.findall(r"\d+", cautions.HOLD) == ["15", "30"]
    assert "common practice" in cautions.HOLD


def test_hydrogen_burns_from_4_to_75_per_cent() -> None:
    # NFPA figures, as quoted.
    assert re.findall(r"\d+", cautions.GAS) == ["4", "75"]
    assert "NFPA" in cautions.GAS


PLACES = {name: lines for name, lines in vars(cautions).items() if name.startswith("OF_A")}


@pytest.mark.parametrize("place", sorted(PLACES))
def test_each_place_says_little_and_nothing_twice(place: str) -> None:
    said = PLACES[place]
    assert len(set(said)) == len(said)
    assert len(" ".join(said)) < 1200
    if place != "OF_A_FINISH":
        assert cautions.DEFER in said
    # A superseded limit that older pages still show.
    assert not re.search(r"0\.05 mg|50 ug", " ".join(said))


def test_the_finish_tells_of_hold_wetting_and_acid() -> None:
    assert cautions.HOLD in cautions.OF_A_FINISH
    assert cautions.WETTING in cautions.OF_A_FINISH
    assert "acid" in cautions.RINSE


def test_the_first_start_tells_of_the_dangers_and_later_ones_do_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("monitor.commands.record.stop_on_signals", lambda stop: None)
    # Nothing listens there; the run begins all the same.
    line = ["record", "scpi:tcp://127.0.0.1:1", "--limit-amps", "10", "--keep-trying"]
    line += ["--for-s", "0.5", "--store", str(tmp_path / "a.db")]
    assert run(line) == 0
    told = capsys.readouterr().err
    assert cautions.HEXAVALENT in told
    assert cautions.DEFER in told
    assert run(line) == 0
    told = capsys.readouterr().err
    assert "CAUTION" not in told
    # The checklist of the start card comes with each start: nobody is at a screen.
    (checklist,) = [words for words in told.splitlines() if "BEFORE YOU SWITCH ON" in words]
    assert all(words in checklist for words in ASKS.values())
    assert NOT_WATCHED in checklist


def test_the_ledgers_commands_warn_where_it_can_hurt(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = ["--store", str(tmp_path / "a.db")]
    lines = {
        "make-up": "never water to dry caustic",
        "dilute": "pour slowly and stir",
        "replace": "hazardous waste",
    }
    for deed, said in lines.items():
        litres = "0.1" if deed == "dilute" else "9"
        assert run(["bath", deed, "tank", "--litres", litres, *store]) == 0
        told = capsys.readouterr()
        assert said in told.err
        assert "local codes" in told.err
        assert told.out == ""
