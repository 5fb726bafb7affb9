"""Runs the server on addresses of this computer until somebody stops it."""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import socket
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.share.app import Counter, build_app
from chainplan.share.bounds import CONNECTIONS
from chainplan.share.code import code_svg
from chainplan.share.desk import Desk
from chainplan.share.gate import Gate

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from chainplan.share.on_show import Book, OnShow
    from chainplan.share.pass_words import PassWords

HERE = "127.0.0.1"
NAMES = ("localhost",)
"""Names under which this computer is asked for beside its addresses; any other is refused."""


@frozen
class Listening:
    """Where a sharing is reached."""

    url: str  # of the bench sheet, with the tablets' token
    board: str  # of the board, with its own
    api: str
    token: str  # the tablets'
    trust: str  # page that explains trusting the certificate; "" over plain http
    lan: bool


@dataclass(frozen=True, slots=True)
class Certified:
    """A key and a certificate of this computer, and the one to be trusted."""

    chain: Path
    key: Path
    root: bytes


def lan_address() -> str:
    """Find this computer's address on its network; nothing is sent for that.

    Raises
    ------
    InputError
        If it has none.
    """
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address that belongs to nobody (RFC 5737)
            found = str(probe.getsockname()[0])
        except OSError:
            found = HERE
    if ipaddress.ip_address(found).is_loopback:
        message = "this computer is on no network: leave --lan away, or connect it"
        raise InputError(message)
    return found


def listen_on(address: str, port: int) -> socket.socket:
    """Open a socket for a server.

    Raises
    ------
    InputError
        If the port is taken or not allowed.
    """
    opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        opened.bind((address, port))
    except OSError as error:
        opened.close()
        message = (
            f"port {port} of {address} cannot be used ({error.strerror}); name another: --port"
        )
        raise InputError(message) from None
    return opened


def serve(
    shown: OnShow,
    words: PassWords,
    open_book: Callable[[], Book],
    *,
    address: str,
    port: int,
    certified: Certified | None,
    on_listening: Callable[[Listening], None],
    on_visit: Callable[[str], None],
) -> None:
    """Share a plan until it is stopped by the board or by a signal.

    Parameters
    ----------
    shown, words
        What is shared, and who may see it.
    open_book : callable
        Opens the record, in the thread that will use it.
    address, port
        Where to listen; this computer itself is always served too. Port 0 takes a free one.
    certified : Certified, optional
        For https.
    on_listening, on_visit : callable
        Told where it is reached, as soon as it is, and line by line who came.
    """
    import uvicorn

    main = listen_on(address, port)
    port = int(main.getsockname()[1])
    sockets = [main] if address == HERE else [main, listen_on(HERE, port)]
    scheme = "https" if certified else "http"
    hosts = {f"{name}:{port}" for name in (address, HERE, *NAMES)}
    base = f"{scheme}://{address}:{port}"
    where = Listening(
        url=f"{base}/#{words.bench}", board=f"{base}/board#{words.board}", api=f"{base}/api",
        token=words.bench, trust=f"{base}/trust" if certified else "", lan=address != HERE,
    )  # fmt: skip

    async def run() -> None:
        lines: list[Counter] = []

        def tell(line: str) -> None:
            on_visit(line)
            for one in lines:
                one.note(line)

        desk = Desk(shown, words, open_book, tell)
        counter = Counter(
            desk, code_svg=code_svg(where.url), certificate=certified.root if certified else b"",
            stop=lambda: setattr(server, "should_exit", True),
        )  # fmt: skip
        lines.append(counter)
        pages = {
            "/": shown.sheet_page,
            "/board": shown.board_page,
            "/trust": shown.trust_page,
            "/worker.js": shown.worker,
        }
        gate = Gate(
            build_app(counter), frozenset(host.encode() for host in hosts), scheme.encode(), words,
            {path: page.policy for path, page in pages.items()}, tell,
        )  # fmt: skip
        config = uvicorn.Config(
            gate, lifespan="off", ws="none", proxy_headers=False, server_header=False,
            date_header=False, log_config=None, access_log=False, timeout_graceful_shutdown=3,
            timeout_keep_alive=30, limit_concurrency=CONNECTIONS,
            h11_max_incomplete_event_size=32768,
            ssl_certfile=str(certified.chain) if certified else None,
            ssl_keyfile=str(certified.key) if certified else None,
        )  # fmt: skip
        server = uvicorn.Server(config)
        await desk.open()
        serving = asyncio.create_task(server.serve(sockets=sockets))
        watching = asyncio.create_task(desk.watch())
        try:
            while not server.started and not serving.done():
                await asyncio.sleep(0.01)
            if server.started:
                on_listening(where)
            ending = asyncio.create_task(_end_streams(server, desk))
            await serving
            await ending
        finally:
            watching.cancel()
            await desk.close()

    asyncio.run(run())


async def _end_streams(server: object, desk: Desk) -> None:
    """Let streams end as soon as the server is to stop: they would keep it waiting."""
    while not getattr(server, "should_exit", True):
        await asyncio.sleep(0.1)
    desk.end()
