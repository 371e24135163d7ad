"""Finds the rest that a Modbus unit needs between two frames, and its pace.

Rests are tried from the shortest up, each counted from the last byte of a reply: at the first one
at which none of `TRIALS` questions is missed the trial ends, and the next longer one is proposed.
"""

from dataclasses import dataclass

from drivers.modbus.register_question import RegisterQuestion
from drivers.reply_times import ReplyTimes
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.made import time_to_answer
from monitor.setup.commission.toml_text import Plain

RESTS_MS = (0, 5, 10, 20, 35, 50, 75, 100, 150, 200, 300, 400, 500)
"""Up to the longest that a description may name; 0 is the standard's own silence alone."""
TRIALS = 12
LEAST_WAIT_S = 0.1
WAIT_OVER_SLOWEST = 3.0


@dataclass(frozen=True, slots=True)
class Pace:
    """What a unit needs.

    Parameters
    ----------
    rest_ms
        Between two frames, beside the standard's own silence; 0 for none.
    times
        How long its replies took.
    """

    rest_ms: int
    times: ReplyTimes

    @property
    def talk(self) -> dict[str, Plain]:
        """What a description's `[talk]` should say of it; empty where nothing need be said."""
        rest: dict[str, Plain] = {"quiet_ms": self.rest_ms} if self.rest_ms else {}
        return rest | time_to_answer(self.times)

    @property
    def words(self) -> str:
        """For people."""
        rest = "no rest between two frames"
        if self.rest_ms:
            rest = f"a rest between two frames, {self.rest_ms} ms are proposed"
        return f"{self.times.words()}; it needs {rest}"


def try_pace(asking: AskingRegisters, question: RegisterQuestion) -> Pace:
    """Find out how soon after a reply the next question is heard.

    Parameters
    ----------
    question
        One that the unit has answered.

    Raises
    ------
    NotCommissioned
        Where it misses questions however long it rests.
    DriverError
        Where the link fails.
    """
    slowest_s = max(asking.ask(question).took_s for _ in range(3))
    wait_s = min(max(WAIT_OVER_SLOWEST * slowest_s, LEAST_WAIT_S), asking.timeout_s)
    for place, rest_ms in enumerate(RESTS_MS):
        times = ReplyTimes()
        # The one before the first: its reply's end is what the rest is counted from.
        asking.ask(question)
        while len(times) < TRIALS:
            block = asking.ask_after(question, max(asking.gap_s, rest_ms / 1000), wait_s)
            if not block.is_answered:
                break
            times.add(block.took_s)
        if len(times) == TRIALS:
            proposed = RESTS_MS[min(place + 1, len(RESTS_MS) - 1)] if rest_ms else 0
            return Pace(proposed, times)
    raise NotCommissioned(
        f"unit {question.unit} misses questions even {RESTS_MS[-1]} ms after its last reply: check "
        "cable and termination, and that no other program talks on this line"
    )
