"""What can go wrong on a wire, split by what the caller should do about it.

Every message says who was asked, what was asked, what came back, and the cure.
"""


class DriverError(Exception):
    """Any failure of a link or a supply. `reason` is the short phrase that a gap keeps."""

    reason = "link failed"


class AskAgain(DriverError):
    """Nothing usable came, but the link stands: ask again at the next poll."""

    reason = "no answer"


class NoAnswer(AskAgain):
    """The supply did not answer within the deadline."""

    reason = "no answer"


class GarbledAnswer(AskAgain):
    """Bytes came that are not a whole, valid answer to the question: count, and ask again."""

    reason = "unreadable answer"


class SupplyRefused(AskAgain):
    """The supply answered with an error of its own."""

    reason = "supply reports an error"


class Reopen(DriverError):
    """The link is gone: close it, and open it again after a wait."""

    reason = "link lost"


class PortBusy(Reopen):
    """Another process holds the port."""

    reason = "port busy"


class PortMissing(Reopen):
    """There is no such port or host now; it may come back."""

    reason = "port missing"


class PortDenied(Reopen):
    """The system does not let this user open the port."""

    reason = "no permission"


class SupplySilent(Reopen):
    """The link stands, but nobody answers on it: at opening, or several times in a row."""

    reason = "no answer"


class SupplyUnreadable(Reopen):
    """The link stands, but what comes at opening is not an answer: wrong baud rate, wiring."""

    reason = "unreadable answer"


class DoNotRepeat(DriverError):
    """Asking again cannot help: somebody must change something."""

    reason = "set-up"


class WrongSupply(DoNotRepeat):
    """Another instrument answers than the one this run began with."""

    reason = "wrong supply"


class BadAddress(DoNotRepeat):
    """The supply's address cannot be understood."""

    reason = "bad address"


class BadDescription(DoNotRepeat):
    """The supply's description file cannot be used."""

    reason = "bad description"


class QuestionRefused(DoNotRepeat):
    """Somebody tried to send what is not on the list of questions. Always a bug of ours."""

    reason = "not a question"
