"""The channels of the table `[notices]`, with their secrets read from their files."""

from monitor.base.errors import WrongUse
from monitor.base.secret import Secret, read_secret_file
from monitor.recorder.notices.channel import Channel, ChannelKind
from monitor.recorder.notices.notifier import NoticePlan
from monitor.settings.alarms import NoticeChannelSettings, NoticesSettings


def notice_plan(settings: NoticesSettings) -> NoticePlan:
    """What to send where.

    Raises
    ------
    WrongUse
        A file with a secret is missing, empty, or readable by others.
    """
    channels = tuple(_channel(name, channel) for name, channel in settings.channels.items())
    return NoticePlan(channels, settings.from_priority, settings.within_s, settings.tries)


def _channel(name: str, settings: NoticeChannelSettings) -> Channel:
    if settings.program is not None:
        return Channel(name, ChannelKind.COMMAND, Secret(settings.program))
    if settings.webhook is not None:
        return Channel(name, ChannelKind.WEBHOOK, Secret(settings.webhook))
    if settings.webhook_file is not None:
        secret = read_secret_file(settings.webhook_file, f"notices.channels.{name}.webhook_file")
        return Channel(name, ChannelKind.WEBHOOK, secret)
    if settings.service_file is not None:
        secret = read_secret_file(settings.service_file, f"notices.channels.{name}.service_file")
        return Channel(name, ChannelKind.SERVICE, secret)
    raise WrongUse(
        f"notices.channels.{name}: names no way to send; add webhook, service_file or program"
    )
