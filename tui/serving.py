"""Serves a screen to browsers; every tab is a process of its own.

1. The address that is printed works once: it gives the browser a cookie, and the next is printed.
2. A page of another site gets nothing: neither with its own Origin, nor by a name that it lets lead
   here.
3. Browsers only look, unless they were allowed to act.
4. All ends with the command that began it, and no process is left behind.

The one place that imports textual-serve, which is optional.
"""

import asyncio
import hmac
import os
import secrets
import shlex
import signal
import socket
import sys
from collections import deque
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from ipaddress import ip_address
from typing import TYPE_CHECKING, Any

from monitor.base.program import own_command
from monitor.store.requests import LOOK_ONLY

LOOPBACK = ("127.0.0.1", "localhost", "::1")
WARNING = (
    "Whoever can listen in the network of {host}:{port} sees what you see: there is no encryption. "
    "Do this only in a network of your own."
)
COOKIE = "bathvigil"
MOST_SCREENS = 4
"""Each is a process of some 30 MB."""
MOST_BROWSERS = 20
PARENT_EVERY_S = 0.5
OPEN_EVERY_S = 0.05
SHUT = {
    # The page of textual-serve asks another site for a typeface: it gets none, and nobody is told.
    "Content-Security-Policy": "default-src 'self' 'unsafe-inline' data:; connect-src 'self' ws:; "
    "frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


if TYPE_CHECKING:
    from aiohttp import web

    _Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Door:
    """Who may come in: a browser with a cookie, or with the token that was printed last.

    Parameters
    ----------
    host, port
        Where we listen.
    tell
        Called with each address that opens the door once.
    """

    def __init__(self, host: str, port: int, tell: Callable[[str], None]) -> None:
        self._names = {host.lower(), "localhost", socket.gethostname().lower()}
        self._port = port
        is_any = host in ("0.0.0.0", "::")
        self._shown = socket.gethostname() if is_any else host
        self._tell = tell
        self._token = ""
        self._cookies: deque[str] = deque(maxlen=MOST_BROWSERS)

    def invite(self) -> None:
        """Make a new token, and tell the address with it."""
        self._token = secrets.token_urlsafe(16)
        host = f"[{self._shown}]" if ":" in self._shown else self._shown
        self._tell(f"http://{host}:{self._port}/?token={self._token}")

    def is_our_name(self, host: str) -> bool:
        """Whether the Host of a request is ours: a name of this machine, or a bare address.

        A stranger's name may lead here; an address is never a stranger's.
        """
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

    def is_known(self, cookie: str) -> bool:
        """Whether a browser has been let in."""
        return any(hmac.compare_digest(cookie.encode(), own.encode()) for own in self._cookies)

    def let_in(self, token: str) -> str | None:
        """The cookie for whoever brings the token; None for any other."""
        if not hmac.compare_digest(token.encode(), self._token.encode()):
            return None
        self._cookies.append(secrets.token_urlsafe(24))
        self.invite()
        return self._cookies[-1]


def serve(arguments: Sequence[str], place: str, may_act: bool, begun_by: int | None) -> int:
    """Serve until stopped, or until the process that began us is gone; the exit code.

    Parameters
    ----------
    arguments
        Those of `python -m tui` for one screen.
    place
        HOST:PORT to listen on.
    may_act
        Whether browsers may acknowledge alarms, mark and end runs.
    """
    try:
        from aiohttp import web
        from textual_serve.server import Server
    except ImportError:
        sys.stderr.write("browsers need one more package: pip install 'bathvigil[web]'\n")
        return 1
    host, _, port = place.rpartition(":")
    host = host.strip("[]")
    # Each tab's process reads it: a screen cannot forget it.
    os.environ[LOOK_ONLY] = "" if may_act else "1"
    # exec: the tab's process itself is our child, and leaves when we are gone.
    line = "exec " + shlex.join(own_command("tui", *arguments, "--glyphs", "braille"))
    parent = os.getppid() if begun_by is None else begun_by

    def tell(address: str) -> None:
        sys.stderr.write(f"open {address} in a browser (works once); Ctrl+C ends this\n")
        sys.stderr.flush()

    door = Door(host, int(port), tell)

    @web.middleware
    async def guarded(request: web.Request, handler: "_Handler") -> web.StreamResponse:
        origin = request.headers.get("Origin")
        is_ours = door.is_our_name(request.host) and origin in (None, f"http://{request.host}")
        if not is_ours or (origin is None and request.path == "/ws"):
            raise web.HTTPForbidden(text="not from this page")
        if door.is_known(request.cookies.get(COOKIE, "")):
            return await handler(request)
        cookie = door.let_in(request.query.get("token", "")) if request.path == "/" else None
        if cookie is None:
            raise web.HTTPForbidden(text="open the newest address that bathvigil has printed")
        reply = web.Response(status=303, headers={"Location": "/"})
        reply.set_cookie(COOKIE, cookie, httponly=True, samesite="Strict")
        return reply

    class GuardedServer(Server):
        screens: "set[asyncio.Task[Any]]"

        async def _make_app(self) -> web.Application:
            app = await super()._make_app()
            app.middlewares.append(guarded)
            app.on_response_prepare.append(_shut)
            return app

        def initialize_logging(self) -> None:
            """Nothing on stdout, which is for data."""

        async def on_startup(self, app: object) -> None:
            loop = asyncio.get_running_loop()
            with suppress(NotImplementedError):
                loop.add_signal_handler(signal.SIGHUP, self.request_exit)
            self.screens = set()
            self.tasks = [
                asyncio.create_task(_end_with(parent)),
                asyncio.create_task(_invite_once_open(door, host, int(port))),
            ]

        async def handle_index(self, request: web.Request) -> Any:
            self.public_url = f"http://{request.host}"
            return await super().handle_index(request)

        async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
            if len(self.screens) >= MOST_SCREENS:
                raise web.HTTPServiceUnavailable(text=f"{MOST_SCREENS} screens are open already")
            screen = asyncio.current_task()
            assert screen is not None
            self.screens.add(screen)
            try:
                return await super().handle_websocket(request)
            finally:
                self.screens.discard(screen)

        async def on_shutdown(self, app: object) -> None:
            """End every screen: a browser would keep its own open for as long as it likes."""
            for screen in self.screens:
                screen.cancel()

    async def _shut(request: web.Request, response: web.StreamResponse) -> None:
        response.headers.update(SHUT)

    if host not in LOOPBACK:
        sys.stderr.write(WARNING.format(host=host, port=port) + "\n")
    GuardedServer(line, host=host, port=int(port), title="bathvigil").serve()
    return 0


async def _invite_once_open(door: Door, host: str, port: int) -> None:
    """Print the address once it answers, not before."""
    while True:
        with suppress(OSError):
            _, line = await asyncio.open_connection(host, port)
            line.close()
            door.invite()
            return
        await asyncio.sleep(OPEN_EVERY_S)


async def _end_with(parent: int) -> None:
    """End this process when it is another's child."""
    while os.getppid() == parent:
        await asyncio.sleep(PARENT_EVERY_S)
    os.kill(os.getpid(), signal.SIGTERM)
