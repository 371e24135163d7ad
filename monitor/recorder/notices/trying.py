"""Channels in, what each one's other end really answers to a trial notice out."""

from collections.abc import Iterator, Sequence

from drivers.base.clock import Clock, SystemClock
from monitor.recorder.notices.channel import Answer, Channel
from monitor.recorder.notices.delivery import deliver
from monitor.recorder.notices.notice import trial_notice


def try_channels(
    channels: Sequence[Channel], within_s: float = 10.0, clock: Clock | None = None
) -> Iterator[tuple[str, Answer]]:
    """Send a trial notice once through each channel; the channel's name and the real answer."""
    notice = trial_notice((clock or SystemClock()).utc_ns())
    for channel in channels:
        yield channel.name, deliver(channel, notice, within_s)
