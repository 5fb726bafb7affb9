"""What is tried against the server, and that none of it works; and what honest tablets may do."""

from __future__ import annotations

import json
import socket
import ssl
import stat
import subprocess
import sys
import time
from typing import TYPE_CHECKING, Any

import pytest
from at_bench import wait_until
from at_share import Server, batch, device, free_port, tap

from chainplan.share.bounds import BODY_BYTES, TAPS_AT_ONCE, WRONG_A_MIN
from chainplan.share.pass_words import NAME, PassWords

if TYPE_CHECKING:
    from pathlib import Path


def test_progress_is_told_with_the_token_and_401_without(server: Server) -> None:
    assert set(server.told) == {"url", "token", "api", "board"}
    assert server.told["url"] == f"http://127.0.0.1:{server.port}/#{server.told['token']}"
    assert server.told["api"] == f"http://127.0.0.1:{server.port}/api"
    status, told, _ = server.ask("/api/progress")
    assert status == 200
    assert [piece["joins"] for piece in told["pieces"]] == [25, 25]
    assert server.ask("/api/progress", token=None)[0] == 401


@pytest.mark.parametrize(
    "path",
    [
        "/api/progress",
        "/api/sheet",
        "/api/events",
        "/api/stream",
        "/api/file/plan.xlsx",
        "/nothing",
    ],
)
def test_nothing_is_told_without_the_token(server: Server, path: str) -> None:
    for token in (None, "wrong", server.told["token"][:-1], server.told["token"] + "x", "é" * 20):
        status, told, _ = server.ask(path, token=token, headers=_header(token))
        assert status == 401
        assert b"ring" not in told


def _header(token: str | None) -> dict[str, str] | None:
    """A token beyond ASCII, as bytes that a header can hold."""
    if token is None or token.isascii():
        return None
    return {"Authorization": "Bearer " + token.encode().decode("latin-1")}


def test_the_token_counts_in_the_header_alone(server: Server) -> None:
    """Not in the address, where histories and logs keep it, and not as a cookie."""
    token = server.told["token"]
    for path, headers in (
        (f"/api/progress?token={token}", {}),
        (f"/api/progress?access_token={token}", {}),
        ("/api/progress", {"Cookie": f"token={token}"}),
        ("/api/progress", {"Authorization": token}),
        ("/api/progress", {"Authorization": f"Basic {token}"}),
    ):
        assert server.ask(path, token=None, headers=headers)[0] == 401


def test_guessing_tokens_is_stopped(server: Server) -> None:
    """After a dozen wrong ones an address waits; the right token still works."""
    found = [server.ask("/api/progress", token=f"guess{n}")[0] for n in range(WRONG_A_MIN + 3)]
    assert found == [401] * WRONG_A_MIN + [429] * 3
    assert server.ask("/api/progress")[0] == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.test", "evil.test:{port}", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.test:{port}",
        "[::1]:{port}", "[::1]evil:{port}", "localhost", "127.0.0.1:{port}.evil.test", "",
    ],
)  # fmt: skip
def test_other_names_for_this_computer_are_refused(still: Server, host: str) -> None:
    """A name that somebody made point here (DNS rebinding) is not ours, token or not."""
    headers = {"Host": host.format(port=still.port)}
    assert still.ask("/api/progress", headers=headers)[0] in (400, 421)
    assert still.ask("/", headers=headers)[0] in (400, 421)


def test_two_hosts_in_one_request_are_refused(still: Server) -> None:
    with socket.create_connection(("127.0.0.1", still.port), timeout=30) as link:
        link.sendall(
            f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{still.port}\r\nHost: evil.test\r\n\r\n".encode()
        )
        assert link.recv(100).split()[1] in (b"400", b"421")


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.test"}, {"Origin": "null"}, {"Origin": "https://127.0.0.1:{port}"},
        {"Origin": "http://localhost:{port}"}, {"Origin": "http://127.0.0.1:{port}.evil.test"},
        {"Origin": "http://127.0.0.1:1"}, {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)  # fmt: skip
def test_other_pages_cannot_send_taps(still: Server, headers: dict[str, str]) -> None:
    filled = {name: value.format(port=still.port) for name, value in headers.items()}
    assert still.ask("/api/events", batch(tap(1)), headers=filled)[0] == 403
    assert still.rows() == []


