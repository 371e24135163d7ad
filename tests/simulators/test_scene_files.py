"""A scene file that is wrong says in one line what, where, and the nearest right word."""

from pathlib import Path
from typing import get_args

import pytest

from simulators.form import FormError, parse_form
from simulators.scene import NEEDS, Deed, Scene, load_scene

GOOD = """
story = "A test."
duration_s = 60

[supply]
name = "bench-1"
limit_amps = 10.0
at_limit = "trips"

[bath]
name = "swab pot"
litres = 0.4

[circuit]
siemens_at_25 = 1.0

[[event]]
at_s = 5
do = "set-volts"
volts = 9
"""


def test_a_scene_needs_little() -> None:
    scene = parse_form(Scene, "scene", GOOD, "mine")
    assert (scene.name, scene.seed, scene.part, scene.swab) == ("mine", 1, None, None)
    assert scene.events[0].volts == 9.0
    assert isinstance(scene.events[0].volts, float)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("litres = 0.4", "liters = 0.4", "[bath]: there is no 'liters'; did you mean litres?"),
        ("litres = 0.4", "", "[bath]: litres is missing"),
        ("litres = 0.4", "litres = 0", "[bath] litres: 0 should be from 0.02 to 2000"),
        ("litres = 0.4", "litres = nan", "[bath] litres: nan should be a number"),
        ("litres = 0.4", "litres = true", "[bath] litres: True should be a number"),
        ("litres = 0.4", 'litres = "9"', "[bath] litres: '9' should be a number"),
        (
            "litres = 0.4",
            'litres = 9\nprobe = "yes"',
            "[bath] probe: 'yes' should be true or false",
        ),
        ('name = "swab pot"', "name = 7", "[bath] name: 7 should be text"),
        ('"trips"', '"trip"', "[supply] at_limit: 'trip' is not possible; did you mean trips?"),
        ("limit_amps = 10.0", "limit_amps = 10.0\nceiling_amps = 5", "[supply]: ceiling_amps must"),
        ("duration_s = 60", "duration_s = 60\nseed = 1.5", "seed: 1.5 should be a whole number"),
        ("duration_s = 60", "duration_s = 60\nswap = 1", "there is no 'swap'; did you mean swab?"),
        ("duration_s = 60", "", "at the top: duration_s is missing"),
        ("[circuit]\nsiemens_at_25 = 1.0", "", "[circuit] is missing"),
        ("duration_s = 60", "duration_s = 60\npart = 3", "part: write it as a table [part]"),
        ("[[event]]", "[event]", "event: write each one as [[event]]"),
        (
            "set-volts",
            "set-volt",
            "[[event]] number 1 do: 'set-volt' is not possible; did you mean",
        ),
        ("at_s = 5", "", "[[event]] number 1: needs exactly one of at_s, after_trip_s"),
        ("at_s = 5", "at_s = 5\nafter_trip_s = 5", "[[event]] number 1: needs exactly one of"),
        ("at_s = 5", "at_s = 5\ntrip = 2", "[[event]] number 1: trip goes with after_trip_s only"),
        ("volts = 9", "", "[[event]] number 1: set-volts needs volts"),
        ("volts = 9", "volts = 9\nohms = 1", "[[event]] number 1: set-volts takes no ohms"),
        ("duration_s = 60", "duration_s 60", "not TOML"),
    ],
)
def test_what_is_wrong_is_named_with_its_cure(old: str, new: str, said: str) -> None:
    assert old in GOOD
    with pytest.raises(FormError) as error:
        parse_form(Scene, "scene", GOOD.replace(old, new, 1), "mine")
    message = str(error.value)
    assert said in message
    assert message.startswith("scene mine: ")
    assert "\n" not in message


def test_an_unknown_scene_names_the_nearest() -> None:
    with pytest.raises(FormError, match=r"no scene 'quite-strip'; did you mean quiet-strip\?"):
        load_scene("quite-strip")


def test_a_file_of_the_users_is_played_too(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(GOOD, encoding="utf-8")
    assert load_scene(str(tmp_path / "mine.toml")).name == "mine"


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(FormError, match=r"cannot read the scene .*mine\.toml: No such file"):
        load_scene(str(tmp_path / "mine.toml"))
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(FormError, match="not a text file in UTF-8"):
        load_scene(str(tmp_path / "bytes.toml"))
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(FormError, match=r"cannot read the scene .*Is a directory"):
        load_scene(str(tmp_path / "folder.toml"))


def test_every_deed_is_known_to_the_table_of_needs() -> None:
    assert set(NEEDS) <= set(get_args(Deed))
