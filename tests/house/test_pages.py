"""The pages for readers: links lead somewhere, every page is found, sessions print what they show.

What a page says in the program's own words is compared, too: `make pages` writes it anew.
"""

import re
import shlex
from pathlib import Path

import pytest

from monitor.commands.main import COMMANDS
from monitor.settings import load_bench
from monitor.text.standing import StateWord
from tests.house.documented import (
    COMMANDS_PAGE,
    PAGES,
    PART,
    PARTS,
    ROOT,
    SESSION,
    commands_page,
    every_command,
    with_parts,
    with_sessions,
)
from tests.house.test_commands import understood

LINK = re.compile(r"!?\[[^]]*\]\(([^)\s]+)\)")
CODE = re.compile(r"```.*?```", re.DOTALL)
COMMAND = re.compile(r"^\$ (bathvigil .*)$", re.MULTILINE)
LONGEST_README = 150

ALL_PAGES = [
    page for folder in (".", "docs", "benchmarks") for page in (ROOT / folder).glob("*.md")
]
TEXTS = {page: page.read_text(encoding="utf-8") for page in sorted(ALL_PAGES)}


def name_of(page: Path) -> str:
    return str(page.relative_to(ROOT))


def links_of(page: Path) -> list[str]:
    """What a page links to beside the web."""
    return [link for link in LINK.findall(CODE.sub("", TEXTS[page])) if "://" not in link]


def headings_of(page: Path) -> set[str]:
    """The anchors of a page, as Markdown viewers make them of its headings."""
    titles = re.findall(r"^#+ (.*)$", CODE.sub("", TEXTS[page]), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


@pytest.mark.parametrize("page", TEXTS, ids=name_of)
def test_every_link_leads_somewhere(page: Path) -> None:
    for link in links_of(page):
        file, _, anchor = link.partition("#")
        target = (page.parent / file).resolve() if file else page
        assert target.exists(), link
        if anchor:
            assert anchor in headings_of(target), link


def test_every_page_is_reached_from_the_readme() -> None:
    reached, waiting = set[Path](), [ROOT / "README.md"]
    while waiting:
        page = waiting.pop()
        if page not in reached:
            reached.add(page)
            targets = [(page.parent / link.partition("#")[0]).resolve() for link in links_of(page)]
            waiting += [target for target in targets if target in TEXTS]
    assert set(PAGES) - reached == set()
    direct = {(ROOT / link).resolve() for link in links_of(ROOT / "README.md")}
    assert set(PAGES) - direct - {ROOT / "README.md"} == set()


def test_the_readme_is_short() -> None:
    assert len(TEXTS[ROOT / "README.md"].splitlines()) <= LONGEST_README


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_a_page_says_what_the_program_says(page: Path) -> None:
    assert TEXTS[page] == with_parts(TEXTS[page]), "write the pages anew: make pages"


def test_every_part_stands_in_a_page() -> None:
    standing = {part[0] for page in PAGES for part in PART.findall(TEXTS[page])}
    assert standing == set(PARTS)


def test_every_command_and_example_stands_in_its_page() -> None:
    assert TEXTS[COMMANDS_PAGE] == commands_page(), "write the pages anew: make pages"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_told_of_where_it_is_used(name: str) -> None:
    pages = [text for page, text in TEXTS.items() if page in PAGES and page != COMMANDS_PAGE]
    assert any(f"bathvigil {name}" in text for text in pages)


@pytest.mark.parametrize(
    "page", [page for page in PAGES if SESSION.search(TEXTS[page])], ids=name_of
)
def test_a_session_prints_what_it_shows(page: Path) -> None:
    assert TEXTS[page] == with_sessions(TEXTS[page]), "write the pages anew: make pages"


def test_there_is_a_session() -> None:
    assert any(SESSION.search(TEXTS[page]) for page in PAGES)


@pytest.mark.parametrize(
    "line", sorted({line for page in PAGES for line in COMMAND.findall(TEXTS[page])})
)
def test_every_command_line_to_copy_is_understood(line: str) -> None:
    words = shlex.split(line.partition(" >")[0])[1:]
    commands = dict(every_command())
    name = " ".join(words[:2]) if " ".join(words[:2]) in commands else words[0]
    assert understood(name, words[len(name.split()) :])


SETTINGS = re.compile(r"```toml\n(\[supplies.*?)```", re.DOTALL)


@pytest.mark.parametrize("text", [text for page in PAGES for text in SETTINGS.findall(TEXTS[page])])
def test_the_settings_that_a_page_shows_are_understood(text: str, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").touch()
    config = tmp_path / "bench.toml"
    config.write_text(text, encoding="utf-8")
    assert load_bench(config).supplies


@pytest.mark.parametrize("word", StateWord)
def test_every_word_of_the_screen_is_explained(word: StateWord) -> None:
    assert word in TEXTS[ROOT / "docs" / "OPERATE.md"]
