"""The README's session prints what the README says."""

import os
import re
import subprocess
import sys
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"


BLOCK = re.compile(r"(<!-- session.*?-->\n```console\n)(.*?)(```)", re.DOTALL)


def session_again(shown: str, folder: Path) -> str:
    """The session's commands run anew, with what they print now."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    told = []
    for command in re.findall(r"^\$ (.*)$", shown, re.MULTILINE):
        done = subprocess.run(
            command.split(),
            capture_output=True,
            text=True,
            check=True,
            cwd=folder,
            env={**os.environ, "PATH": path},
        )
        told.append(f"$ {command}\n{done.stdout}")
    return "".join(told)


def test_the_session_prints_what_it_shows(tmp_path: Path) -> None:
    text = README.read_text(encoding="utf-8")
    block = BLOCK.search(text)
    assert block is not None
    again = session_again(block[2], tmp_path)
    if os.environ.get("BATHVIGIL_REDRAW"):
        README.write_text(text.replace(block[2], again), encoding="utf-8")
    else:
        assert block[2] == again


def test_every_file_that_the_documents_link_to_exists() -> None:
    root = README.parent
    for document in ("README.md", "DEVELOPERS.md"):
        for target in re.findall(r"\]\(([^)#]+)\)", (root / document).read_text(encoding="utf-8")):
            if "://" not in target:
                assert (root / target).exists(), f"{document}: {target}"
