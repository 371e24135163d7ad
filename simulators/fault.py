"""One fault of the wire, as a faults file describes it.

| kind | what becomes of an answer |
| --- | --- |
| late | it comes after `seconds` (0.3), `spread_s` (0) more or less |
| early | it comes, and `seconds` (0.002) later again, before the next question |
| partial | it ends after `count` bytes; the rest comes after `rest_s`, or never |
| merged | it is kept, and comes at one go with the next one |
| noise | `count` bytes, or those in `hex`, `where` = "before", "after" or "instead" of it |
| garbled | its byte number `count`, from 0, is another |
| echo | the question comes back before it: `how` = full, minus-last, delayed, doubled |
| exception | the protocol's refusal comes in its place, with `code` |
| mute | nothing comes |
| drip | it comes a byte per `seconds` (0.5) |
| identity | this and `polls` (1) questions in all are answered as supply `serial` (9999) |
| reboot | nothing is heard for `seconds` (2); then all is as after switching on |
| unplug | `how`, see below, for `seconds` (1), under `name` afterwards |

A reboot hangs up on callers over TCP. To unplug is, on a pseudo-terminal, `how` = "away": its other
side goes, and comes back under the same link name or, if given, under `name`. On TCP it is "reset"
(callers are cut off, and may call again at once), "refuse" (and may not for `seconds`) or "silent"
(callers, old and new, are heard by nobody for `seconds`); "away" is taken as "refuse".

Where a number or choice is left out it is drawn. Noise that is drawn has no printable byte and no
end of line in it: what looks like a digit can be told from one by nobody.
"""

import random
from dataclasses import dataclass, fields
from typing import Annotated, Literal, TypeAlias, get_args

from simulators.form import Between, FormError

Kind: TypeAlias = Literal[
    "late", "early", "partial", "merged", "noise", "garbled", "echo", "exception", "mute", "drip",
    "identity", "reboot", "unplug",
]  # fmt: skip
KINDS: tuple[Kind, ...] = get_args(Kind)
Where: TypeAlias = Literal["before", "after", "instead"]
How: TypeAlias = Literal[
    "full", "minus-last", "delayed", "doubled", "away", "reset", "refuse", "silent"
]
ECHOES: tuple[How, ...] = ("full", "minus-last", "delayed", "doubled")
UNPLUGGINGS: tuple[How, ...] = ("away", "reset", "refuse", "silent")
WHERES: tuple[Where, ...] = ("before", "after", "instead")
CODES = (1, 2, 3, 4, 5, 6, 0x0A, 0x0B)

TAKES: dict[Kind, frozenset[str]] = {
    "late": frozenset({"seconds", "spread_s"}),
    "early": frozenset({"seconds"}),
    "partial": frozenset({"count", "rest_s"}),
    "merged": frozenset(),
    "noise": frozenset({"count", "where", "hex"}),
    "garbled": frozenset({"count"}),
    "echo": frozenset({"how", "seconds"}),
    "exception": frozenset({"code"}),
    "mute": frozenset(),
    "drip": frozenset({"seconds"}),
    "identity": frozenset({"serial", "polls"}),
    "reboot": frozenset({"seconds"}),
    "unplug": frozenset({"how", "seconds", "name"}),
}
WHEN = ("at_poll", "at_s", "rate")
ONE_TIME = f"needs exactly one of {', '.join(WHEN)}"
SECONDS: dict[Kind, float] = {
    "late": 0.3,
    "early": 0.002,
    "echo": 0.05,
    "drip": 0.5,
    "reboot": 2.0,
    "unplug": 1.0,
}

Seconds: TypeAlias = Annotated[float, Between(0.0, 86400.0)]


@dataclass(frozen=True, slots=True)
class Fault:
    """One kind of fault, and when it comes: one of `at_poll`, `at_s` and `rate`, or at once.

    Parameters
    ----------
    at_poll
        On the question of this number, counted from 1 over all links.
    at_s
        On the first question at or after so many seconds of bath time.
    rate
        On so large a share of all questions, 0 to 1.
    seconds, spread_s, rest_s
        Of the machine's time, not of the bath's.
    """

    kind: Kind
    at_poll: Annotated[int, Between(1, 10**9)] | None = None
    at_s: Seconds | None = None
    rate: Annotated[float, Between(0.0, 1.0)] | None = None
    seconds: Seconds | None = None
    spread_s: Seconds = 0.0
    rest_s: Seconds | None = None
    count: Annotated[int, Between(0, 4096)] | None = None
    where: Where | None = None
    hex: str | None = None
    how: How | None = None
    code: Annotated[int, Between(-500, 255)] | None = None
    serial: Annotated[int, Between(1, 9999)] = 9999
    polls: Annotated[int, Between(1, 10**9)] = 1
    name: str | None = None

    def __post_init__(self) -> None:
        takes = TAKES[self.kind]
        for each in fields(self):
            is_given = getattr(self, each.name) != each.default
            if is_given and each.name not in {"kind", *WHEN, *takes}:
                takes_words = ", ".join(sorted(takes)) or "nothing"
                raise FormError(f"{self.kind} takes no {each.name}; it takes {takes_words}")
        if sum(getattr(self, key) is not None for key in WHEN) > 1:
            raise FormError(ONE_TIME)
        hows = {"echo": ECHOES, "unplug": UNPLUGGINGS}.get(self.kind, ())
        if self.how is not None and self.how not in hows:
            raise FormError(f"how: {self.kind} knows {', '.join(hows)}")
        if self.hex is not None:
            try:
                bytes.fromhex(self.hex)
            except ValueError:
                raise FormError("hex: write bytes like 'FF 00 1B'") from None

    @property
    def comes_at_once(self) -> bool:
        """Whether it comes on the next question, since nothing says when."""
        return all(getattr(self, key) is None for key in WHEN)

    def lasts_s(self) -> float:
        """Its `seconds`, or what is usual for its kind."""
        return SECONDS.get(self.kind, 0.0) if self.seconds is None else self.seconds

    def noise(self, chance: random.Random) -> bytes:
        """The bytes of a noise."""
        if self.hex is not None:
            return bytes.fromhex(self.hex)
        count = chance.randint(1, 12) if self.count is None else self.count
        return bytes(chance.choice(_NOISE) for _ in range(count))


_NOISE = bytes(byte for byte in range(256) if byte < 0x09 or byte > 0x7E)
