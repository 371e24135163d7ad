"""Plays the rows; see `run.py`."""

import sys

from benchmarks.hazards.run import main

sys.exit(main())
