"""The tables `[notices]` and `[heartbeat]` of bench.toml: who is told, who sees a silence."""

import shlex
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from monitor.model.alarm import Priority
from monitor.settings.table import Name, Table


def _is_web_address(url: str | None) -> str | None:
    if url is None or (url.startswith(("http://", "https://")) and url.isprintable()):
        return url
    raise ValueError('write it like "http://10.0.0.9/notices"')


def is_command_line(line: str | None) -> str | None:
    """A command line that can be taken apart as a shell would."""
    try:
        words = None if line is None else shlex.split(line)
    except ValueError as error:
        raise ValueError(f"cannot be read as a command line: {str(error).lower()}") from error
    if words == []:
        raise ValueError("names no program")
    return line


def _beside(file: Path | None, info: ValidationInfo) -> Path | None:
    """A path of the settings, which is relative to their own folder."""
    folder = (info.context or {}).get("folder", Path())
    return None if file is None else Path(folder) / file.expanduser()


class NoticeChannelSettings(Table):
    """A table `[notices.channels.NAME]`; exactly one of its keys stands in it.

    Parameters
    ----------
    webhook
        A web address that takes a POST of JSON, where nothing in it is secret.
    webhook_file
        A file with such an address, relative to bench.toml, that only its owner can read.
    service_file
        Such a file with one address of a service that the apprise library speaks to.
    program
        A command line; gets the notice's title and text as its last arguments. No shell.
    """

    webhook: str | None = None
    webhook_file: Annotated[Path | None, Field(strict=False)] = None
    service_file: Annotated[Path | None, Field(strict=False)] = None
    program: str | None = None

    _address = field_validator("webhook")(_is_web_address)
    _place = field_validator("webhook_file", "service_file")(_beside)
    _line = field_validator("program")(is_command_line)

    @model_validator(mode="after")
    def _says_one_way(self) -> Self:
        ways = [self.webhook, self.webhook_file, self.service_file, self.program]
        if sum(way is not None for way in ways) != 1:
            raise ValueError("give one of webhook, webhook_file, service_file, program")
        return self


class NoticesSettings(Table):
    """The table `[notices]`: who is told of alarms; nobody without a channel.

    Parameters
    ----------
    from_priority
        The least urgent alarms that are told.
    within_s
        Longest time for one try to deliver a notice.
    tries
        How often it is tried before notice-failed is raised.
    channels
        The ways, by name.
    """

    from_priority: Annotated[Priority, Field(strict=False)] = Priority.HIGH
    within_s: float = Field(default=10.0, ge=1, le=60)
    tries: int = Field(default=4, ge=1, le=10)
    channels: dict[Name, NoticeChannelSettings] = Field(default_factory=dict)


class HeartbeatSettings(Table):
    """The table `[heartbeat]`: something outside notices when the recorder falls silent.

    Parameters
    ----------
    beat_file
        A file, relative to bench.toml, that is touched while fresh readings of every supply are
        judged and stored.
    beat_url
        A web address that is fetched meanwhile.
    every_s
        Time from one beat to the next.
    """

    beat_file: Annotated[Path | None, Field(strict=False)] = None
    beat_url: str | None = None
    every_s: float = Field(default=30.0, ge=1, le=3600)

    _address = field_validator("beat_url")(_is_web_address)
    _place = field_validator("beat_file")(_beside)
