"""The numbers in the cautions are those of their sources, and each stands where it matters.

Defer to local codes, the authority having jurisdiction, the chemical's SDS and licensed or
qualified practice; these are United States numbers unless said otherwise.
"""

import re
from pathlib import Path

import pytest

from monitor.baths import cautions
from monitor.commands.main import run


@pytest.mark.parametrize(
    ("text", "number", "source"),
    [
        # 29 CFR 1910.1026(b), (c), 71 FR 10099 (28 Feb 2006): 5 and 2.5 ug/m3 over 8 h.
        (cautions.HEXAVALENT, "OSHA 5 ug/m3", "29 CFR 1910.1026, 2006"),
        (cautions.HEXAVALENT, "action level 2.5", "29 CFR 1910.1026, 2006"),
        # NIOSH publication 2013-128 (January 2013): 0.2 ug/m3.
        (cautions.HEXAVALENT, "NIOSH 0.2 ug/m3", "2013"),
        # ACGIH 2018, inhalable, as summarised: 0.0002 mg/m3.
        (cautions.HEXAVALENT, "ACGIH 0.2 ug/m3", "2018"),
        # cdc.gov/niosh/idlh/1310732.html: 2 mg/m3 over 8 h, 2 as a ceiling, IDLH 10.
        (cautions.CAUSTIC, "OSHA 2 mg/m3 over 8 h", "OSHA"),
        (cautions.CAUSTIC, "NIOSH and ACGIH 2 mg/m3 at no time", "NIOSH"),
        (cautions.CAUSTIC, "IDLH 10 mg/m3", "IDLH"),
        # NFPA figures, as quoted: 4 to 75 % in air.
        (cautions.GAS, "4 to 75 % in air", "NFPA"),
        # 40 CFR 261.24 table 1: 5.0 mg/L; 261.22(a)(1): pH 12.5.
        (cautions.WASTE, "5.0 mg/L", "40 CFR 261.24"),
        (cautions.WASTE, "D007", "40 CFR 261.24"),
        (cautions.WASTE, "12.5", "40 CFR 261.22"),
        (cautions.WASTE, "D002", "Ask your regulator"),
        # ASTM F22-13(2021), 4.1 and 5.1: the draining film breaks within one minute, or passes.
        (cautions.WETTING, "must not break within one minute", "ASTM F22"),
        # 15 to 30 s, more if in doubt: common practice, no source.
        (cautions.HOLD, "15 to 30 s", "common practice"),
    ],
)
def test_a_number_is_its_sources_and_the_source_stands_beside_it(
    text: str, number: str, source: str
) -> None:
    assert number in text
    assert source in text


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
    monkeypatch.setattr("monitor.commands.record._stop_on_signals", lambda stop: None)
    # Nothing listens there; the run begins all the same.
    line = ["record", "scpi:tcp://127.0.0.1:1", "--limit-amps", "10", "--keep-trying"]
    line += ["--for-s", "0.5", "--store", str(tmp_path / "a.db")]
    assert run(line) == 0
    told = capsys.readouterr().err
    assert cautions.HEXAVALENT in told
    assert cautions.DEFER in told
    assert run(line) == 0
    assert "CAUTION" not in capsys.readouterr().err


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