def test_a_form_of_another_page_cannot_send_taps(still: Server) -> None:
    """What a page may send without asking: no origin, or a form's kind of body."""
    body = json.dumps(batch(tap(1))).encode()
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        assert still.ask("/api/events", raw=body, headers={"Content-Type": kind})[0] == 400
    assert still.rows() == []


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE", "PATCH", "CONNECT"])
def test_other_methods_are_refused(still: Server, method: str) -> None:
    assert still.ask("/api/events", method=method)[0] in (400, 404, 405)


@pytest.mark.parametrize(
    "name",
    [
        "plan.json", NAME, "..%2Fworkshop.sqlite", "../workshop.sqlite", "%2e%2e/workshop.sqlite",
        "....//workshop.sqlite", "charts", "charts/heat.png", "/etc/passwd", "%2Fetc%2Fpasswd",
        "plan.xlsx%00.html", "PLAN.XLSX", ".", "", "plan.xlsx/", "C:%5Cplan.xlsx",
    ],
)  # fmt: skip
def test_nothing_but_the_plan_s_papers_is_handed_out(still: Server, name: str) -> None:
    assert still.ask(f"/api/file/{name}")[0] in (404, 307, 405)


def test_papers_are_handed_out_whole(still: Server) -> None:
    for name in ("weld-order.pdf", "plan.xlsx", "weld-order.csv"):
        status, told, headers = still.ask(f"/api/file/{name}")
        assert status == 200
        assert told == (still.folder / name).read_bytes()
        assert headers["content-disposition"].startswith("attachment")


@pytest.mark.parametrize(
    "path", ["/", "/board", "/api/progress", "/nothing", "/api/file/plan.xlsx"]
)
def test_every_answer_is_bound_by_a_strict_policy(server: Server, path: str) -> None:
    """Also those that refuse: scripts by their hash alone, no frames, no sniffing, no referrer."""
    for token in ("", None):
        _, told, headers = server.ask(path, token=token)
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'")
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert "*" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"
        assert "server" not in headers
        if path in ("/", "/board"):
            for secret in (server.told["token"], server.board_token, "Invented chain"):
                assert secret.encode() not in told


def test_bodies_are_bounded(server: Server) -> None:
    """By what their header says, and by what comes when it says nothing."""
    assert server.ask("/api/events", raw=b"[" * (BODY_BYTES + 1))[0] == 413
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as link:
        link.sendall(
            f"POST /api/events HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
            f"Origin: http://127.0.0.1:{server.port}\r\nContent-Type: application/json\r\n"
            f"Authorization: Bearer {server.told['token']}\r\n"
            "Transfer-Encoding: chunked\r\n\r\n".encode()
        )
        part = b"x" * 60_000
        try:
            for _ in range(8):
                link.sendall(f"{len(part):x}\r\n".encode() + part + b"\r\n")
            link.sendall(b"0\r\n\r\n")
        except OSError:
            pass  # it was closed before all had come
        else:
            assert link.recv(100).split()[1] in (b"413", b"500")
    assert server.rows() == []


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{", b"null", b"[]", b'"text"', b"[" * 50_000, b'{"events": 3}', b"\xff\xfe",
        b'{"device": "x", "events": [], "now_ms": 1}', b'{"now_ms": NaN}', b"1e999",
    ],
)  # fmt: skip
def test_broken_bodies_are_refused(still: Server, body: bytes) -> None:
    assert still.ask("/api/events", raw=body)[0] == 400
    assert still.ask("/api/take", raw=body)[0] == 400
    assert still.ask("/api/progress")[0] == 200


def test_too_many_taps_at_once_are_refused(still: Server) -> None:
    taps = [{"id": device()} for _ in range(TAPS_AT_ONCE + 1)]
    assert still.ask("/api/events", batch(*taps))[0] == 400


BAD: list[dict[str, Any]] = [
    {"result": "opened"}, {"result": "new cylinder"}, {"result": 7}, {"piece": "another"},
    {"piece": None}, {"copy": 3}, {"copy": 0}, {"copy": True}, {"copy": "1"}, {"ring": 26},
    {"ring": 0}, {"ring": 1.5}, {"ring": 10**30}, {"undoes": device()}, {"result": "undo"},
    {"result": "undo", "undoes": "'; DROP TABLE event; --"}, {"result": "undo", "undoes": device()},
    {"result": "note"},
]  # fmt: skip


def test_taps_that_fit_no_join_are_refused_and_the_others_kept(server: Server) -> None:
    good = tap(1)
    bad = [{**tap(2), **change} for change in BAD]
    status, told, _ = server.ask("/api/events", batch(good, *bad))
    assert status == 200
    assert set(told["kept"]) == {good["id"]}
    assert set(told["refused"]) == {one["id"] for one in bad}
    assert len(server.rows()) == 1


