"""`bathvigil simulate`: the simulated supply as a process of its own, on a real port or socket."""

import os
import subprocess
import sys

import click

from monitor.base.program import own_command


@click.command(
    "simulate",
    context_settings={"ignore_unknown_options": True, "help_option_names": []},
    add_help_option=False,
)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def command(arguments: tuple[str, ...]) -> int:
    """Serve a simulated supply; its address is the first line printed."""
    # The simulators are the other end of the wire and share no process with the product.
    line = own_command("simulators", *arguments)
    if sys.platform == "win32":
        return subprocess.call(line)
    return os.execv(line[0], line)  # signals then go straight to the simulator
