"""Sharing on the network with a real browser: this computer's address there, plain and secure."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import ssl
import urllib.parse
from typing import TYPE_CHECKING, Any

import pytest
from at_bench import Bench, start_chromium, wait_until
from at_share import Server, Tablet

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

POWERS = (
    "return {secure: isSecureContext, worker: 'serviceWorker' in navigator,"
    " wake: 'wakeLock' in navigator, ids: 'randomUUID' in crypto}"
)


@contextlib.contextmanager
def on_network(folder: Path, *options: str) -> Iterator[tuple[Server, str, int]]:
    """The server opened to the network, with the address that tablets use."""
    server = Server(folder, "--lan", *options).start()
    try:
        address = urllib.parse.urlsplit(server.told["url"])
        assert address.hostname is not None
        assert not address.hostname.startswith("127.")
        yield server, address.hostname, server.port
    finally:
        server.stop()


def _has_network() -> bool:
    from chainplan.errors import InputError
    from chainplan.share.serving import lan_address

    try:
        return bool(lan_address())
    except InputError:
        return False


pytestmark = pytest.mark.skipif(not _has_network(), reason="this computer is on no network")


def weld_one(tablet: Tablet) -> None:
    """Tap until it counts: a tap right after the join came up does not."""
    wait_until(lambda: tablet.tap("done") or tablet.count() == 1)


def pin_of(address: str, port: int) -> str:
    """How a browser is told to trust one key: the hash of the certificate's public key."""
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    shown = x509.load_pem_x509_certificate(ssl.get_server_certificate((address, port)).encode())
    key = shown.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(key).digest()).decode()


def test_on_the_network_plain_http_works_while_the_page_stays_open(
    folder: Path, tmp_path: Path
) -> None:
    """No secure context there: no worker, no wake lock, and the sheet says which it runs in."""
    with on_network(folder) as (server, _, _):
        browser = start_chromium(tmp_path)
        try:
            tablet = Tablet(browser, folder).join(server.told["url"], "Ann")
            assert browser.execute_script(POWERS) == {
                "secure": False, "worker": False, "wake": False, "ids": False,
            }  # fmt: skip
            weld_one(tablet)
            wait_until(lambda: len(server.rows()) == 1)
            tablet.settled()
            tablet.tap("open-settings")
            assert "works while this page stays open" in tablet.text("link-kind")
            assert tablet.problems() == []
        finally:
            browser.quit()


def test_on_the_network_a_secure_link_keeps_page_and_screen(folder: Path, tmp_path: Path) -> None:
    """Once the certificate is trusted: worker, wake lock, and it opens without the server."""
    with on_network(folder, "--https") as (server, address, port):
        pin = pin_of(address, port)
        browser = start_chromium(tmp_path, f"--ignore-certificate-errors-spki-list={pin}")
        try:
            tablet = Tablet(browser, folder).join(server.told["url"], "Ann")
            assert browser.execute_script(POWERS) == {
                "secure": True, "worker": True, "wake": True, "ids": True,
            }  # fmt: skip
            weld_one(tablet)
            wait_until(lambda: len(server.rows()) == 1)
            tablet.settled()
            wait_until(lambda: "opens without that computer" in tablet.text("link-kind"))
            assert "secure link" in tablet.text("link-kind")
            server.kill()
            browser.refresh()
            wait_until(lambda: tablet.shown("link") and tablet.count() == 1)
        finally:
            browser.quit()


def test_an_untrusted_certificate_warns_and_the_page_explains_it(
    folder: Path, tmp_path: Path
) -> None:
    """Without trust the browser stops first; the page tells how to trust it once, and gives it."""
    from selenium.common.exceptions import WebDriverException

    with on_network(folder, "--https") as (server, address, port):
        wary = start_chromium(tmp_path)
        try:
            with contextlib.suppress(WebDriverException):  # some versions tell it by an error
                wary.get(server.told["url"])
            assert "ERR_CERT_AUTHORITY_INVALID" in wary.page_source
        finally:
            wary.quit()
        pin = pin_of(address, port)
        trusting: Any = start_chromium(tmp_path, f"--ignore-certificate-errors-spki-list={pin}")
        try:
            trusting.get(f"https://{address}:{port}/trust")
            page = Bench(trusting, folder)
            text = trusting.find_element("tag name", "body").text
            assert "Trust this workshop once" in text
            assert "private networks only" in text
            link = trusting.find_element("css selector", "a[href$='.crt']")
            assert link.is_displayed()
            assert page.problems() == []
        finally:
            trusting.quit()
