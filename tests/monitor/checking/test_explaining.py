"""Every setting is explained, out of the models themselves."""

from enum import StrEnum

from pydantic import BaseModel, Field

from monitor.checking.explaining import Setting, explained_settings


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

    on_s: float = 2.0
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
        Setting("[lamps.NAME]", "on_s", "s", "2", "How long it shines"),
        Setting("[lamps.NAME]", "off_s", "s", "0.5", "how long it does not."),
        Setting("[lamps.NAME]", "most_amps", "A", None, "Where its fuse blows."),
        Setting("[lamps.NAME]", "colour", "", '"red"', "What one sees."),
        Setting("[beep]", "is_on", "", "true", "whether it beeps."),
    ]


def test_no_setting_of_the_bench_is_without_a_meaning() -> None:
    for setting in explained_settings():
        assert len(setting.meaning) > 10, setting


def test_numbers_with_a_unit_in_their_name_have_one() -> None:
    units = {setting.key: setting.unit for setting in explained_settings()}
    assert (units["limit_amps"], units["poll_s"], units["litres"]) == ("A", "s", "L")
