"""`bathvigil replay --json` prints of a scene what the judge hears from the chain itself."""

from pathlib import Path

import pytest

from benchmarks.hazards.chain import by_replay, fast
from benchmarks.hazards.draw import draw
from benchmarks.hazards.rows import ROWS
from benchmarks.hazards.said import Said, said_of


def heard(said: list[Said]) -> list[tuple[float, str, str]]:
    """Without the screen's states, which `replay` does not print; times to a tenth of a second."""
    return [(round(one.t_s, 1), one.kind, one.name) for one in said if one.kind != "state"]


@pytest.mark.parametrize("row", ["A3", "A14c", "V2"])
def test_replay_says_what_the_judge_hears(row: str, tmp_path: Path) -> None:
    sizes = draw(row, 1)
    sizes.missed_share = 0.0
    played = ROWS[row].scene(sizes)
    assert heard(said_of(by_replay(played, tmp_path))) == heard(said_of(fast(played)))
    assert heard(said_of(fast(played)))
