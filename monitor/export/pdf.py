"""Prints an HTML page to PDF with this machine's own Chromium."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from monitor.base.errors import BathvigilError

BROWSERS = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge",
)  # fmt: skip
FLAGS = (
    "--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-pdf-header-footer",
    "--virtual-time-budget=8000",
)  # fmt: skip
WITHIN_S = 60.0


class NoPdf(BathvigilError):
    """The page could not be printed."""


def print_pdf(html: str, to: Path) -> None:
    """Print a page to a file.

    Raises
    ------
    NoPdf
        No browser is there, or it failed; one line with the cure.
    """
    browser = next((program for name in BROWSERS if (program := shutil.which(name))), None)
    if browser is None:
        raise NoPdf(
            "a PDF needs Chromium or Chrome on this machine (apt-get install chromium); or write "
            "--to FILE.html and print it from any browser"
        )
    with tempfile.TemporaryDirectory() as folder:
        source, made = Path(folder) / "report.html", Path(folder) / "report.pdf"
        source.write_text(html, encoding="utf-8")
        # As root, as in a container, the browser's own sandbox refuses to start.
        as_root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
        line = [browser, *FLAGS, *as_root, f"--user-data-dir={folder}/profile"]
        try:
            subprocess.run(
                [*line, f"--print-to-pdf={made}", source.as_uri()],
                check=True,
                capture_output=True,
                timeout=WITHIN_S,
            )
        except (subprocess.SubprocessError, OSError) as error:
            raise NoPdf(
                f"{browser} could not print the report ({type(error).__name__}); write "
                "--to FILE.html and print it from any browser"
            ) from error
        if not made.exists() or not made.read_bytes().startswith(b"%PDF"):
            raise NoPdf(
                f"{browser} wrote no PDF; write --to FILE.html and print it from any browser"
            )
        shutil.copyfile(made, to)
