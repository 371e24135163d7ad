"""The server of the page: four small files and one stream of news for each phone.

A phone that reads slowly misses news and gets the latest; one that reads nothing is cut off.
Nothing is ever queued for it but what the system's own buffer holds. The one place that imports
Starlette and uvicorn, which are optional.
"""

import asyncio
import json
import os
import socket
from collections.abc import Callable
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import Any, ClassVar

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from drivers.base.clock import Clock
from tui.phone.bulletin import FIXED
from tui.phone.door import COOKIE_FOR_S, TOKEN_PATH, Door
from tui.phone.watcher import News, Watcher

MOST_CLIENTS = 64
MOST_LINES = 256
"""Open connections, phones and all others."""
FIRST_REQUEST_S = 10.0
"""A connection that asks nothing for so long is closed."""
SLOW_S = 10.0
"""A phone that takes nothing for so long is cut off."""
BUFFER_BYTES = 32_768
"""What the system keeps for one phone; old news is of no use to it."""
PARENT_EVERY_S = 0.5

SHUT = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}

FILES = {"": ("page.html", "text/html"), "page.css": ("page.css", "text/css")}
FILES["page.js"] = ("page.js", "text/javascript")


class Board:
    """The latest news, and those who wait for the next; used in the server's loop alone."""

    def __init__(self) -> None:
        self.news = News()
        self.clients = 0
        self._changed = asyncio.Event()

    def pin(self, news: News) -> None:
        """Take the next news, and wake everybody."""
        self.news = news
        self._changed.set()
        self._changed = asyncio.Event()

    async def newer_than(self, count: int) -> News:
        """The latest news, once there is any after this."""
        while self.news.count <= count:
            await self._changed.wait()
        return self.news


class Line(H11Protocol):
    """A connection; too many of them, and mute ones, are closed."""

    opened: ClassVar[dict[Any, "Line"]] = {}

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn has it
        super().connection_made(transport)
        if len(self.opened) >= MOST_LINES:
            transport.abort()
            return
        self.opened[self.client] = self
        self.loop.call_later(FIRST_REQUEST_S, self._end_if_mute)

    def connection_lost(self, exc: Exception | None) -> None:
        if self.opened.get(self.client) is self:
            del self.opened[self.client]
        super().connection_lost(exc)

    def cut(self) -> None:
        """Close at once, whatever waits to be sent."""
        self.transport.abort()

    def _end_if_mute(self) -> None:
        # uvicorn gives a connection its scope with the first request.
        if self.__dict__.get("scope") is None:
            self.cut()


class Stream(Response):
    """News for one phone, as server-sent events (HTML standard, 9.2), until it goes."""

    media_type = "text/event-stream"

    def __init__(
        self,
        board: Board,
        run: int | None,
    ) -> None:
        super().__init__()
        del self.headers["content-length"]
        self._board, self._run = board, run

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        board = self._board
        start = {"type": "http.response.start", "status": 200, "headers": self.raw_headers}
        gone = asyncio.ensure_future(_gone(receive))
        board.clients += 1
        try:
            await send(start)
            await self._send(send, b"retry: 1000\nevent: fixed\ndata: " + _FIXED + b"\n\n")
            count, charts_count = 0, 0
            while not gone.done():
                coming = asyncio.ensure_future(board.newer_than(count))
                await asyncio.wait({coming, gone}, return_when=asyncio.FIRST_COMPLETED)
                if not coming.done():
                    coming.cancel()
                    return
                news = coming.result()
                count, body = news.count, b"event: state\ndata: " + news.state + b"\n\n"
                chart = news.charts.get(news.worst if self._run is None else self._run)
                if chart is not None and news.charts_count != charts_count:
                    charts_count = news.charts_count
                    body += b"event: chart\ndata: " + chart + b"\n\n"
                await self._send(send, body)
        except TimeoutError:
            slow = Line.opened.get(scope.get("client"))
            if slow is not None:
                slow.cut()
        finally:
            board.clients -= 1
            gone.cancel()

    async def _send(self, send: Send, body: bytes) -> None:
        message = {"type": "http.response.body", "body": body, "more_body": True}
        await asyncio.wait_for(send(message), SLOW_S)


