# Two commands on a fresh machine: make demo, make test. Each makes the virtual environment it needs.
PYTHON ?= python3
BIN := .venv/bin
# Where the environment forbids to keep compiled code, each of the tests' many processes would
# compile all of ours again.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: bench-switch-on bench-plan bench-phone bench-known bench-instruments bench-hazards bench-job bench-links demo test trials lint types layers tests picture bath-test bench-alarms bench-kills bench-damage bench-memory bench-forecast bench-finish bench-cost clean bench-forward bench-store bench-screens bench-start bench-growth bench fuzz house coverage mutation installs pages
demo: .venv/installed
	$(BIN)/bathvigil demo

# All that a change can break, in five minutes on two free cores.
test: lint types layers tests

lint: .venv/installed-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/vulture

types: .venv/installed-dev
	$(BIN)/mypy

layers: .venv/installed-dev
	$(BIN)/lint-imports

tests: .venv/installed-dev
	$(BIN)/pytest -n 4 --dist loadfile --no-loadscope-reorder -m 'not trial'

# The tests that need large numbers: kills, re-pluggings, fuzz, a day, the whole bench under faults.
trials: .venv/installed-dev
	$(BIN)/pytest -n 4 --dist load -m trial

# What the screens cost and stand, into benchmarks/SCREENS.md; some ten minutes.
bench-screens: .venv/installed-dev
	$(BIN)/python -m benchmarks.screens

# What fifty phones cost the server of their page, into benchmarks/PAGE.md; a minute and a half.
bench-phone: .venv/installed-dev
	$(BIN)/python -m benchmarks.phone

# How the run store does against its goals, into benchmarks/STORE.md; some minutes.
bench-store: .venv/installed-dev
	$(BIN)/python -m benchmarks.store

# How fast the forwarder is, into benchmarks/FORWARD.md; needs Debian's victoria-metrics.
bench-forward: .venv/installed-dev
	$(BIN)/python -m benchmarks.forward

# Draws the README's picture anew; needs Chromium.
picture: .venv/installed-dev
	$(BIN)/python -m tests.tui.picture tests/tui/snapshots/rising-120x40.svg docs/rising.png

# The pictures of the page for phones, by Chromium: docs/phone/.
phone-pictures: .venv/installed-dev
	$(BIN)/python -m tests.whole.phone_stage docs/phone --docs

# Scores the forecast, its rivals and the oracle anew; some minutes.
bench-forecast: .venv/installed-dev
	$(BIN)/python -m benchmarks.forecast

# What one sample costs, estimators and alarms, into COST.md; a minute. On a quiet machine only.
bench-cost: .venv/installed-dev
	$(BIN)/python -m benchmarks.cost

# How the end of a strip is told, into FINISH.md; two minutes.
bench-finish: .venv/installed-dev
	$(BIN)/python -m benchmarks.finish

# Eight hours of bath time under faults, in about a quarter of an hour; writes BATH-TEST.md.
bath-test: .venv/installed-dev
	$(BIN)/python -m benchmarks.bath

# The ledger's advice against the simulator's truth, in seconds; writes JOB.md.
bench-job: .venv/installed-dev
	$(BIN)/python -m benchmarks.job

# From the reply's last byte to the sound, with four things in the way; writes ALARMS.md.
bench-alarms: .venv/installed-dev
	$(BIN)/python -m benchmarks.alarms

# The forecast with and without a bath's earlier runs, into KNOWN.md; two minutes.
bench-known: .venv/installed-dev
	$(BIN)/python -m benchmarks.forecast_known

# How jobs end with each hand at the knob, in a closed loop, into OUTCOME.md; some ten minutes.
bench-outcome: .venv/installed-dev
	$(BIN)/python -m benchmarks.outcome

# What is said of a fault that is there at switching on, into SWITCH-ON.md; half a minute.
bench-switch-on: .venv/installed-dev
	$(BIN)/python -m benchmarks.switch_on

# Plans of jobs against how the jobs then go, into PLAN.md; a minute.
bench-plan: .venv/installed-dev
	$(BIN)/python -m benchmarks.planned

# What is said of each deviation at the bench, and in quiet hours, into HAZARDS.md; two minutes.
bench-hazards: .venv/installed-dev
	$(BIN)/python -m benchmarks.hazards

# A recorder killed at 500 random points, in a quarter of an hour; writes KILLS.md.
bench-kills: .venv/installed-dev
	$(BIN)/python -m benchmarks.kills

# Stores cut and spoilt at 300 random places each, in a minute; writes DAMAGE.md.
bench-damage: .venv/installed-dev
	$(BIN)/python -m benchmarks.damage

# A million samples with every outside service down, in some minutes; writes MEMORY.md.
bench-memory: .venv/installed-dev
	$(BIN)/python -m benchmarks.memory

# Measures the links anew; half an hour, and root for the cable that is pulled.
bench-links: .venv/installed-dev
	$(BIN)/python -m benchmarks.links --to benchmarks/LINKS.md

# Instruments of other makers, commissioned and recorded, into INSTRUMENTS.md; a quarter of an hour.
bench-instruments: .venv/installed-dev
	$(BIN)/python -m benchmarks.instruments --to benchmarks/INSTRUMENTS.md

# Every benchmark that fits in 20 minutes, and benchmarks/RESULTS.md of all; best on a quiet machine.
bench: .venv/installed-dev
	$(BIN)/python -m benchmarks.results

# How long commands take to begin, into benchmarks/START.md; half a minute.
bench-start: .venv/installed-dev
	$(BIN)/python -m benchmarks.start

# What the work costs as it grows, with exponents and a picture, into GROWTH.md; some minutes.
bench-growth: .venv/installed-dev
	$(BIN)/python -m benchmarks.growth

# Every edge that takes bytes or text, tried for an hour in all; writes FUZZ.md. MINUTES=5 is less.
fuzz: .venv/installed-dev
	$(BIN)/python -m benchmarks.fuzz $(or $(MINUTES),60)

# What the program itself says in README.md and docs/: alarms, keys, settings, commands, sessions.
pages: .venv/installed-dev
	$(BIN)/python -m tests.house.documented

# Who imports whom, as one picture: docs/house.svg.
house: .venv/installed-dev
	$(BIN)/python -m tests.house.house_picture

# Branch coverage of the packages, in some ten minutes; htmlcov/ shows what no test reaches.
# Without the test of what a start imports: measuring imports of its own.
coverage: .venv/installed-dev
	$(BIN)/pytest -n 2 --dist loadfile --ignore tests/house/test_tree.py --cov --cov-report=html --cov-report=term:skip-covered -q

# Alarm table, decoders and the alarms' decisions changed in one place at a time, into MUTATION.md:
# what no test notices. Twenty minutes, and the package registry.
mutation: .venv/installed-dev
	$(BIN)/python -m benchmarks.mutation $(SUBJECTS)

# The wheel alone on clean Pythons, each extra alone, wheels for aarch64; five minutes, and the
# package registry. PYTHONS="python3.11 python3.13" says which; else those that are found.
installs: .venv/installed-dev
	$(BIN)/python -m benchmarks.installs $(PYTHONS)

clean:
	rm -rf .venv build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache

.venv/bin/python:
	$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "bathvigil needs Python 3.11 or newer; say which with make PYTHON=python3.12")'
	$(PYTHON) -m venv .venv

.venv/installed: .venv/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e .
	touch $@

.venv/installed-dev: .venv/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev]'
	touch $@ .venv/installed
