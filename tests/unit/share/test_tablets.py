"""Tablets that share a plan: real browsers, a real server, cut lines, wrong clocks, power cuts."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING, Any

import pytest
from at_bench import Bench, axe_findings, fetch_axe, start_chromium, wait_until
from at_share import Server, Tablet, batch, tap

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

HOUR_MS = 3_600_000


@pytest.fixture
def folder(folder: Path) -> Path:
    """The plan's folder, its sheet without what keeps quick hands back: tests are quicker."""
    page = folder / "bench-sheet.html"
    text = page.read_text(encoding="utf-8")
    for name in ("guard_ms", "faster_share", "skipped_s"):
        text, found = re.subn(rf'"{name}":[\d.]+', f'"{name}":0', text)
        assert found == 1
    text = re.sub(r'"wait":\[[\d,]*\]', lambda m: re.sub(r"\d+", "0", m.group()), text)
    page.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def browsers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Any, Any]]:
    """Two browsers that know nothing of each other."""
    both = [start_chromium(tmp_path_factory.mktemp("downloads")) for _ in range(2)]
    yield both[0], both[1]
    for one in both:
        one.quit()


@pytest.fixture
def tablets(
    browsers: tuple[Any, Any], folder: Path, server: Server
) -> Iterator[tuple[Tablet, Tablet]]:
    """Ann and Ben at one plan."""
    ann, ben = (Tablet(browser, folder) for browser in browsers)
    for tablet, label in ((ann, "Ann"), (ben, "Ben")):
        tablet.problems()  # what the last test left
        tablet.join(server.told["url"], label)
    yield ann, ben
    for tablet in (ann, ben):
        tablet.cut(off=False)


