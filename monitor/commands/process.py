"""What a command that stays needs: messages on stderr, and an end by a signal."""

import signal
from collections.abc import Callable
from types import FrameType

import click


def say(sentence: str) -> None:
    """Write a line to stderr; the work goes on even if stderr is closed."""
    try:
        click.echo(f"bathvigil: {sentence}", err=True)
    except OSError:
        return


def stop_on_signals(stop: Callable[[], object]) -> None:
    """End cleanly on TERM and INT; outlive the terminal and the reader of stdout."""

    def end(number: int, frame: FrameType | None) -> None:
        stop()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    for name in ("SIGHUP", "SIGPIPE"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
