"""Where notices go, out of the settings: a web address, a command, or services of a library."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.base.secret import Secret


class ChannelKind(StrEnum):
    """How a channel is reached."""

    WEBHOOK = "webhook"
    COMMAND = "command"
    SERVICE = "service"


@dataclass(frozen=True, slots=True)
class Channel:
    """One way to reach a person.

    Parameters
    ----------
    name
        As the settings call it.
    target
        A web address, a command line, or the address of a service; may hold a secret.
    """

    name: str
    kind: ChannelKind
    target: Secret


@dataclass(frozen=True, slots=True)
class Answer:
    """What really came back: whether the notice was taken, and the receiver's words."""

    is_ok: bool
    text: str
