"""The job card while it is being filled in: the answers, and the question in turn."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import Enum, auto

from monitor.base.errors import WrongUse
from monitor.baths.designation import micrometres_of
from monitor.baths.shapes import area_of
from monitor.model.area import area_text
from monitor.model.card import COMES_S, STAYS_S, STEPS, JobCard, Way
from monitor.model.start_check import StartCheck, checks_of
from monitor.model.step import STRIP

LONGEST = 40
WHERE = {"": None, "I stay here": STAYS_S, "I come when it calls": COMES_S}
WAYS = ("", *(way.value for way in Way))


class Row(Enum):
    """The rows of the form, from top to bottom."""

    AS_LAST_TIME = auto()
    BATH = auto()
    STEP = auto()
    WAY = auto()
    PART = auto()
    AREA = auto()
    THICKNESS = auto()
    OPERATOR = auto()
    REFERENCE = auto()
    WHERE = auto()
    EXTRACTION = auto()
    LID = auto()
    LEVEL = auto()
    GOGGLES = auto()
    BASE_METAL = auto()
    POLARITY = auto()
    SOUND = auto()
    KEEP = auto()


TYPED = (Row.BATH, Row.PART, Row.AREA, Row.THICKNESS, Row.OPERATOR, Row.REFERENCE)

CHECKS = {Row[check.name]: check for check in StartCheck}


class Deed(Enum):
    """What a key on the form asks for."""

    KEEP = auto()
    HEARD = auto()
    SKIP = auto()


@dataclass
class Form:
    """The answers so far.

    Parameters
    ----------
    before
        The answers of last time; None where there are none.
    steps, baths
        What can be chosen from.
    """

    before: JobCard | None = None
    steps: Sequence[str] = STEPS
    baths: Sequence[str] = ()
    at: Row = Row.BATH
    texts: dict[Row, str] = field(default_factory=dict)
    checked: set[StartCheck] = field(default_factory=set)

    def __post_init__(self) -> None:
        if self.before is not None:
            self.at = Row.AS_LAST_TIME

    @property
    def rows(self) -> list[Row]:
        """The rows that are shown."""
        return [row for row in Row if self.before is not None or row is not Row.AS_LAST_TIME]

    def fill(self, card: JobCard) -> None:
        """Take the answers of a card."""
        thick = "" if card.micrometres is None else f"{card.micrometres:g}"
        self.texts = {
            Row.BATH: card.bath,
            Row.STEP: card.step,
            Row.WAY: "" if card.way is None else card.way.value,
            Row.PART: card.part,
            Row.AREA: area_text(card.area_dm2),
            Row.THICKNESS: thick,
            Row.OPERATOR: card.operator,
            Row.REFERENCE: card.reference,
            Row.WHERE: _where(card.reaction_s),
        }

    def text(self, row: Row) -> str:
        """What stands in a row."""
        return self.texts.get(row, "")

    @property
    def complaint(self) -> str:
        """What cannot be read in the row before the cursor's, in words; "" where all can be."""
        if self.text(Row.AREA).strip() and _area(self.text(Row.AREA)) is None:
            return "area: write it like 150 cm2, 20 in2 or tube 22 x 600 mm"
        if self.text(Row.THICKNESS).strip() and _micrometres(self.text(Row.THICKNESS)) is None:
            return "chromium: micrometres like 0.5, or its class like Cr mp or SC 3"
        return ""

    @property
    def card(self) -> JobCard:
        """The card as it stands; what cannot be read is left out."""
        way = self.text(Row.WAY)
        return JobCard(
            bath=self.text(Row.BATH).strip(),
            step=self.text(Row.STEP),
            way=Way(way) if way else None,
            part=self.text(Row.PART).strip(),
            area_dm2=_area(self.text(Row.AREA)),
            micrometres=_micrometres(self.text(Row.THICKNESS)),
            operator=self.text(Row.OPERATOR).strip(),
            reference=self.text(Row.REFERENCE).strip(),
            checked=" ".join(check for check in StartCheck if check in self.checked),
            reaction_s=WHERE.get(self.text(Row.WHERE)),
        )

    def press(self, key: str) -> Deed | None:
        """Take one key; what it asks for, None for nothing."""
        if key == "escape":
            return Deed.SKIP
        if key in ("down", "tab", "up", "shift+tab"):
            self._go(-1 if key in ("up", "shift+tab") else +1)
        elif key == "enter":
            return self._enter()
        elif key in ("left", "right"):
            self._turn(-1 if key == "left" else +1)
        elif key == "space" and self.at not in TYPED:
            if self.at in (Row.STEP, Row.WAY, Row.WHERE):
                self._turn(+1)
            elif self.at in CHECKS:
                self.checked ^= {CHECKS[self.at]}
            else:
                return self._enter()
        elif self.at in TYPED:
            self._type(key)
        return None

    def _enter(self) -> Deed | None:
        if self.at is Row.AS_LAST_TIME and self.before is not None:
            self.fill(self.before)
            self.at = Row.WHERE  # where the operator is and the checks are asked each time
            return None
        if self.at is Row.KEEP:
            return None if self.complaint else Deed.KEEP
        if self.at in CHECKS:
            self.checked.add(CHECKS[self.at])
        asked = Deed.HEARD if self.at is Row.SOUND else None
        self._go(+1)
        return asked

    def _go(self, step: int) -> None:
        rows = self.rows
        self.at = rows[min(max(rows.index(self.at) + step, 0), len(rows) - 1)]

    def _turn(self, step: int) -> None:
        choices = {
            Row.BATH: ("", *self.baths),
            Row.STEP: ("", *self.steps),
            Row.WAY: WAYS,
            Row.WHERE: tuple(WHERE),
        }.get(self.at, ())
        if choices:
            now = self.text(self.at)
            place = choices.index(now) if now in choices else 0
            self.texts[self.at] = choices[(place + step) % len(choices)]

    def _type(self, key: str) -> None:
        text = self.text(self.at)
        if key == "backspace":
            text = text[:-1]
        elif key == "space":
            text += " "
        elif len(key) == 1 and key.isprintable():
            text += key
        self.texts[self.at] = text[:LONGEST]


def corrected(
    card: JobCard | None,
    before: JobCard | None,
    bath: str,
    steps: Sequence[str] = STEPS,
    baths: Sequence[str] = (),
) -> Form:
    """The form for a run: its own card to correct, else a blank one with last time's offered.

    Parameters
    ----------
    bath
        The one that the supply feeds.
    steps, baths
        Those of the shop.
    """
    known = (bath, before.bath if before else "", *baths)
    form = Form(before, steps, tuple(dict.fromkeys(one for one in known if one)))
    step = STRIP if STRIP in steps else next(iter(steps), "")
    form.fill(card if card is not None else replace(JobCard(), bath=bath, step=step))
    if card is not None:
        form.at = Row.BATH
        form.checked = set(checks_of(card.checked))
    return form


def _where(reaction_s: float | None) -> str:
    """The answer that says so; "" for none."""
    return next((text for text, way_s in WHERE.items() if way_s == reaction_s), "")


def _area(text: str) -> float | None:
    """A number with its unit, or simple shapes; None where it cannot be read."""
    try:
        return area_of(text.strip())
    except WrongUse:
        return None


def _micrometres(text: str) -> float | None:
    """A bare number is micrometres, as the row says; else a unit or the class of a standard."""
    plain = text.replace(",", ".").strip()
    try:
        return micrometres_of(f"{float(plain):f} um" if _is_number(plain) else text)
    except WrongUse:
        return None


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdecimal()