def test_two_tablets_on_one_piece_see_each_other_s_ticks(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """In turns through clicks; whoever looks sees the sum, and the record has each once."""
    ann, ben = tablets
    for joins in (1, 2, 1):
        for mine, other in ((ann, ben), (ben, ann)):
            mine.weld(joins)
            wait_until(lambda mine=mine, other=other: other.count() == mine.count())
            assert other.text("title") == mine.text("title")
    assert ann.count() == 8
    ann.settled()
    ben.settled()
    rows = server.rows("SELECT person, ring FROM event_now ORDER BY seq")
    assert len({ring for _, ring in rows}) == len(rows) == 8
    assert "".join(person[0] for person, _ in rows) == "ABAABBAB"
    ben.tap("undo")
    wait_until(lambda: ann.count() == 7)
    assert ann.problems() == ben.problems() == []


def test_a_piece_is_taken_and_given_back(tablets: tuple[Tablet, Tablet], server: Server) -> None:
    """Who takes a copy works there; the other one's sheet goes elsewhere and says whose it is."""
    ann, ben = tablets
    assert ann.text("piece") == "Invented chain, copy 1 of 2"
    press(ann, "Take: Invented chain, copy 1 of 2")
    ann.close("passes")
    wait_until(lambda: ben.text("piece") == "Invented chain, copy 2 of 2")
    ben.tap("open-passes")
    assert "taken by Ann" in ben.text("pass-list")
    press(ben, "Go there: pass 1 of Invented chain, copy 1 of 2", open_first=False)
    assert "Ann has taken this stretch" in ben.text("sure-text")
    ben.tap("sure-no")
    ann.weld(2)
    ben.weld(1)
    wait_until(lambda: ann.count() == ben.count() == 3)
    assert server.rows("SELECT DISTINCT person, copy FROM event ORDER BY person") == [
        ("Ann", 1), ("Ben", 2),
    ]  # fmt: skip
    server.kill()
    server.start()
    press(ann, "Give back: Invented chain, copy 1 of 2")
    wait_until(lambda: "Take" in ann.text("pass-list"))
    ann.close("passes")
    wait_until(lambda: ben.text("piece") == "Invented chain, copy 1 of 2")


def press(tablet: Tablet, label: str, *, open_first: bool = True) -> None:
    """Press a button of the list of passes by its name."""
    if open_first:
        tablet.tap("open-passes")
    button = tablet.browser.find_element("css selector", f'#pass-list button[aria-label="{label}"]')
    tablet.browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
    button.click()


def test_the_server_is_killed_in_the_middle_and_nothing_is_lost(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """Power cut, work goes on, start again: open pages find it and hand over, each tap once."""
    ann, ben = tablets
    ann.weld(3)
    wait_until(lambda: ben.count() == 3)
    server.kill()
    ann.weld(4)
    wait_until(lambda: "4 taps wait here" in ann.text("link"))
    assert ben.count() == 3
    server.start()
    ann.settled()
    wait_until(lambda: ben.count() == 7)
    rings = [ring for (ring,) in server.rows("SELECT ring FROM event_now")]
    assert len(set(rings)) == len(rings) == 7


def test_a_tablet_without_network_goes_on_and_hands_over_later(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """Both weld while one is cut off; together again both know all, in the right order."""
    ann, ben = tablets
    press(ben, "Take: Invented chain, copy 2 of 2")
    ben.close("passes")
    ben.cut(off=True)
    ben.weld(3)
    ann.weld(2)
    wait_until(lambda: "no contact" in ben.text("link"))
    assert len(server.rows()) == 2
    ben.cut(off=False)
    ben.settled()
    wait_until(lambda: ann.count() == ben.count() == 5)
    assert len(server.rows()) == 5


def test_taps_of_a_page_that_was_closed_without_network_are_not_lost(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """The server is gone, the page is closed; opened again it hands over what it kept."""
    ann, ben = tablets
    server.kill()
    ann.weld(2)
    wait_until(lambda: "2 taps wait here" in ann.text("link"))
    ann.browser.get("about:blank")
    server.start()
    ann.browser.get(server.told["url"])
    wait_until(lambda: ann.shown("link"))
    ann.settled()
    assert ann.count() == 2
    wait_until(lambda: ben.count() == 2)
    assert len(server.rows()) == 2


def test_over_a_secure_link_the_sheet_opens_without_the_computer(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """This computer's own address counts as secure: page, plan and ticks are all kept here."""
    ann, ben = tablets
    ann.weld(2)
    ann.settled()
    wait_until(lambda: "opens without that computer" in ann.text("link-kind"))
    server.kill()
    ann.browser.refresh()
    wait_until(lambda: ann.shown("link") and ann.count() == 2)
    ann.weld(1)
    wait_until(lambda: "1 tap waits here" in ann.text("link"))
    server.start()
    ann.settled()
    wait_until(lambda: ben.count() == 3)
    assert len(server.rows()) == 3


def test_a_join_welded_twice_is_shown_as_such(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """Both were without network and welded the same join: nobody's tick is lost, all are told."""
    ann, ben = tablets
    for tablet in tablets:
        tablet.cut(off=True)
    ann.weld(1)
    ben.weld(1)
    for tablet in tablets:
        tablet.cut(off=False)
    for tablet in tablets:
        wait_until(lambda tablet=tablet: tablet.shown("twice"))
        assert "Welded twice: ring" in tablet.text("twice")
        assert "Ann" in tablet.text("twice")
        assert "Ben" in tablet.text("twice")
    assert len(server.rows()) == 2
    told = server.ask("/api/progress")[1]
    assert [sorted(one["people"]) for one in told["twice"]] == [["Ann", "Ben"]]
    ben.tap("undo")
    wait_until(lambda: not ann.shown("twice"))
    assert ann.count() == 1


def test_a_tablet_s_clock_that_is_wrong_by_an_hour_does_no_harm(
    browsers: tuple[Any, Any], folder: Path, server: Server
) -> None:
    """An hour ahead: times in the record are right, and what is said last counts last."""
    script = browsers[0].execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument",
        {"source": f"const real = Date.now; Date.now = () => real() + {HOUR_MS};"},
    )
    try:
        ann = Tablet(browsers[0], folder).join(server.told["url"], "Ann")
        ben = Tablet(browsers[1], folder).join(server.told["url"], "Ben")
        ann.weld(2)
        wait_until(lambda: ben.count() == 2)
        ring = server.rows("SELECT ring FROM event ORDER BY seq")[0][0]
        ben.tap("open-passes")
        ben.browser.find_element("id", "jump-ring").send_keys(str(ring))
        ben.tap("jump-go")
        ben.tap("reopen-bad")
        wait_until(lambda: ann.count() == 1)
        assert ann.text("title") == ben.text("title")
        times = [at for (at,) in server.rows("SELECT at_s FROM event ORDER BY seq")]
        assert times == sorted(times)
        assert times[-1] - times[0] < 600
    finally:
        browsers[0].execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", script)


def test_where_no_stream_comes_through_asking_does_as_well(
    browsers: tuple[Any, Any], folder: Path, server: Server
) -> None:
    """Something between that holds streams back: the sheet asks, and still sees the others."""
    script = browsers[0].execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument",
        {
            "source": "const all = window.fetch; window.fetch = (to, ...more) => "
            "String(to).includes('/api/stream') ? Promise.reject(new TypeError('held back'))"
            " : all(to, ...more);"
        },
    )
    try:
        ann = Tablet(browsers[0], folder).join(server.told["url"], "Ann")
        server.ask("/api/events", batch(tap(1), tap(2)))
        wait_until(lambda: ann.count() == 2)
    finally:
        browsers[0].execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", script)


def test_what_another_program_records_is_seen_too(
    tablets: tuple[Tablet, Tablet], server: Server
) -> None:
    """``chainplan record`` beside the server: the same record, the same sheets."""
    import chainplan

    log = server.folder.parent / "log.csv"
    log.write_text(
        "result,at,piece,copy,ring\ndone,2027-03-01 14:05,Invented chain,1,1\n", encoding="utf-8"
    )
    done = chainplan.record_logs([log], server.folder)
    assert done.faults == ()
    for tablet in tablets:
        wait_until(lambda tablet=tablet: tablet.count() == 1)


def test_the_token_is_nowhere_to_be_seen(tablets: tuple[Tablet, Tablet], server: Server) -> None:
    """Not in the address after opening, nor in what the browser sent but as a header."""
    ann, _ = tablets
    assert ann.browser.current_url == f"http://127.0.0.1:{server.port}/"
    ann.browser.refresh()
    wait_until(lambda: ann.shown("link"))
    for entry in ann.browser.get_log("performance"):
        found = re.findall(r'"url":"([^"]*)"', entry["message"])
        assert not [url for url in found if server.told["token"] in url.split("#")[0]]


def test_without_the_token_the_page_says_what_to_do(
    browsers: tuple[Any, Any], folder: Path, server: Server
) -> None:
    for url in (
        f"http://127.0.0.1:{server.port}/#wrong",
        f"http://127.0.0.1:{server.port}/board#no",
    ):
        browsers[0].get("about:blank")
        browsers[0].get(url)
        wait_until(lambda: browsers[0].find_element("id", "no-entry").is_displayed())
    browsers[0].execute_script("sessionStorage.clear(); localStorage.clear()")


def test_plain_http_under_a_name_is_no_secure_context_and_works_all_the_same(
    folder: Path, tmp_path: Path
) -> None:
    """As on a network: no wake lock, no random ids of the browser's own; the sheet says so."""
    server = Server(folder)
    script = (
        "import sys, chainplan.share.serving as s; s.NAMES += ('bench.test',);"
        "from chainplan.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    server.command = [sys.executable, "-c", script]
    server.start()
    browser = start_chromium(tmp_path, "--host-resolver-rules=MAP bench.test 127.0.0.1")
    try:
        url = f"http://bench.test:{server.port}/#{server.told['token']}"
        tablet = Tablet(browser, folder).join(url, "Ann")
        assert browser.execute_script("return [isSecureContext, 'randomUUID' in crypto]") == [
            False, False,
        ]  # fmt: skip
        tablet.weld(2)
        tablet.settled()
        assert len(server.rows()) == 2
        tablet.tap("open-settings")
        assert "plain http" in tablet.text("link-kind")
        assert "cannot be kept on" in tablet.text("awake-state")
        assert tablet.problems() == []
    finally:
        browser.quit()
        server.stop()


# ---- The board -----------------------------------------------------------------------------------


@pytest.fixture
def board(browsers: tuple[Any, Any], folder: Path, server: Server) -> Bench:
    """The board in the second browser."""
    sheet = Bench(browsers[1], folder)
    sheet.problems()  # what the last test left
    sheet.browser.get(server.told["board"])
    wait_until(lambda: sheet.shown("board"))
    return sheet


def test_the_board_shows_what_happens(
    board: Bench, browsers: tuple[Any, Any], folder: Path, server: Server
) -> None:
    """Done, left, not good; who is there, who has taken what; a stretch is taken back."""
    ann = Tablet(browsers[0], folder).join(server.told["url"], "Ann")
    wait_until(lambda: "Ann" in board.text("whole"))
    assert "0 of 50 joins" in board.text("whole")
    ann.weld(2)
    ann.tap("bad")
    ann.tap("later")
    press(ann, "Take: Invented chain, copy 1 of 2")
    ann.close("passes")
    wait_until(lambda: "2 of 50 joins" in board.text("whole"))
    wait_until(lambda: "Ann has joins 1 to 25" in board.text("pieces"))
    wait_until(lambda: "1 for later" in board.text("pieces"))
    wait_until(lambda: "opened the bench sheet" in board.text("log"))
    board.browser.find_element("css selector", "#pieces button").click()
    wait_until(lambda: "Ann has joins" not in board.text("pieces"))
    server.ask("/api/events", batch(tap(7)))
    server.ask("/api/events", batch(tap(7)))
    wait_until(lambda: board.shown("twice"))
    assert "Welded twice: ring 7" in board.text("twice")
    assert board.problems() == []


def test_papers_and_code_are_on_the_board(board: Bench, server: Server) -> None:
    wait_until(lambda: "weld-order.pdf" in board.text("papers"))
    for old in board.browser.downloads.iterdir():
        old.unlink()
    buttons = board.browser.find_elements("css selector", "#papers button")
    next(one for one in buttons if one.text == "weld-order.pdf").click()
    wait_until(lambda: list(board.browser.downloads.glob("weld-order.pdf")))
    size = (server.folder / "weld-order.pdf").stat().st_size
    place = board.browser.downloads / "weld-order.pdf"
    wait_until(lambda: place.stat().st_size == size)
    wide = board.browser.execute_script("return document.getElementById('code').naturalWidth")
    assert wide > 100


def test_the_board_fits_a_phone_and_stops_the_sharing(board: Bench, server: Server) -> None:
    """Nothing sideways, all targets large; stopping asks first, then the server ends."""
    board.screen(360, 740)
    try:
        wait_until(lambda: board.text("papers"))
        assert board.browser.execute_script("return document.documentElement.scrollWidth") <= 360
        sizes = board.browser.execute_script(
            "return [...document.querySelectorAll('#board button')].map((b) => "
            "Math.min(b.getBoundingClientRect().width, b.getBoundingClientRect().height))"
        )
        assert min(sizes) >= 44
        board.tap("stop")
        board.tap("sure-no")
        assert server.ask("/api/progress")[0] == 200
        board.tap("stop")
        board.tap("sure-yes")
        wait_until(lambda: board.text("state") == "Sharing has ended.")
        assert server.process is not None
        assert server.process.wait(30) == 0
    finally:
        board.browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


# ---- Accessible in every state -----------------------------------------------------------------


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The checker's program."""
    return fetch_axe(tmp_path_factory.mktemp("axe"))


@pytest.mark.parametrize("size", [(360, 740), (1024, 768)])
def test_board_and_shared_sheet_are_accessible_in_every_state(
    browsers: tuple[Any, Any], folder: Path, server: Server, axe: str, size: tuple[int, int]
) -> None:
    """No violation of WCAG 2.2 AA, light and dark, with the server and without."""
    found: dict[str, list[str]] = {}
    ann = Tablet(browsers[0], folder)
    board = Bench(browsers[1], folder)
    for one in (ann, board):
        one.screen(*size)

    def look(state: str, one: Bench) -> None:
        for scheme in ("light", "dark"):
            wish = {"name": "prefers-color-scheme", "value": scheme}
            one.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [wish]})
            found[f"{state}, {scheme}"] = axe_findings(one.browser, axe)

    try:
        steps = _states(ann, board, server)
        for state, one in steps:
            look(state, one)
    finally:
        for one in (ann, board):
            one.browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
            one.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    assert {state: told for state, told in found.items() if told} == {}
    assert len(found) == 22


@pytest.mark.parametrize("language", ["de", "fr", "it", "es"])
def test_board_and_shared_sheet_are_accessible_in_every_language(
    browsers: tuple[Any, Any], folder: Path, axe: str, language: str
) -> None:
    """On a phone, with somebody at work; both pages say which language they are in."""
    page = folder / "bench-sheet.html"
    text = page.read_text(encoding="utf-8")
    assert text.count('"language":"en"') == 1
    page.write_text(text.replace('"language":"en"', f'"language":"{language}"'), encoding="utf-8")
    server = Server(folder).start()
    ann, board = Tablet(browsers[0], folder), Bench(browsers[1], folder)
    try:
        for one in (ann, board):
            one.screen(360, 740)
        ann.browser.get(server.told["url"])
        wait_until(lambda: ann.shown("cautions"))
        ann.tap("acknowledge")
        wait_until(lambda: ann.shown("who"))
        board.browser.get(server.told["board"])
        wait_until(lambda: board.shown("board"))
        for one in (ann, board):
            assert (
                one.browser.find_element("css selector", "html").get_attribute("lang") == language
            )
            assert axe_findings(one.browser, axe) == []
            width = "return document.documentElement.scrollWidth"
            assert one.browser.execute_script(width) <= 360
    finally:
        for one in (ann, board):
            one.browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        server.stop()


def _states(ann: Tablet, board: Bench, server: Server) -> Iterator[tuple[str, Bench]]:
    base = f"http://127.0.0.1:{server.port}"
    ann.browser.get(f"{base}/#wrong")
    wait_until(lambda: ann.shown("no-entry"))
    yield "no entry", ann
    ann.browser.get("about:blank")
    ann.browser.get(server.told["url"])
    wait_until(lambda: ann.shown("cautions"))
    ann.tap("acknowledge")
    wait_until(lambda: ann.shown("who"))
    yield "who", ann
    ann.browser.find_element("id", "who-label").send_keys("Ann")
    ann.tap("who-save")
    ann.settled()
    yield "shared", ann
    ann.tap("open-settings")
    yield "settings", ann
    ann.close("settings")
    press(ann, "Take: Invented chain, copy 1 of 2")
    wait_until(lambda: "Give back" in ann.text("pass-list"))
    yield "passes", ann
    ann.close("passes")
    server.ask("/api/events", batch(tap(7)))
    server.ask("/api/events", batch(tap(7)))
    wait_until(lambda: ann.shown("twice"))
    yield "twice", ann
    board.browser.get(server.told["board"])
    wait_until(lambda: board.shown("board") and board.shown("twice"))
    yield "board", board
    board.tap("stop")
    yield "a question", board
    board.tap("sure-no")
    board.browser.get(f"{base}/trust")
    yield "trust", board
    board.browser.get(server.told["board"])
    wait_until(lambda: board.shown("board"))
    server.kill()
    wait_until(lambda: "No contact" in board.text("state"))
    yield "board away", board
    wait_until(lambda: "no contact" in ann.text("link"))
    yield "sheet away", ann
