"""The hold's countdown: the same count as the recorder's, by the reader's clock."""

import pytest

from monitor.model.event import Prompt
from monitor.model.request import Request, RequestKind
from monitor.model.run import Segment
from monitor.text.hold import hold_left_s, hold_sentence
from monitor.watch.strip_steps import StripSteps

BEGAN_UTC_NS = 1_767_261_600_000_000_000
FIRST = Segment(1, 0, "boot", 1, 0, 0, BEGAN_UTC_NS, 0, 0, BEGAN_UTC_NS, "begun")
SECOND = Segment(
    1, 1, "boot", 2, 500, 100_000_000_000, BEGAN_UTC_NS + 10**11, 0, 0, BEGAN_UTC_NS, "taken up"
)


def asked(t_s: float, detail: str = "", outcome: str | None = "taken") -> Request:
    utc_ns = BEGAN_UTC_NS + round(t_s * 1e9)
    return Request(1, 1, utc_ns, RequestKind.NEXT_STEP, detail, "screen", utc_ns, outcome)


def prompt(name: str, t_s: float) -> Prompt:
    return Prompt(name, round(t_s * 5), round(t_s * 1e9), name)


CONFIRMED = asked(50.0, "strip-looks-finished")
TABLE = [
    ("nothing was confirmed", [], [], FIRST, 60.0, None),
    ("confirmed", [CONFIRMED], [], FIRST, 58.0, 12.0),
    ("by the operator's own eye", [asked(50.0)], [], FIRST, 58.0, 12.0),
    ("a second press does not begin it anew", [CONFIRMED, asked(55.0)], [], FIRST, 58.0, 12.0),
    ("not taken up yet", [asked(50.0, outcome=None)], [], FIRST, 51.0, None),
    ("another prompt's confirmation", [asked(50.0, "check-wetting")], [], FIRST, 51.0, None),
    ("over a moment ago", [CONFIRMED], [], FIRST, 71.0, 0.0),
    ("over for long", [CONFIRMED], [], FIRST, 90.0, None),
    ("the recorder said so", [CONFIRMED], [prompt("hold-done", 70.0)], FIRST, 70.0, None),
    ("held, x again", [CONFIRMED, asked(80.0)], [prompt("hold-done", 70.0)], FIRST, 81.0, None),
    ("switched off", [CONFIRMED], [prompt("check-wetting", 60.0)], FIRST, 61.0, None),
    (
        "the next strip",
        [CONFIRMED, asked(200.0)],
        [prompt("hold-done", 70.0), prompt("check-wetting", 75.0)],
        FIRST,
        205.0,
        15.0,
    ),
    ("over the death of a recorder", [asked(95.0)], [], SECOND, 101.0, 14.0),
    ("of the second recorder", [asked(110.0)], [], SECOND, 115.0, 15.0),
    ("nothing recorded yet", [CONFIRMED], [], None, 58.0, None),
]


@pytest.mark.parametrize(
    ("requests", "prompts", "segment", "now_s", "left_s"),
    [row[1:] for row in TABLE],
    ids=[row[0] for row in TABLE],
)
def test_what_is_left_of_the_hold(
    requests: list[Request],
    prompts: list[Prompt],
    segment: Segment | None,
    now_s: float,
    left_s: float | None,
) -> None:
    assert hold_left_s(requests, prompts, segment, now_s) == (
        None if left_s is None else pytest.approx(left_s)
    )


def test_it_ends_when_the_recorder_says_so() -> None:
    steps = StripSteps()
    steps.confirm(50.0, "strip-looks-finished")
    told = [t for t in range(50, 90) if steps.update(t, t * 10**9, None, False)]
    assert hold_left_s([CONFIRMED], [], FIRST, told[0]) == 0.0
    assert hold_left_s([CONFIRMED], [], FIRST, told[0] - 1.0) == 1.0


def test_a_part_of_a_second_counts_as_one_more() -> None:
    assert hold_sentence(0.2) == "1 s left"
    assert hold_sentence(0.0) == "0 s left"
