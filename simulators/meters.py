"""What the meters of a simulated supply show; in a test, tags in place of readings."""

from simulators.rig import Point, Rig
from simulators.supply import Mode
from simulators.tags import NUMBERS, TAG_STEP, Tag

PROBE_STEP = 0.1


class Meters:
    """The meters of one supply, shared by all its links.

    Parameters
    ----------
    rig
        What is measured.
    unit
        The supply's number, for the tags.
    is_tagged
        Every value tells whose it is (see `simulators.tags`), whatever the rig does.
    """

    def __init__(self, rig: Rig, unit: int = 1, *, is_tagged: bool = False) -> None:
        self.rig = rig
        self.unit = unit
        self.is_tagged = is_tagged
        self._asked = dict.fromkeys(("volts", "amps", "celsius", "watts"), 0)
        self._tags: list[Tag] = []

    def show(self, quantity: str, step: float = TAG_STEP) -> float | None:
        """What the meter of one quantity shows; None where there is none.

        Parameters
        ----------
        quantity
            "volts", "amps", "celsius" or "watts".
        step
            What one count is worth on the wire; a tag is sent as so many counts.
        """
        point = self.rig.measured()
        if quantity == "celsius" and point.celsius is None:
            return None
        if self.is_tagged:
            self._asked[quantity] += 1
            tag = Tag(quantity, self.unit % 10, self._asked[quantity] % NUMBERS)
            self._tags.append(tag)
            return tag.whole * step
        return _value(point, quantity)

    @property
    def mode(self) -> Mode:
        """What the supply's panel says that it is doing."""
        return self.rig.truth().mode

    def step(self, quantity: str) -> float:
        """Resolution of a meter, where the wire does not say it."""
        if self.is_tagged:
            return TAG_STEP
        plate = self.rig.scene.supply
        return {"volts": plate.volts_step, "amps": plate.amps_step}.get(quantity, PROBE_STEP)

    def take_tags(self) -> tuple[Tag, ...]:
        """The tags given since this was last asked."""
        tags, self._tags = tuple(self._tags), []
        return tags


def _value(point: Point, quantity: str) -> float | None:
    match quantity:
        case "volts":
            return point.volts
        case "amps":
            return point.amps
        case "watts":
            return point.volts * point.amps
        case _:
            return point.celsius
