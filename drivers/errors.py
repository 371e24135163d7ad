"""The errors of the drivers, split by what the caller should do.

Every message says who was asked, what was asked, what came back, and the cure.
"""

from enum import StrEnum


class Reason(StrEnum):
    """Why a poll has no answer: the short phrase that the store keeps of a gap."""

    LINK_FAILED = "link failed"
    NO_ANSWER = "no answer"
    UNREADABLE = "unreadable answer"
    SUPPLY_ERROR = "supply reports an error"
    LINK_LOST = "link lost"
    PORT_BUSY = "port busy"
    PORT_MISSING = "port missing"
    NO_PERMISSION = "no permission"
    SET_UP = "set-up"
    WRONG_SUPPLY = "wrong supply"
    BAD_ADDRESS = "bad address"
    BAD_DESCRIPTION = "bad description"
    NOT_A_QUESTION = "not a question"


class DriverError(Exception):
    """Any failure of a link or a supply."""

    reason = Reason.LINK_FAILED


class AskAgain(DriverError):
    """Nothing usable came, but the link works: ask again at the next poll."""

    reason = Reason.NO_ANSWER


class NoAnswer(AskAgain):
    """The supply did not answer within the deadline."""

    reason = Reason.NO_ANSWER


class GarbledAnswer(AskAgain):
    """Bytes came that are not a whole, valid answer to the question: count, and ask again."""

    reason = Reason.UNREADABLE


class SupplyRefused(AskAgain):
    """The supply answered with an error of its own."""

    reason = Reason.SUPPLY_ERROR


class Reopen(DriverError):
    """The link is gone: close it, and open it again after a wait."""

    reason = Reason.LINK_LOST


class PortBusy(Reopen):
    """Another process holds the port."""

    reason = Reason.PORT_BUSY


class PortMissing(Reopen):
    """There is no such port or host now; it may come back."""

    reason = Reason.PORT_MISSING


class PortDenied(Reopen):
    """The system does not let this user open the port."""

    reason = Reason.NO_PERMISSION


class SupplySilent(Reopen):
    """The link works, but nothing answers: at opening, or several times in a row."""

    reason = Reason.NO_ANSWER


class SupplyUnreadable(Reopen):
    """The link works, but what comes at opening is no answer: wrong baud rate or wiring."""

    reason = Reason.UNREADABLE


class DoNotRepeat(DriverError):
    """Asking again cannot help: settings or wiring must change."""

    reason = Reason.SET_UP


class WrongSupply(DoNotRepeat):
    """A different instrument answers from the one at the start of this run."""

    reason = Reason.WRONG_SUPPLY


class BadAddress(DoNotRepeat):
    """The supply's address cannot be understood."""

    reason = Reason.BAD_ADDRESS


class BadDescription(DoNotRepeat):
    """The supply's description file cannot be used."""

    reason = Reason.BAD_DESCRIPTION


class QuestionRefused(DoNotRepeat):
    """A message is not on the list of questions. Always a bug of ours."""

    reason = Reason.NOT_A_QUESTION


class NotUnderstood(ValueError):
    """An answer is not of the form that its question asks for; the message says why."""
