"""`bathvigil demo`: a simulated supply, a real recorder on a real port, a screen or lines.

Every byte goes through a pseudo-terminal (or a socket where the system has none), as with a supply
on the bench.
"""

import json
import os
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import BathvigilError
from monitor.base.program import own_command
from monitor.commands.history import fill_history
from monitor.commands.options import Number, examples
from monitor.commands.screen import has_terminal, show, unwinds_on_signals
from monitor.commands.story import tell_story
from monitor.recorder.launching import Launched, launch_recorder
from monitor.recorder.lock import holder
from monitor.recorder.sound.bells import lends_its_bell
from monitor.settings import default_store_path
from monitor.store.opening import DEMO_STORE

SCENE = "tank-warms-to-trip"
SCREEN_S = 120.0
LINES_S = 45.0
"""Real seconds that the scene's story takes on the screen, and as lines."""


@dataclass(frozen=True, slots=True)
class _SceneFacts:
    """What the scene's file says of supply and bath."""

    supply: str
    limit_amps: float
    at_limit: str
    bath: str
    litres: float
    duration_s: float
    story: str


@click.command(
    "demo",
    epilog=examples(
        "bathvigil demo",
        "bathvigil demo --scene swab-warms-to-trip --lines",
        "bathvigil demo --history",
    ),
)
@click.option(
    "--scene",
    default=SCENE,
    show_default=True,
    metavar="NAME",
    help="The scene; `bathvigil simulate --scenes` lists them.",
)
@click.option(
    "--speed",
    type=Number(1, 200),
    metavar="N",
    help="Times as fast as a real bath.  [default: all of it in two minutes]",
)
@click.option("--lines", is_flag=True, help="Print lines, even in a terminal.")
@click.option(
    "--history",
    is_flag=True,
    help="Instead: fill a store with months of an invented workshop, to look around.",
)
@click.option(
    "--store",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The file of runs.  [default: demo.db in your data folder]",
)
def command(scene: str, speed: float | None, lines: bool, history: bool, store: Path | None) -> int:
    """Show a simulated strip, from its start to the cut-out and after."""
    if history:
        return _fill(store or default_store_path().with_name("workshop.db"))
    on_screen = has_terminal() and not lines
    facts = _scene_facts(scene)
    pace = speed or max(facts.duration_s / (SCREEN_S if on_screen else LINES_S), 1.0)
    path = store or default_store_path().with_name(DEMO_STORE)
    if (pid := holder(path)) is not None:
        raise BathvigilError(f"a demo (process {pid}) is still running on {path}")
    with (
        unwinds_on_signals(),
        lends_its_bell(path.absolute()),
        _simulated_supply(scene, pace) as address,
    ):
        launched = launch_recorder(path.absolute(), _record_arguments(address, facts, pace))
        run = launched.runs[0]
        try:
            if on_screen:
                code = show("live", path, run)
            else:
                click.echo(" ".join(facts.story.split()))
                click.echo(f"({address}, {pace:.1f} times as fast as a real bath)")
                code = tell_story(path, run, launched.process)
        finally:
            _end(launched)
    again = f" --store '{path}'" if " " in str(path) else f" --store {path}"
    click.echo(f"\nLook at the run again:  bathvigil review {run}{again}")
    click.echo(f"As a table:             bathvigil export {run} --to strip.csv{again}")
    return code


def _fill(path: Path) -> int:
    """Fill a store with the invented workshop's months, and say what to look at."""

    def tell(runs: int) -> None:
        click.echo(f"\r{runs} runs", nl=False, err=True)

    path.parent.mkdir(parents=True, exist_ok=True)
    runs = fill_history(path, SystemClock().utc_ns(), tell)
    click.echo("", err=True)
    click.echo(f"{runs} simulated runs of an invented workshop are in {path}. Look at them:")
    for line in (
        "runs",
        "bath show 'north tank'",
        "report 1 --to run-1.html",
        "report --bath 'north tank' --to tank.html",
    ):
        click.echo(f"  bathvigil {line} --store '{path}'")
    return 0


def _scene_facts(scene: str) -> _SceneFacts:
    line = own_command("simulators", "--scene", scene, "--facts")
    done = subprocess.run(line, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise BathvigilError(done.stderr.strip().removeprefix("simulators: "))
    facts = json.loads(done.stdout)
    return _SceneFacts(**{name: facts[name] for name in _SceneFacts.__slots__})


@contextmanager
def _simulated_supply(scene: str, speed: float) -> Iterator[str]:
    """Serve the scene while the context lasts; its address."""
    link = "scpi-serial" if hasattr(os, "openpty") else "scpi-tcp"
    line = own_command("simulators", "--scene", scene, "--link", link)
    process = subprocess.Popen(
        [*line, "--speed", str(speed)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        if not address:
            raise BathvigilError("the simulated supply did not start")
        yield address
    finally:
        process.terminate()
        process.wait(timeout=10)
        if process.stdout is not None:
            process.stdout.close()


def _record_arguments(address: str, facts: _SceneFacts, speed: float) -> list[str]:
    pairs = {
        "--limit-amps": facts.limit_amps,
        "--at-limit": facts.at_limit,
        "--name": facts.supply,
        "--bath": facts.bath,
        "--bath-litres": facts.litres,
        "--clock-speed": speed,
        "--for-s": facts.duration_s,
    }
    words = [word for key, value in pairs.items() for word in (key, str(value))]
    return [address, "--new-run", *words]


def _end(launched: Launched) -> None:
    """End the demo's own recorder; it closes its run."""
    if launched.process.poll() is None:
        launched.process.send_signal(signal.SIGTERM)
    launched.process.wait(timeout=20)
