"""Makes a PNG of a screen's SVG snapshot: the command behind `make picture`.

Chromium draws it; other converters shift the columns of such an SVG.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


def draw(svg: Path, png: Path) -> None:
    """Draw a snapshot at its own size."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        raise SystemExit("needs Chromium: apt-get install chromium")
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg.read_text(encoding="utf-8"))
    if box is None:
        raise SystemExit(f"{svg} has no viewBox")
    width, height = (round(float(side)) for side in box.groups())
    png.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as profile:
        subprocess.run(
            [
                browser, *FLAGS, f"--user-data-dir={profile}", f"--window-size={width},{height}",
                f"--screenshot={png.resolve()}", svg.resolve().as_uri(),
            ],
            check=True,
            capture_output=True,
        )  # fmt: skip


if __name__ == "__main__":
    draw(Path(sys.argv[1]), Path(sys.argv[2]))
