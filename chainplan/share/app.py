"""What is served: pages without data, and with a token the plan, the taps and the board."""

from __future__ import annotations

import asyncio
import json
import time
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from chainplan.errors import InputError
from chainplan.share.bounds import HEARTBEAT_S, LABEL_LETTERS, STREAMS
from chainplan.share.gate import CERTIFICATE, TooLarge
from chainplan.share.pass_words import BOARD
from chainplan.share.taps import ID, NotUsable, clean_text, read_device, read_taps

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable

    from starlette.requests import Request

    from chainplan.share.desk import Desk

    Stop = Callable[[], None]

_MOST_JSON_DEPTH_ERRORS = (ValueError, RecursionError, UnicodeDecodeError)


class Counter:
    """The routes of one sharing."""

    def __init__(self, desk: Desk, *, code_svg: str, certificate: bytes, stop: Stop) -> None:
        """Take what is shared, the code to scan, the certificate to trust and what ends it."""
        self.desk, self.code_svg, self.certificate, self.stop = desk, code_svg, certificate, stop
        self.streams = 0
        self.log: list[str] = []

    def note(self, line: str) -> None:
        """Keep a line of who came for the board."""
        self.log = [*self.log[-199:], f"{time.strftime('%H:%M:%S')} {line}"]

    # ---- Pages --------------------------------------------------------------------------------

    async def sheet_page(self, _: Request) -> Response:
        """Give the page of the sheet; it holds no data."""
        return HTMLResponse(self.desk.shown.sheet_page.html)

    async def board_page(self, _: Request) -> Response:
        """Give the page of the board; it holds no data."""
        return HTMLResponse(self.desk.shown.board_page.html)

    async def trust_page(self, _: Request) -> Response:
        """Explain how the certificate is trusted."""
        return HTMLResponse(self.desk.shown.trust_page.html)

    async def worker(self, _: Request) -> Response:
        """Give the program that keeps the page for when the server is away."""
        return Response(self.desk.shown.worker.html, media_type="text/javascript")

    async def trust_file(self, _: Request) -> Response:
        """Give the certificate to be trusted."""
        if not self.certificate:
            return PlainTextResponse("nothing to trust: this is plain http", 404)
        return Response(self.certificate, media_type="application/x-x509-ca-cert")

    # ---- For tablets --------------------------------------------------------------------------

    async def sheet(self, _: Request) -> Response:
        """Give what the sheet shows."""
        return Response(self.desk.shown.sheet, media_type="application/json")

    async def events(self, request: Request) -> Response:
        """List what has happened behind a number."""
        events, more = self.desk.after(_number(request.query_params.get("after")))
        return JSONResponse(self._news(events) | {"more": more, "newest": self.desk.seq})

    def _news(self, events: list[dict[str, Any]]) -> dict[str, Any]:
        return {"events": events, "taken": self.desk.taken, "now_ms": round(time.time() * 1000)}

    async def stream(self, request: Request) -> Response:
        """Tell what happens, as it does."""
        if self.streams >= STREAMS:
            return PlainTextResponse("too many are connected", 503)
        return StreamingResponse(self._flow(request), media_type="text/event-stream")

    async def _flow(self, request: Request) -> AsyncIterator[bytes]:
        desk, query = self.desk, request.query_params
        device = query.get("device", "")
        person = clean_text(query.get("person", ""), LABEL_LETTERS)
        at, version = _number(query.get("after")), -1
        self.streams += 1
        try:
            while not desk.over and time.time() < desk.words.until_s:
                if ID.fullmatch(device):
                    desk.heard(device, person, request.state.address)
                events, _ = desk.after(at)
                if events or version != desk.version:
                    version = desk.version
                    at = events[-1]["seq"] if events else at
                    yield b"data: " + json.dumps(self._news(events)).encode() + b"\n\n"
                elif not await desk.wait_for_news(HEARTBEAT_S):
                    yield b": still here\n\n"
        finally:
            self.streams -= 1

    async def add(self, request: Request) -> Response:
        """Record taps."""
        body = await _body(request)
        if self.desk.full:
            return PlainTextResponse("the record of this plan is full", 507)
        taps = read_taps(body, self.desk.shown, time.time())
        person = clean_text(body.get("person"), LABEL_LETTERS)
        self.desk.heard(taps.device, person, request.state.address)
        found = await self.desk.add(taps.events) if taps.events else {}
        kept, refused = {}, dict(taps.refused)
        for name, outcome in found.items():
            if isinstance(outcome, str):
                refused[name] = outcome
            else:
                kept[name] = [outcome[0], round(outcome[1] * 1000)]
        return JSONResponse({"kept": kept, "refused": refused})

    async def take(self, request: Request) -> Response:
        """Let somebody take a stretch."""
        body = await _body(request)
        claim = self._claim(body)
        by = self.desk.take(claim)
        if by is not None:
            return JSONResponse({"taken": self.desk.taken, "by": by}, 409)
        return JSONResponse({"taken": self.desk.taken})

    async def give(self, request: Request) -> Response:
        """Let somebody give a stretch back."""
        body = await _body(request)
        claim = self._claim(body)
        self.desk.give(claim["piece"], claim["copy"], claim["first"], claim["device"])
        return JSONResponse({"taken": self.desk.taken})

    def _claim(self, body: Any) -> dict[str, Any]:
        device = read_device(body)
        names = ("piece", "copy", "first", "steps")
        values = [body.get(name) for name in names]
        pieces = self.desk.shown.pieces
        if not all(type(value) is int and 0 <= value < 10**6 for value in values):
            message = "no such stretch"
            raise NotUsable(message)
        which, copy, first, steps = values
        if which >= len(pieces) or copy >= pieces[which].copies:
            message = "no such piece"
            raise NotUsable(message)
        if not 1 <= steps <= pieces[which].joins - first:
            message = "no such stretch"
            raise NotUsable(message)
        return {
            **dict(zip(names, values, strict=True)), "device": device,
            "person": clean_text(body.get("person"), LABEL_LETTERS),
        }  # fmt: skip

    # ---- For the board, and whoever asks how far it is ----------------------------------------

    async def progress(self, request: Request) -> Response:
        """Say how far the work is; to the board all else that it shows."""
        desk = self.desk
        told = {
            **await desk.progress(),
            "there": desk.there(),
            "taken": desk.taken,
            "twice": desk.twice(),
            "until_ms": round(desk.words.until_s * 1000),
        }
        if request.state.role == BOARD:
            told |= {"plan": dict(desk.shown.board), "code": self.code_svg, "log": self.log[-30:]}
        return JSONResponse(told)

    async def paper(self, request: Request) -> Response:
        """Hand out one of the plan's own files."""
        path = self.desk.shown.files.get(request.path_params["name"])
        if path is None or not path.is_file():
            return PlainTextResponse("no such file of this plan", 404)
        return FileResponse(path, filename=path.name, content_disposition_type="attachment")

    async def release(self, request: Request) -> Response:
        """Take a stretch back from the board."""
        if request.state.role != BOARD:
            return PlainTextResponse("only from the board", 403)
        body = await _body(request)
        known = body if isinstance(body, dict) else {}
        piece, copy, first = (known.get(name) for name in ("piece", "copy", "first"))
        if not (isinstance(piece, int) and isinstance(copy, int) and isinstance(first, int)):
            message = "no such stretch"
            raise NotUsable(message)
        self.desk.give(piece, copy, first, None)
        return JSONResponse({"taken": self.desk.taken})

    async def end(self, request: Request) -> Response:
        """Stop the sharing from the board."""
        if request.state.role != BOARD:
            return PlainTextResponse("only from the board", 403)
        self.desk.words.forget()
        self.desk.tell(f"{request.state.address} stopped the sharing from the board")
        asyncio.get_running_loop().call_later(0.2, self.stop)
        return JSONResponse({"stopped": True})


