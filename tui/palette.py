"""What each ink looks like: grey while all is well, colour only for what is abnormal (ISA-101).

The colours are those of a terminal that has sixteen, so that one with millions and one with
sixteen show the same. Each abnormal ink also differs in weight or ground, and its text says it in
words, for eyes and terminals without colour; without colour, the more urgent the brighter.
"""

from rich.style import Style

from tui.ink import Ink

BLACK, DIM, GREY, WHITE = "#000000", "#555555", "#aaaaaa", "#ffffff"
RED, LIGHT_RED, YELLOW, CYAN = "#aa0000", "#ff5555", "#ffff55", "#55ffff"

_GREYS = {
    Ink.PLAIN: Style(color=GREY, bgcolor=BLACK),
    Ink.FAINT: Style(color=DIM, bgcolor=BLACK),
    Ink.STRONG: Style(color=WHITE, bgcolor=BLACK, bold=True),
    Ink.KEY: Style(color=WHITE, bgcolor=DIM, bold=True),
    Ink.ASKED: Style(color=BLACK, bgcolor=WHITE, bold=True),
    Ink.BAND: Style(color=GREY, bgcolor=BLACK, bold=True),
}

COLOURED = _GREYS | {
    Ink.CRITICAL: Style(color=LIGHT_RED, bgcolor=BLACK, bold=True),
    Ink.HIGH: Style(color=YELLOW, bgcolor=BLACK, bold=True),
    Ink.MEDIUM: Style(color=YELLOW, bgcolor=BLACK),
    Ink.LOW: Style(color=CYAN, bgcolor=BLACK),
    Ink.CRITICAL_BAND: Style(color=WHITE, bgcolor=RED, bold=True),
    Ink.HIGH_BAND: Style(color=BLACK, bgcolor=YELLOW, bold=True),
    Ink.MEDIUM_BAND: Style(color=YELLOW, bgcolor=DIM, bold=True),
    Ink.LOW_BAND: Style(color=CYAN, bgcolor=DIM, bold=True),
}

WITHOUT_COLOUR = _GREYS | {
    Ink.CRITICAL: Style(color=WHITE, bgcolor=BLACK, bold=True),
    Ink.HIGH: Style(color=WHITE, bgcolor=BLACK, bold=True),
    Ink.MEDIUM: Style(color=WHITE, bgcolor=BLACK, bold=True),
    Ink.LOW: Style(color=WHITE, bgcolor=BLACK),
    Ink.CRITICAL_BAND: Style(color=BLACK, bgcolor=WHITE, bold=True),
    Ink.HIGH_BAND: Style(color=BLACK, bgcolor=GREY, bold=True),
    Ink.MEDIUM_BAND: Style(color=WHITE, bgcolor=DIM, bold=True),
    Ink.LOW_BAND: Style(color=WHITE, bgcolor=DIM),
}
