"""Sends a notice through a service that the apprise library knows.

The one file that knows the library. It is optional: `pip install bathvigil[notices]`.
"""

import logging

from monitor.model.alarm import Priority
from monitor.recorder.notices.channel import Answer
from monitor.recorder.notices.notice import Notice

SHOWN = 200
"""Characters of what went wrong that are kept."""
KINDS = {
    Priority.CRITICAL: "failure",
    Priority.HIGH: "failure",
    Priority.MEDIUM: "warning",
    Priority.LOW: "info",
}


def send_through_service(address: str, notice: Notice, within_s: float) -> Answer:
    """Send a notice to the service of an address such as "json://10.0.0.9/"."""
    try:
        import apprise
    except ImportError:
        return Answer(False, "needs the apprise library: pip install 'bathvigil[notices]'")
    listener = _Listener()
    logging.getLogger("apprise").addHandler(listener)
    logging.getLogger("apprise").setLevel(logging.DEBUG)
    logging.getLogger("apprise").propagate = False
    services = apprise.Apprise()
    if not services.add(_with_deadline(address, within_s)):
        return Answer(False, "the service's address is not understood; see the library's own list")
    is_ok = services.notify(
        title=notice.title, body=notice.text, notify_type=apprise.NotifyType(KINDS[notice.priority])
    )
    words = listener.words or ("taken" if is_ok else "refused without a word")
    return Answer(bool(is_ok), words[:SHOWN])


class _Listener(logging.Handler):
    """Keeps what the library complains of, and the exception behind it, which it only murmurs.

    Nothing else of what it says for its own debugging is kept: there are secrets in it.
    """

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self._complaint = self._cause = ""

    def emit(self, record: logging.LogRecord) -> None:
        message = record.getMessage()
        if record.levelno >= logging.WARNING:
            self._complaint = message
        elif "Exception: " in message:
            self._cause = message.partition("Exception: ")[2]

    @property
    def words(self) -> str:
        """Both, the cause in brackets."""
        cause = f" ({self._cause})" if self._cause else ""
        return " ".join(f"{self._complaint}{cause}".split()).strip()


def _with_deadline(address: str, within_s: float) -> str:
    """The library's own read and connect deadlines, as parameters of the address."""
    if "rto=" in address or "cto=" in address:
        return address
    joint = "&" if "?" in address else "?"
    return f"{address}{joint}rto={within_s:g}&cto={within_s:g}"
