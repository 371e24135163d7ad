"""Colours: what sixteen-colour terminals and colour-blind eyes are left with."""

import re

import pytest
from rich.color import ColorSystem
from rich.style import Style

from tests.tui import pictures
from tests.tui.stage import on_stage, settled, shown
from tui.ink import BAND_INK, TEXT_INK, Ink
from tui.palette import COLOURED, WITHOUT_COLOUR

FRAME = {"#ff5f57", "#febc2e", "#28c840", "#c5c8c6"}
"""Three dots and the title of the window that Textual draws around a picture."""


def grounds(style: Style) -> tuple[str, str]:
    assert style.color is not None
    assert style.bgcolor is not None
    return style.color.name, style.bgcolor.name


def luminance(name: str) -> float:
    """Relative luminance of a colour (WCAG 2.x, from memory)."""
    parts = [int(name[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(style: Style) -> float:
    """Contrast ratio of text and ground (WCAG 2.x, from memory)."""
    low, high = sorted(luminance(name) for name in grounds(style))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("styles", [COLOURED, WITHOUT_COLOUR], ids=["colours", "none"])
def test_every_ink_has_a_look(styles: dict[Ink, Style]) -> None:
    assert set(styles) == set(Ink)


@pytest.mark.parametrize("styles", [COLOURED, WITHOUT_COLOUR], ids=["colours", "none"])
def test_sixteen_colours_show_text_and_ground_apart(styles: dict[Ink, Style]) -> None:
    for ink, style in styles.items():
        assert style.color is not None
        assert style.bgcolor is not None
        text, ground = (c.downgrade(ColorSystem.STANDARD) for c in (style.color, style.bgcolor))
        assert text.number != ground.number, ink


@pytest.mark.parametrize("styles", [COLOURED, WITHOUT_COLOUR], ids=["colours", "none"])
def test_what_must_be_read_has_contrast_enough(styles: dict[Ink, Style]) -> None:
    # WCAG 2.x, success criterion 1.4.3: at least 4.5 to 1 (from memory). FAINT carries no text.
    for ink, style in styles.items():
        if ink is not Ink.FAINT:
            assert contrast(style) >= 4.5, ink


@pytest.mark.parametrize("styles", [COLOURED, WITHOUT_COLOUR], ids=["colours", "none"])
def test_an_abnormal_band_has_another_ground_than_the_rest_of_the_screen(
    styles: dict[Ink, Style],
) -> None:
    for ink in BAND_INK.values():
        assert grounds(styles[ink])[1] != grounds(styles[Ink.BAND])[1]


def test_all_that_is_normal_is_grey() -> None:
    abnormal = set(TEXT_INK.values()) | set(BAND_INK.values())
    for ink in set(Ink) - abnormal:
        for name in grounds(COLOURED[ink]):
            assert name[1:3] == name[3:5] == name[5:7], ink


def test_without_colour_the_more_urgent_band_is_the_brighter() -> None:
    brightness = [
        luminance(grounds(WITHOUT_COLOUR[ink])[1])
        for ink in (Ink.CRITICAL_BAND, Ink.HIGH_BAND, Ink.MEDIUM_BAND, Ink.BAND)
    ]
    assert brightness == sorted(brightness, reverse=True)
    assert len(set(brightness)) == len(brightness)


async def test_no_color_is_obeyed(monkeypatch: pytest.MonkeyPatch) -> None:
    # https://no-color.org: any value that is not empty.
    monkeypatch.setenv("NO_COLOR", "1")
    app, _, _ = on_stage(pictures.cut_out(80))
    async with shown(app, (80, 24)) as pilot:
        await settled(app, pilot)
        drawn = pilot.app.export_screenshot()
    used = set(re.findall(r"#[0-9a-f]{6}\b", drawn)) - FRAME
    assert used
    assert {name for name in used if not name[1:3] == name[3:5] == name[5:7]} == set()
