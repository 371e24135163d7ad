"""Programs that some whole tests drive, and the reason told where a machine has them not."""

import shutil

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

needs_chromium = pytest.mark.skipif(
    CHROMIUM is None, reason="needs Chromium: apt-get install chromium"
)
needs_tmux = pytest.mark.skipif(
    shutil.which("tmux") is None, reason="needs tmux: apt-get install tmux"
)
