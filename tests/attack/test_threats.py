"""The page of threats names a test for each, and each test here stands on the page."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "THREATS.md").read_text(encoding="utf-8")
LINES = [line.split("|")[1:5] for line in PAGE.splitlines() if line.startswith("| ")][2:]


def places(cell: str) -> list[Path]:
    named = re.findall(r"`([\w/]+)`", cell)
    return [ROOT / name if "/" in name else ROOT / "tests" / "attack" / name for name in named]


def test_each_threat_has_its_test() -> None:
    assert len(LINES) > 15
    for who, could, holds, test in LINES:
        assert who.strip()
        assert could.strip()
        assert holds.strip()
        assert places(test), could
        for place in places(test):
            assert place.is_dir() or place.with_suffix(".py").is_file(), place


def test_each_attack_stands_on_the_page() -> None:
    for path in Path(__file__).parent.glob("test_*.py"):
        assert path.stem == "test_threats" or f"`{path.stem}`" in PAGE, path.stem
