"""Who asks too much is refused, and everybody else is served on: real processes, real bounds."""

from __future__ import annotations

import contextlib
import http.client
import json
import sys
import time
from typing import TYPE_CHECKING

import pytest
from at_bench import wait_until
from at_share import Server, batch, device, tap

from chainplan.share.bounds import (
    EVENTS_A_JOIN,
    EVENTS_MORE,
    REQUESTS_A_S,
    REQUESTS_AT_ONCE,
    STREAMS,
    TAPS_AT_ONCE,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

JOINS = 50
TABLETS, TAPS_A_S = 20, 2


@pytest.fixture
def slow_to_forgive(folder: Path) -> Iterator[Server]:
    """A server that forgets requests slowly, so that a busy machine can exceed the bound too."""
    server = Server(folder)
    script = (
        "import sys, chainplan.share.gate as g; g.REQUESTS_A_S = 2.0;"
        "from chainplan.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    server.command = [sys.executable, "-c", script]
    yield server.start()
    server.stop()


def _link(server: Server, source: str) -> http.client.HTTPConnection:
    """A connection from one of this computer's own addresses, each of which counts by itself."""
    return http.client.HTTPConnection(
        "127.0.0.1", server.port, timeout=60, source_address=(source, 0)
    )


def _get(link: http.client.HTTPConnection, server: Server, path: str = "/api/progress") -> int:
    link.request("GET", path, headers={"Authorization": f"Bearer {server.told['token']}",
                                       "Host": f"127.0.0.1:{server.port}"})  # fmt: skip
    answer = link.getresponse()
    answer.read()
    return answer.status


def test_who_asks_too_often_waits_and_the_others_do_not(slow_to_forgive: Server) -> None:
    """Refused with 429 at the bound, by address; what was sent before is all in the record."""
    server = slow_to_forgive
    with contextlib.closing(_link(server, "127.0.0.2")) as hasty:
        status = [_get(hasty, server, "/") for _ in range(REQUESTS_AT_ONCE + 100)]
        refused = status.index(429)
        assert refused >= REQUESTS_AT_ONCE - 1
        assert set(status[:refused]) == {200}
        assert status.count(429) > 10
        with contextlib.closing(_link(server, "127.0.0.1")) as honest:
            assert _get(honest, server) == 200
        assert server.ask("/api/events", batch(tap(3)))[0] == 200
        wait_until(lambda: _get(hasty, server) == 200)  # forgiven after a while
    assert len(server.rows()) == 1


def test_twenty_tablets_behind_one_address_are_far_below_the_bound(server: Server) -> None:
    """Two taps a second each, sent one by one as fast as the server takes them: none refused."""
    assert 2 * TABLETS * TAPS_A_S < REQUESTS_A_S
    who = [device() for _ in range(TABLETS)]
    with contextlib.closing(_link(server, "127.0.0.1")) as link:
        for k in range(TABLETS * TAPS_A_S * 3):
            body = json.dumps(batch(tap(k % 25 + 1, "note", note=f"n{k}"), who=who[k % TABLETS]))
            link.request("POST", "/api/events", body, {
                "Authorization": f"Bearer {server.told['token']}",
                "Host": f"127.0.0.1:{server.port}", "Origin": f"http://127.0.0.1:{server.port}",
                "Content-Type": "application/json",
            })  # fmt: skip
            answer = link.getresponse()
            assert answer.status == 200
            assert len(json.loads(answer.read())["kept"]) == 1
    assert len(server.rows()) == TABLETS * TAPS_A_S * 3


def test_more_streams_than_a_workshop_has_are_refused_and_taps_are_taken(server: Server) -> None:
    """The sheet then asks instead; one stream that ends makes room for another."""
    head = {"Authorization": f"Bearer {server.told['token']}", "Host": f"127.0.0.1:{server.port}"}
    with contextlib.ExitStack() as held:

        def stream() -> tuple[int, contextlib.ExitStack]:
            line = held.enter_context(contextlib.ExitStack())
            link = line.enter_context(contextlib.closing(_link(server, "127.0.0.1")))
            link.request("GET", f"/api/stream?device={device()}&after=-1", headers=head)
            answer = link.getresponse()
            line.callback(answer.close)
            return answer.status, line

        opened = [stream() for _ in range(STREAMS)]
        assert {status for status, _ in opened} == {200}
        assert stream()[0] == 503
        status, told, _ = server.ask("/api/events", batch(tap(4)))
        assert (status, len(told["kept"])) == (200, 1), told
        wait_until(lambda: len(server.ask("/api/events?after=-1")[1]["events"]) == 1)
        opened[0][1].close()
        wait_until(lambda: stream()[0] == 200)


def test_a_record_that_is_full_takes_no_more_and_goes_on_telling(server: Server) -> None:
    """Beyond fifty events a join and some more, a joke: refused with 507, nothing is lost."""
    most = EVENTS_A_JOIN * JOINS + EVENTS_MORE
    sent, status, began = 0, 200, time.monotonic()
    while status == 200:
        notes = [tap(k % 25 + 1, "note", note="x") for k in range(TAPS_AT_ONCE)]
        status, told, _ = server.ask("/api/events", batch(*notes))
        sent += len(told["kept"]) if status == 200 else 0
        assert sent <= most + 2 * TAPS_AT_ONCE, time.monotonic() - began
    assert status == 507
    assert sent > most
    assert len(server.rows("SELECT seq FROM event_now")) == sent
    assert server.ask("/api/progress")[0] == 200
    assert server.ask("/api/events?after=-1")[0] == 200
