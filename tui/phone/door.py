"""Who may see the page: a browser that opened the printed address. Nobody can change anything.

1. Only GET and HEAD are answered.
2. A request by a foreign name gets nothing: a stranger's site may let its own name lead here.
3. A request from the internet gets nothing, where this machine stands open to it.
4. The printed address holds a token. It gives the browser a cookie and leads on to an address
   without the token, so that it stands in no Referer, no history entry of the page, no title.
"""

import hmac
import secrets
import socket
from collections.abc import Sequence
from contextlib import suppress
from ipaddress import ip_address

from tui.phone.lan import is_near

MAY = ("GET", "HEAD")
TOKEN_PATH = "/t/"
COOKIE_FOR_S = 7 * 86_400


class Door:
    """See the rules at the head of this file.

    Parameters
    ----------
    port
        Where we listen. Cookies know no port, so the cookie's name holds it.
    """

    def __init__(self, port: int) -> None:
        name = socket.gethostname().lower()
        self._names = {"localhost", name, f"{name}.local"}
        self._port = port
        self._token = secrets.token_urlsafe(16)
        self._pass = secrets.token_urlsafe(24)
        self.cookie = f"bathvigil-page-{port}"

    def address(self, host: str) -> str:
        """The address to open, by this name or address of ours."""
        shown = f"[{host}]" if ":" in host else host
        return f"http://{shown}:{self._port}{TOKEN_PATH}{self._token}"

    def refusal(self, method: str, host: str, peer: str) -> tuple[int, str] | None:
        """Status and reason for a request that gets nothing; None for one that may go on."""
        if method not in MAY:
            return 405, "this page only shows"
        if not self._is_our_name(host) or not is_near(peer):
            return 403, "not from this network"
        return None

    def pass_for(self, token: str) -> str | None:
        """The cookie for whoever brings the token; None for any other."""
        return self._pass if _same(token, self._token) else None

    def is_known(self, cookies: Sequence[str]) -> bool:
        """Whether a browser brings the cookie."""
        return any(_same(cookie, self._pass) for cookie in cookies)

    def _is_our_name(self, host: str) -> bool:
        """An address is never a stranger's; a name may be."""
        name, _, port = host.rpartition(":")
        if host.endswith("]") or ":" not in host:
            name, port = host, "80"  # HTTP's own port is left out
        if port != str(self._port):
            return False
        if name.lower() in self._names:
            return True
        with suppress(ValueError):
            ip_address(name.strip("[]"))
            return True
        return False


def _same(given: str, own: str) -> bool:
    """In a time that does not tell how much of it is right."""
    return hmac.compare_digest(given.encode("utf-8", "surrogateescape"), own.encode())
