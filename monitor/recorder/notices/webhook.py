"""A notice in, a POST of JSON to a web address out; the server's own answer back."""

import json
import urllib.error
import urllib.request
from http.client import HTTPException

from monitor.recorder.notices.channel import Answer
from monitor.recorder.notices.notice import Notice

SHOWN = 120
"""Characters of a server's answer that are kept."""


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """A notice goes where the settings say, and nowhere else."""

    def redirect_request(self, *_: object, **__: object) -> None:
        return None


def post(url: str, notice: Notice, within_s: float) -> Answer:
    """Send a notice; never raises for what a network or a server does."""
    body = json.dumps(
        {
            "key": notice.key,
            "title": notice.title,
            "text": notice.text,
            "priority": notice.priority.value,
        }
    )
    request = urllib.request.Request(
        url,
        body.encode("utf-8"),
        {"Content-Type": "application/json", "Idempotency-Key": notice.key},
        method="POST",
    )
    opener = urllib.request.build_opener(_NoRedirect())
    try:
        with opener.open(request, timeout=within_s) as reply:
            return Answer(True, f"{reply.status} {_words(reply.read(SHOWN))}".strip())
    except urllib.error.HTTPError as refusal:
        with refusal:
            words = _words(refusal.read(SHOWN)) or refusal.reason
            return Answer(False, f"{refusal.code} {words}")
    except urllib.error.URLError as failure:
        return Answer(False, f"not reached: {failure.reason}")
    except (OSError, ValueError, HTTPException) as failure:
        return Answer(False, f"not reached: {_words(str(failure).encode())[:SHOWN]}")


def _words(data: bytes) -> str:
    return " ".join(data.decode("utf-8", "replace").split())
