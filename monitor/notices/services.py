"""A notice in, a message through one of the services that the apprise library speaks to out.

The one file that knows the library. It is optional: `pip install bathvigil[notices]`.
"""

import logging
from io import StringIO

from monitor.alarms.alarm import Priority
from monitor.notices.channel import Answer
from monitor.notices.notice import Notice

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
    said = StringIO()
    listener = logging.StreamHandler(said)
    logging.getLogger("apprise").addHandler(listener)
    logging.getLogger("apprise").setLevel(logging.WARNING)
    services = apprise.Apprise()
    if not services.add(_with_deadline(address, within_s)):
        return Answer(False, "the service's address is not understood; see the library's own list")
    is_ok = services.notify(
        title=notice.title, body=notice.text, notify_type=apprise.NotifyType(KINDS[notice.priority])
    )
    lines = said.getvalue().strip().splitlines()
    words = lines[-1] if lines else "taken" if is_ok else "refused without a word"
    return Answer(bool(is_ok), words[:120])


def _with_deadline(address: str, within_s: float) -> str:
    """The library's own read and connect deadlines, as parameters of the address."""
    if "rto=" in address or "cto=" in address:
        return address
    joint = "&" if "?" in address else "?"
    return f"{address}{joint}rto={within_s:g}&cto={within_s:g}"
