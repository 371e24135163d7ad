"""What happens in a run beside its samples: marks, prompts, standings, changed settings."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class PromptName(StrEnum):
    """The name of a prompt, in the store and in the exports."""

    LOOKS_FINISHED = "strip-looks-finished"
    HOLD_DONE = "hold-done"
    CHECK_WETTING = "check-wetting"
    LOG_THE_BATH = "log-the-bath"
    OUTSIDE_STEP_WINDOW = "outside-step-window"
    LOOK = "look"
    RESISTANCE_JUMPED = "resistance-jumped"
    AMPS_UNEXPECTED = "amps-unexpected"
    WAS_THAT_YOU = "was-that-you"
    CHECK_SETTING = "check-setting"
    OUTPUT_STILL_ON = "output-still-on"
    OFF_OR_CUT_OUT = "switched-off-or-cut-out"
    END_THE_RUN = "end-the-run"
    METER_TOO_COARSE = "meter-too-coarse"
    HEAT_NOT_WATCHED = "heat-not-watched"
    TIME_LIMIT = "time-limit"
    CHECK_CELLS = "check-cells"
    TURN_DOWN = "turn-down"
    TURNED_DOWN = "turned-down"


ASKS_FOR_A_HAND = frozenset(
    {
        PromptName.LOOKS_FINISHED,
        PromptName.HOLD_DONE,
        PromptName.CHECK_WETTING,
        PromptName.LOOK,
        PromptName.RESISTANCE_JUMPED,
        PromptName.AMPS_UNEXPECTED,
        PromptName.WAS_THAT_YOU,
        PromptName.OUTPUT_STILL_ON,
        PromptName.TURN_DOWN,
    }
)
"""Prompts that sound: eyes are on the part, not on the screen."""
ONLY_SAID = frozenset(
    {
        PromptName.TIME_LIMIT,
        PromptName.HEAT_NOT_WATCHED,
        PromptName.METER_TOO_COARSE,
        PromptName.CHECK_SETTING,
        PromptName.CHECK_CELLS,
        PromptName.TURNED_DOWN,
    }
)
"""Prompts that ask for nothing during the strip: they never hide how the run stands."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A numbered moment that the operator marked; `text` may come later."""

    number: int
    t_ns: int
    utc_ns: int
    text: str = ""


@dataclass(frozen=True, slots=True)
class Prompt:
    """Something for the operator to do that is not an alarm.

    `prompt` is a `PromptName`; a store of another version may hold a name that nobody knows.
    """

    prompt: str
    seq: int
    t_ns: int
    message: str

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9


def standing_prompt(prompts: Sequence[Prompt]) -> Prompt | None:
    """The newest prompt that asks for something, oldest first in; None without any.

    An advice to turn down asks for nothing any more once it was withdrawn or followed.
    """
    is_down = False
    for prompt in reversed(prompts):
        if prompt.prompt == PromptName.TURNED_DOWN:
            is_down = True
        elif prompt.prompt not in ONLY_SAID:
            if prompt.prompt == PromptName.TURN_DOWN and is_down:
                continue
            return prompt
    return None


NEXT_TRY = "next-try"
"""Status whose time is that of the next try to open a lost link, by the run's clock."""


@dataclass(frozen=True, slots=True)
class Status:
    """How one part of the recorder stands, such as "sound"; the newest word on it counts.

    `is_well` is None while it is not known.
    """

    name: str
    utc_ns: int
    text: str
    is_well: bool | None = None


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A setting that was another one when an interrupted run was taken up again.

    Also the machine's wall clock, where somebody set it during the run. `before` and `after` are
    JSON.
    """

    t_ns: int
    utc_ns: int
    name: str
    before: str
    after: str
