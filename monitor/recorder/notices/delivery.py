"""One try to deliver a notice through a channel: the real answer by a deadline."""

import json
import shlex
from collections.abc import Iterator, Sequence

from drivers.base.clock import SystemClock
from monitor.base.program import own_command
from monitor.base.user_program import run_program
from monitor.recorder.notices.channel import Answer, Channel, ChannelKind
from monitor.recorder.notices.notice import Notice, trial_notice

SHOWN = 120
"""Characters of a command's last line that are kept."""
START_S = 5.0
"""Seconds that a sending process may take for itself, beside the network's."""


def deliver(channel: Channel, notice: Notice, within_s: float) -> Answer:
    """Send one notice once; never raises for what the other end does.

    Parameters
    ----------
    within_s
        After so long the sending process is killed, with all that it started.
    """
    if channel.kind is ChannelKind.COMMAND:
        try:
            line = shlex.split(channel.target.reveal())
        except ValueError as error:
            return Answer(False, f"the command cannot be read: {error}")
        if not line:
            return Answer(False, "the command is empty")
        code, out, err = run_program([*line, notice.title, notice.text], "", within_s)
        if code == 0:
            return Answer(True, _last(out) or "done")
        return Answer(False, err if code is None else f"ended with {code} {_last(err)}".strip())
    order = {
        "kind": channel.kind.value,
        "target": channel.target.reveal(),
        "within_s": within_s,
        "key": notice.key,
        "title": notice.title,
        "text": notice.text,
        "priority": notice.priority.value,
    }
    line = own_command("monitor.recorder.notices.sending")
    code, out, err = run_program(line, json.dumps(order), within_s + START_S)
    if code is None:
        return Answer(False, err)
    try:
        reply = json.loads(out)
        return Answer(bool(reply["is_ok"]), str(reply["text"]))
    except (ValueError, KeyError):
        return Answer(False, channel.target.hidden_in(f"the sending failed: {_last(err)}"))


def try_channels(
    channels: Sequence[Channel], within_s: float = 10.0
) -> Iterator[tuple[str, Answer]]:
    """Send a trial notice once through each channel; the channel's name and the real answer."""
    notice = trial_notice(SystemClock().utc_ns())
    for channel in channels:
        yield channel.name, deliver(channel, notice, within_s)


def _last(text: str) -> str:
    lines = text.strip().splitlines()
    return lines[-1][:SHOWN] if lines else ""