_FIXED = json.dumps(FIXED, separators=(",", ":")).encode()


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def page_app(door: Door, board: Board, most_clients: int = MOST_CLIENTS) -> ASGIApp:
    """The page as an ASGI application, with its door."""

    async def enter(request: Request) -> Response:
        cookie = door.pass_for(request.path_params["token"])
        if cookie is None:
            return PlainTextResponse("this address is not the one that was printed", 403)
        reply = RedirectResponse("/", 303)
        reply.set_cookie(door.cookie, cookie, max_age=COOKIE_FOR_S, httponly=True, samesite="lax")
        return reply

    async def show(request: Request) -> Response:
        name, kind = FILES[request.url.path.removeprefix("/")]
        return Response((files("tui.phone") / name).read_bytes(), media_type=kind)

    async def events(request: Request) -> Response:
        if request.method == "HEAD":
            return Response()
        if board.clients >= most_clients:
            return PlainTextResponse(f"{most_clients} phones look already", 503)
        run = request.query_params.get("run", "")
        return Stream(board, int(run) if run.isascii() and run.isdecimal() else None)

    shown = [Route(f"/{path}", show) for path in FILES]
    routes = [Route(TOKEN_PATH + "{token}", enter), *shown, Route("/events", events)]
    inner = Starlette(routes=routes)

    async def guarded(scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope)
        peer = request.client.host if request.client is not None else ""
        refused = door.refusal(request.method, request.headers.get("host", ""), peer)
        if refused is None and not scope["path"].startswith(TOKEN_PATH):
            cookie = request.cookies.get(door.cookie, "")
            if not door.is_known([cookie]):
                refused = 403, "open the address that `bathvigil page` has printed"

        async def shut(message: Any) -> None:
            if message["type"] == "http.response.start":
                own = [(k.lower().encode(), v.encode()) for k, v in SHUT.items()]
                message["headers"] = [*message["headers"], *own]
            await send(message)

        answer = inner if refused is None else PlainTextResponse(refused[1], refused[0])
        await answer(scope, receive, shut)

    return guarded


def listen(lan: bool, port: int) -> socket.socket:
    """A socket that listens on loopback, or on all of this machine's addresses; raises OSError."""
    if lan and socket.has_dualstack_ipv6():
        with suppress(OSError):
            return _limited(
                socket.create_server(("::", port), family=socket.AF_INET6, dualstack_ipv6=True)
            )
    return _limited(socket.create_server(("0.0.0.0" if lan else "127.0.0.1", port)))


def _limited(listening: socket.socket) -> socket.socket:
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, BUFFER_BYTES)
    return listening


def server_of(app: ASGIApp) -> uvicorn.Server:
    """A server for this application, which writes no log and believes no proxy."""
    return uvicorn.Server(
        uvicorn.Config(
            app,
            http=Line,
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            proxy_headers=False,
            server_header=False,
            timeout_keep_alive=15,
            timeout_graceful_shutdown=1,
        )
    )


def serve(
    store: Path,
    clock: Clock,
    boot: str,
    listening: socket.socket,
    door: Door,
    opened: Callable[[], object],
    begun_by: int | None,
) -> int:
    """Serve until stopped, or until the process that began us is gone; the exit code.

    Parameters
    ----------
    opened
        Called once phones can come.
    begun_by
        The process whose end ends us, too.
    """
    return asyncio.run(_serve(store, clock, boot, listening, door, opened, begun_by))


async def _serve(
    store: Path,
    clock: Clock,
    boot: str,
    listening: socket.socket,
    door: Door,
    opened: Callable[[], object],
    begun_by: int | None,
) -> int:
    loop, board = asyncio.get_running_loop(), Board()
    broken: list[BaseException] = []
    server = server_of(page_app(door, board))

    def tell(news: News) -> None:
        with suppress(RuntimeError):  # the loop has closed
            loop.call_soon_threadsafe(board.pin, news)

    def broke(error: BaseException) -> None:
        broken.append(error)
        server.should_exit = True

    watcher = Watcher(store, clock, boot, tell, broke)
    watcher.start()
    leaves = asyncio.ensure_future(_leave_with(begun_by, server))
    opened()
    try:
        await server.serve(sockets=[listening])
    finally:
        leaves.cancel()
        watcher.stop()
    if broken:
        raise broken[0]
    return 0


async def _leave_with(parent: int | None, server: uvicorn.Server) -> None:
    while parent is None or os.getppid() == parent:
        await asyncio.sleep(PARENT_EVERY_S)
    server.should_exit = True
