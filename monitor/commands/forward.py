"""`bathvigil forward`: a process of its own that sends a copy of the store to a server."""

import os
import threading
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.secret import read_token
from monitor.commands.options import config_option, examples, store_option
from monitor.commands.places import store_path
from monitor.commands.process import say, stop_on_signals
from monitor.forward.forwarder import Forwarder
from monitor.forward.process import forwarder_lock
from monitor.forward.sink import ServerSink
from monitor.forward.standing import standing_text
from monitor.recorder.lock import holder
from monitor.settings import load_bench
from monitor.settings.bench import ForwardSettings
from monitor.store.forward_state import forward_states

GENTLE = 10
"""Niceness: the recorder, on the same small machine, comes first."""
STORE_WITHIN_S = 15.0


@click.command("forward", epilog=examples("bathvigil forward --config bench.toml --once"))
@config_option
@store_option
@click.option(
    "--once", is_flag=True, help="Send what there is, then end. Exit code 1 if the server fails."
)
@click.option(
    "--until-sent", is_flag=True, help="End when no recorder runs and everything is sent."
)
def command(config: Path | None, store: Path | None, once: bool, until_sent: bool) -> None:
    """Send a copy of the store to the server that bench.toml names in [forward]."""
    if config is None:
        raise WrongUse("to which server? Give --config bench.toml, with a table [forward] in it")
    plan = load_bench(config).forward
    if plan.url is None or plan.bucket is None:
        raise WrongUse(f"{config}: has no table [forward] with a url; add one")
    path = store_path(store, config)
    token = read_token(plan.token_file, plan.token_env)
    if until_sent:
        _wait_for(path)
    if not once and hasattr(os, "nice"):
        os.nice(GENTLE)
    with forwarder_lock(path):
        sink = ServerSink(plan.url, plan.org, plan.bucket, token, plan.gzip)
        forwarder = Forwarder(path, plan, sink, SystemClock(), say)
        stop = threading.Event()
        stop_on_signals(stop.set)

        has_looked_since = False

        def is_done() -> bool:
            nonlocal has_looked_since
            if once:
                return forwarder.is_all_sent or forwarder.trouble is not None
            if not until_sent or holder(path) is not None:
                has_looked_since = False
                return False
            if not has_looked_since:
                # The recorder's last rows may have come after the last look.
                forwarder.look_again()
                has_looked_since = True
                return False
            return forwarder.is_all_sent or not path.exists()

        try:
            forwarder.run(stop, is_done)
        finally:
            forwarder.close()
            sink.close()
    say(_standing(path, plan))
    if once and forwarder.trouble is not None:
        raise BathvigilError(f"not everything was sent: {forwarder.trouble}")


def _standing(path: Path, plan: ForwardSettings) -> str:
    for state in forward_states(path):
        if state.place == plan.place:
            return f"forward: {standing_text(state)}"
    return "forward: nothing was sent"


def _wait_for(path: Path) -> None:
    """Give the recorder that starts us the time to make its store."""
    clock = SystemClock()
    give_up_ns = clock.monotonic_ns() + round(STORE_WITHIN_S * 1e9)
    while not path.exists() and clock.monotonic_ns() < give_up_ns:
        clock.wait(0.1)