def build_app(counter: Counter) -> Starlette:
    """Put the routes together; the gate goes before it."""
    routes = [
        Route("/", counter.sheet_page, methods=["GET"]),
        Route("/board", counter.board_page, methods=["GET"]),
        Route("/trust", counter.trust_page, methods=["GET"]),
        Route("/worker.js", counter.worker, methods=["GET"]),
        Route(CERTIFICATE, counter.trust_file, methods=["GET"]),
        Route("/api/sheet", counter.sheet, methods=["GET"]),
        Route("/api/events", counter.events, methods=["GET"]),
        Route("/api/events", counter.add, methods=["POST"]),
        Route("/api/stream", counter.stream, methods=["GET"]),
        Route("/api/take", counter.take, methods=["POST"]),
        Route("/api/give", counter.give, methods=["POST"]),
        Route("/api/release", counter.release, methods=["POST"]),
        Route("/api/stop", counter.end, methods=["POST"]),
        Route("/api/progress", counter.progress, methods=["GET"]),
        Route("/api/file/{name}", counter.paper, methods=["GET"]),
    ]
    return Starlette(
        routes=routes,
        exception_handlers={NotUsable: _bad, InputError: _busy, TooLarge: _large, Exception: _ours},
    )


def _bad(_: Request, error: Exception) -> Response:
    return PlainTextResponse(str(error), 400)


def _large(_: Request, __: Exception) -> Response:
    return PlainTextResponse("too large", 413)


def _busy(_: Request, __: Exception) -> Response:
    return PlainTextResponse("the record cannot be written now", 503)


def _ours(_: Request, __: Exception) -> Response:
    return PlainTextResponse("a fault of this program", 500)


def _number(text: str | None) -> int:
    if text is None or not text.isascii() or not text.isdigit() or len(text) > 15:
        return 0
    return int(text)


async def _body(request: Request) -> Any:
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
        message = "expected JSON"
        raise NotUsable(message)
    try:
        return json.loads(await request.body())
    except _MOST_JSON_DEPTH_ERRORS:
        message = "expected JSON"
        raise NotUsable(message) from None
