"""The tables of bench.toml about alarms: those out of service, their sound, notices, heartbeat."""

import shlex
from pathlib import Path
from typing import Annotated, Self, TypeAlias

from pydantic import AfterValidator, Field, ValidationInfo, model_validator

from drivers.base.nearest import nearest
from drivers.base.table import Name, Table
from monitor.alarms.catalogue import BY_NAME
from monitor.model.alarm import Priority


def beside_settings(file: Path, info: ValidationInfo) -> Path:
    """A path of the settings, which is relative to their own folder."""
    folder = (info.context or {}).get("folder", Path())
    return Path(folder) / file.expanduser()


FileHere: TypeAlias = Annotated[Path, Field(strict=False), AfterValidator(beside_settings)]


def _is_web_address(url: str) -> str:
    if url.startswith(("http://", "https://")) and url.isprintable():
        return url
    raise ValueError('write it like "http://10.0.0.9/notices"')


WebAddress: TypeAlias = Annotated[str, AfterValidator(_is_web_address)]


def _is_command_line(line: str) -> str:
    """A command line that can be taken apart as a shell would."""
    try:
        words = shlex.split(line)
    except ValueError as error:
        raise ValueError(f"cannot be read as a command line: {str(error).lower()}") from error
    if not words:
        raise ValueError("names no program")
    return line


CommandLine: TypeAlias = Annotated[str, AfterValidator(_is_command_line)]


def _may_be_set(name: str) -> str:
    """The name of an alarm that a setting may silence: none that is critical."""
    kind = BY_NAME.get(name)
    if kind is None:
        close = nearest(name, BY_NAME)
        hint = f"did you mean '{close}'?" if close else f"known: {', '.join(BY_NAME)}"
        raise ValueError(f"there is no alarm '{name}'; {hint}")
    if not kind.may_be_shelved:
        raise ValueError(f"'{name}' is critical and stays in service; leave the table out")
    return name


AlarmName = Annotated[str, AfterValidator(_may_be_set)]


class AlarmSettings(Table):
    """A table `[alarms.NAME]`: one alarm, which must not be critical.

    Parameters
    ----------
    out_of_service
        Why this alarm is switched off; the screen shows this text all the time. To switch the
        alarm on again, delete the table and restart the recorder.
    """

    out_of_service: str = Field(min_length=3, max_length=80)


class SoundSettings(Table):
    """The table `[sound]`: how alarms are heard; there is no way to switch them off here.

    Parameters
    ----------
    command
        Command that makes a sound; its last argument is the priority, or "prompt". None: the
        machine's own player.
    play_within_s
        Longest time for one sound; a player that takes longer is stopped and reported as failed.
    again_every_s
        Time until it sounds again if nobody acknowledges the alarm.
    """

    command: CommandLine | None = None
    play_within_s: float = Field(default=3.0, ge=0.5, le=10)
    again_every_s: float = Field(default=8.0, ge=2, le=60)


class NoticeChannelSettings(Table):
    """A table `[notices.channels.NAME]`; exactly one of its keys stands in it.

    Parameters
    ----------
    webhook
        Web address that receives JSON by POST; use this only if the address is not secret.
    webhook_file
        File with such an address, relative to bench.toml, readable by its owner only.
    service_file
        File with the address of a service known to the apprise library, readable by its owner
        only.
    program
        Command; the notice's title and text are its last arguments. No shell is used.
    """

    webhook: WebAddress | None = None
    webhook_file: FileHere | None = None
    service_file: FileHere | None = None
    program: CommandLine | None = None

    @model_validator(mode="after")
    def _says_one_way(self) -> Self:
        ways = [self.webhook, self.webhook_file, self.service_file, self.program]
        if sum(way is not None for way in ways) != 1:
            raise ValueError("give one of webhook, webhook_file, service_file, program")
        return self


class NoticesSettings(Table):
    """The table `[notices]`: the people who get alarms; without a channel, none.

    Parameters
    ----------
    from_priority
        Alarms of this priority and above are sent.
    within_s
        Longest time for one attempt to send a notice.
    tries
        Number of attempts before notice-failed is raised.
    channels
        The ways, by name.
    """

    from_priority: Annotated[Priority, Field(strict=False)] = Priority.HIGH
    within_s: float = Field(default=10.0, ge=1, le=60)
    tries: int = Field(default=4, ge=1, le=10)
    channels: dict[Name, NoticeChannelSettings] = Field(default_factory=dict)


class HeartbeatSettings(Table):
    """The table `[heartbeat]`: lets another program notice that the recorder has stopped.

    Parameters
    ----------
    beat_file
        File, relative to bench.toml, that is touched as long as readings of every supply arrive and
        are stored.
    beat_url
        Web address that is fetched as long as they do.
    every_s
        Time between two heartbeats.
    """

    beat_file: FileHere | None = None
    beat_url: WebAddress | None = None
    every_s: float = Field(default=30.0, ge=1, le=3600)