def test_texts_are_cut_and_cleaned(server: Server) -> None:
    """Notes and labels: no control characters, no endless ones; numbers that are none are left."""
    odd = tap(
        1, note="a\x00b\u2028c" + "x" * 9000, person="\x1b[31mred\n" + "y" * 900, work_s="NaN",
        waited_s=-5, ms="yesterday",
    )  # fmt: skip
    huge = tap(2, work_s=10**400, waited_s=1e308, ms=-(10**400))
    assert server.ask("/api/events", batch(huge))[1]["refused"] == {}
    assert server.ask("/api/events", batch(tap(3), now_ms=10**400))[0] == 400
    assert server.ask("/api/events", batch(odd))[1]["refused"] == {}
    ((note, person, work_s, waited_s),) = server.rows(
        "SELECT note, person, work_s, waited_s FROM event WHERE ring = 1"
    )
    assert len(note) == 500
    assert len(person) == 60
    assert not any(ord(letter) < 32 for letter in note + person)
    assert (work_s, waited_s) == (None, None)
    assert "\x1b" not in server.log.read_text()


def test_each_tap_counts_once_however_often_it_comes(server: Server) -> None:
    """The same request again, and the same tap in another request at another time."""
    one = batch(tap(1), tap(2))
    first = server.ask("/api/events", one)[1]["kept"]
    later = batch(one["events"][0], tap(3), who=one["device"], now_ms=time.time() * 1000 + 5000)
    assert server.ask("/api/events", one)[1]["kept"] == first
    assert (
        server.ask("/api/events", later)[1]["kept"].items()
        >= {one["events"][0]["id"]: first[one["events"][0]["id"]]}.items()
    )
    assert len(server.rows()) == 3


def test_an_id_of_another_event_changes_nothing(server: Server) -> None:
    """Who sends another tap under a known id gets the known one back."""
    one = tap(1)
    kept = server.ask("/api/events", batch(one))[1]["kept"]
    assert server.ask("/api/events", batch({**one, "ring": 9}))[1]["kept"] == kept
    assert server.rows("SELECT ring FROM event") == [(1,)]


def test_a_clock_that_is_wrong_does_no_harm(server: Server) -> None:
    """A tablet an hour ahead: its tap is put at the time at which it was made."""
    ahead_ms = (time.time() + 3600) * 1000
    server.ask("/api/events", batch(tap(1, ms=ahead_ms - 20_000), now_ms=ahead_ms))
    ((at_s, source),) = server.rows("SELECT at_s, source FROM event")
    assert abs(at_s - (time.time() - 20)) < 10
    assert "its clock +3600 s" in source


def test_only_the_board_may_release_and_stop(server: Server) -> None:
    one = device()
    stretch = {"piece": 0, "copy": 0, "first": 0, "steps": 5}
    assert server.ask("/api/take", {**stretch, "device": one, "person": "A"})[0] == 200
    assert server.ask("/api/release", stretch)[0] == 403
    assert server.ask("/api/stop", {})[0] == 403
    other = {**stretch, "first": 3, "device": device(), "person": "B"}
    status, told, _ = server.ask("/api/take", other)
    assert (status, told["by"]) == (409, "A")
    server.ask("/api/give", {**stretch, "device": other["device"]})
    assert len(server.ask("/api/progress")[1]["taken"]) == 1
    released = server.ask("/api/release", stretch, token=server.board_token)
    assert released[1]["taken"] == []
    assert server.ask("/api/take", other)[0] == 200
    assert "log" not in server.ask("/api/progress")[1]
    assert "log" in server.ask("/api/progress", token=server.board_token)[1]


@pytest.mark.parametrize(
    "change",
    [{"piece": 1}, {"piece": -1}, {"copy": 2}, {"first": 25}, {"steps": 0}, {"steps": 26},
     {"steps": 10**9}, {"first": "0"}, {"piece": None}, {"device": "me"}],
)  # fmt: skip
def test_stretches_that_do_not_exist_cannot_be_taken(still: Server, change: dict[str, Any]) -> None:
    stretch = {"piece": 0, "copy": 0, "first": 0, "steps": 5, "device": device(), "person": "A"}
    assert still.ask("/api/take", {**stretch, **change})[0] == 400


