"""Every setting is explained, out of the models themselves."""

from collections.abc import Iterator
from enum import StrEnum
from typing import get_args

import pytest
from pydantic import BaseModel, Field

from monitor.commands.main import run
from monitor.settings import Bench
from monitor.setup.check.explaining import Setting, explained_settings


class Colour(StrEnum):
    """A choice."""

    RED = "red"


class Lamp(BaseModel):
    """A table `[lamps.NAME]`.

    Parameters
    ----------
    on_s, off_s
        How long it shines; how long it does not.
    most_amps
        Where its fuse blows.
    """

    on_s: float = Field(default=2.0, gt=0, le=10.5)
    off_s: float = 0.5
    most_amps: float
    colour: Colour = Field(default=Colour.RED, description="What one sees.")


class Beep(BaseModel):
    """The table `[beep]`: whether it beeps."""

    is_on: bool = True


class House(BaseModel):
    """All."""

    lamps: dict[str, Lamp]
    beep: Beep | None = None


def test_tables_units_defaults_and_meanings_come_from_the_models() -> None:
    assert explained_settings(House) == [
        Setting("[lamps.NAME]", "on_s", "s", "2", "How long it shines", "over 0 to 10.5"),
        Setting("[lamps.NAME]", "off_s", "s", "0.5", "how long it does not."),
        Setting("[lamps.NAME]", "most_amps", "A", None, "Where its fuse blows."),
        Setting("[lamps.NAME]", "colour", "", '"red"', "What one sees.", '"red"'),
        Setting("[beep]", "is_on", "", "true", "whether it beeps.", "true, false"),
    ]


def test_no_setting_of_the_bench_is_without_a_meaning() -> None:
    for setting in explained_settings():
        assert len(setting.meaning) > 10, setting


def test_numbers_with_a_unit_in_their_name_have_one() -> None:
    units = {setting.key: setting.unit for setting in explained_settings()}
    assert (units["limit_amps"], units["poll_s"], units["litres"]) == ("A", "s", "L")


def every_key(model: type[BaseModel]) -> Iterator[str]:
    """The names of all values below a model, by the models' own fields."""
    for name, field in model.model_fields.items():
        kinds = (field.annotation, *get_args(field.annotation))
        inner = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
        if inner:
            for kind in inner:
                yield from every_key(kind)
        else:
            yield name


def test_every_key_of_the_settings_is_printed_with_its_default_and_bounds(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["check", "--explain"]) == 0
    told = capsys.readouterr().out
    keys = list(every_key(Bench))
    assert len(keys) > 40
    for key in keys:
        assert f"\n  {key} (" in told
    assert sum(line.startswith("  ") and line[2] != " " for line in told.splitlines()) == len(keys)
    assert "  horizon_s (120 s)\n      A warning is raised" in told
    assert " is more likely than not. [s; 10 to 3600]" in told
    assert '("holds"). ["trips", "holds"]' in told


def test_each_key_has_a_meaning_of_its_own() -> None:
    told = [(setting.table, setting.meaning) for setting in explained_settings()]
    assert [each for each in told if told.count(each) > 1] == []


def test_a_density_is_not_an_area() -> None:
    units = {setting.key: setting.unit for setting in explained_settings()}
    assert (units["area_dm2"], units["most_amps_per_dm2"]) == ("dm2", "A/dm2")
    assert (units["least_grams_per_litre"], units["loop_metres"]) == ("g/L", "m")
