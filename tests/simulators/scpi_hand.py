"""A hand that types SCPI messages to a simulated supply, its time in the hand too."""

from simulators.rig import Rig
from simulators.scene import load_scene
from simulators.scpi_end import ScpiEnd
from simulators.scpi_supply import ScpiSupply


class Link:
    """A supply with one end, and a hand to type with."""

    def __init__(self, scene: str = "tank-warms-to-trip", t_s: float = 60.0) -> None:
        self.rig = Rig(load_scene(scene))
        self.end = ScpiEnd(ScpiSupply(self.rig, self.rig.scene.supply.identity(1)))
        self.t_s = t_s

    def say(self, message: str) -> str | None:
        """Send one message; the answer without its end, None for none."""
        self.end.feed(message.encode() + b"\n", self.t_s)
        answer = self.end.take()
        if not answer:
            return None
        assert answer.endswith(b"\n")
        assert answer.count(b"\n") == 1
        return answer[:-1].decode("ascii")

    def errors(self) -> list[int]:
        """Empty the error queue; the numbers."""
        numbers = []
        while (error := self.say("SYST:ERR?")) != '0,"No error"':
            assert error is not None
            numbers.append(int(error.split(",")[0]))
        return numbers