def test_stopping_from_the_board_ends_it_and_the_words_are_worthless(server: Server) -> None:
    old = server.told["token"]
    assert server.ask("/api/stop", {}, token=server.board_token)[0] == 200
    assert server.process is not None
    assert server.process.wait(30) == 0
    assert not (server.folder / NAME).exists()
    again = Server(server.folder, port=server.port).start()
    try:
        assert again.told["token"] != old
        assert again.ask("/api/progress", token=old)[0] == 401
    finally:
        again.stop()


def test_ctrl_c_ends_it_quietly_while_somebody_listens(server: Server) -> None:
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as link:
        link.sendall(
            f"GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
            f"Authorization: Bearer {server.told['token']}\r\n\r\n".encode()
        )
        assert link.recv(1000)
        assert server.stop() == 0
    assert "Traceback" not in server.log.read_text()


def test_old_words_are_drawn_anew(tmp_path: Path) -> None:
    """A day later, or for another plan; kept where only their user can read them."""
    place = tmp_path / NAME
    words = PassWords.open(place, "plan")
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert PassWords.open(place, "plan").bench == words.bench
    assert PassWords.open(place, "other").bench != words.bench
    words.until_s = time.time() - 1
    words.keep()
    assert words.role(b"Bearer " + words.bench.encode()) == ""
    assert PassWords.open(place, "plan").bench != words.bench
    place.write_text("{", encoding="utf-8")
    assert PassWords.open(place, "plan").role(b"Bearer ") == ""


def test_the_log_says_who_came_and_no_secret(server: Server) -> None:
    server.ask("/api/progress")
    server.ask("/api/progress", token="wrong-secret-guess")
    server.ask("/api/events", {**batch(tap(1)), "person": "Ann"})
    wait_until(lambda: "works as 'Ann'" in server.log.read_text())
    told = server.log.read_text()
    assert "127.0.0.1 opened the bench sheet" in told
    assert "127.0.0.1 came with a wrong or old token" in told
    for secret in (server.told["token"], server.board_token, "wrong-secret-guess"):
        assert secret not in told


def test_only_this_computer_is_served_unless_told_otherwise(server: Server) -> None:
    """Other addresses of this very computer do not answer."""
    with (
        pytest.raises(ConnectionRefusedError),
        socket.create_connection(("127.0.0.2", server.port), timeout=5),
    ):
        pass


def test_lan_says_what_it_means_before_it_opens_anything(folder: Path) -> None:
    command = [sys.executable, "-m", "chainplan", "share", str(folder), "--lan", "--json",
               "--port", str(free_port())]  # fmt: skip
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert process.stderr is not None
        said = process.stderr.readline() + process.stderr.readline() + process.stderr.readline()
        assert "opens this plan to the network" in said
        assert "until you stop" in said
    finally:
        process.kill()
        process.communicate()


def test_https_is_trusted_by_who_trusts_the_root_alone(folder: Path) -> None:
    """The certificate is for this address, the root for private networks only, its key hidden."""
    server = Server(folder, "--https").start()
    try:
        assert server.told["url"].startswith("https://127.0.0.1:")
        place = folder.parent / ".workshop-certificate"
        assert stat.S_IMODE((place / "root.key").stat().st_mode) == 0o600
        trusting = ssl.create_default_context(cafile=str(place / "root.pem"))
        with (
            socket.create_connection(("127.0.0.1", server.port), timeout=30) as link,
            trusting.wrap_socket(link, server_hostname="127.0.0.1") as secure,
        ):
            secure.sendall(f"GET /trust HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n".encode())
            assert b"200 OK" in secure.recv(100)
        wary = ssl.create_default_context()
        with (
            pytest.raises(ssl.SSLError),
            socket.create_connection(("127.0.0.1", server.port), timeout=30) as link,
        ):
            wary.wrap_socket(link, server_hostname="127.0.0.1")
    finally:
        server.stop()


def test_faults_of_the_user_are_told_in_one_message(tmp_path: Path, folder: Path) -> None:
    """No plan, a port that is taken, a record that is none."""
    empty = tmp_path / "empty"
    empty.mkdir()
    record = tmp_path / "record.sqlite"
    record.write_text("no record", encoding="utf-8")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        for options, said in (
            ([str(empty)], "holds no plan"),
            ([str(folder), "--port", port], f"port {port} of 127.0.0.1 cannot be used"),
            ([str(folder), "--port", "0", "--record", str(record)], "is no record of a workshop"),
        ):
            done = subprocess.run(
                [sys.executable, "-m", "chainplan", "share", *options], capture_output=True,
                text=True, timeout=60, check=False,
            )  # fmt: skip
            assert done.returncode == 2, done.stderr
            assert said in done.stderr
            assert "Traceback" not in done.stderr
