"""`bathvigil page`: all supplies on phones and tablets, read only."""

import os
import sys
from pathlib import Path

import click

from monitor.base.program import own_command
from monitor.commands.options import WholeNumber, config_option, examples, store_option
from monitor.commands.places import store_path
from monitor.commands.screen import run_to_its_end
from monitor.store.reader import open_store

PORT = 8138


@click.command(
    "page",
    epilog=examples("bathvigil page --config bench.toml", "bathvigil page --lan"),
)
@config_option
@store_option
@click.option(
    "--port",
    type=WholeNumber(1, 65535),
    default=PORT,
    show_default=True,
    metavar="N",
    help="The port of the page.",
)
@click.option("--lan", is_flag=True, help="Let phones in this computer's networks see the page.")
def command(config: Path | None, store: Path | None, port: int, lan: bool) -> int:
    """Show all supplies on phones and tablets: one page that only shows, with alarms.

    It prints an address, also as a QR code. The page shows what a recorder writes to the store.
    """
    path = store_path(store, config)
    with open_store(path):
        pass  # a wrong file is told here, in one line
    line = own_command("tui.phone", "--store", str(path.absolute()), "--port", str(port))
    line += ["--lan"] if lan else []
    if sys.platform != "win32":
        line += ["--begun-by", str(os.getpid())]
    code = run_to_its_end(line)
    return code if code >= 0 else 128 - code
