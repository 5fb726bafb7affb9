"""The gate before every request: address, origin, token, sizes, rates; and what pages may do."""

from __future__ import annotations

import time
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chainplan.share.bounds import (
    BODY_BYTES,
    REQUESTS_A_S,
    REQUESTS_AT_ONCE,
    WRONG_A_MIN,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from chainplan.share.pass_words import PassWords

OPEN_PAGES = {"/", "/board", "/trust", "/worker.js"}
"""Pages without data, which everybody may see; the certificate to be trusted is public too."""
CERTIFICATE = "/workshop.crt"
PLAIN_POLICY = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
_KEPT = 4096
"""Addresses that are remembered; more than a workshop has, and little memory if they are forged."""


@dataclass(slots=True)
class _Bucket:
    left: float = float(REQUESTS_AT_ONCE)
    at: float = 0.0
    wrong: deque[float] = field(default_factory=deque)


@dataclass(slots=True)
class Gate:
    """An ASGI app before another one. Everything that it refuses is short and says nothing."""

    app: ASGIApp
    hosts: frozenset[bytes]
    scheme: bytes
    words: PassWords
    policies: dict[str, str]  # of pages, by path
    tell: Callable[[str], None]
    buckets: dict[str, _Bucket] = field(default_factory=dict)
    seen: set[tuple[str, str]] = field(default_factory=set)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or refuse it."""
        if scope["type"] != "http":
            return
        headers = _headers(scope["headers"])
        address = scope["client"][0] if scope["client"] else "?"
        path: str = scope["path"]
        dressed = self._dressed(path, send)
        status, role = self._judge(scope["method"], path, headers, address)
        if status:
            await _refuse(status, dressed)
            return
        scope["state"] = {**scope.get("state", {}), "role": role, "address": address}
        if role and (address, role) not in self.seen and len(self.seen) < _KEPT:
            self.seen.add((address, role))
            self.tell(f"{address} opened the {'board' if role == 'board' else 'bench sheet'}")
        await self.app(scope, _bounded(receive), dressed)

    def _judge(
        self, method: str, path: str, headers: dict[bytes, list[bytes]], address: str
    ) -> tuple[int, str]:
        """Give the status with which a request is refused, 0 if it is not, and its role."""
        bucket = self._bucket(address)
        if bucket is None or bucket.left < 1:
            return 429, ""
        bucket.left -= 1
        host = headers.get(b"host", [])
        if len(host) != 1 or host[0].lower() not in self.hosts:
            return 421, ""
        if method not in ("GET", "POST"):
            return 405, ""
        origin = headers.get(b"origin", [])
        ours = [self.scheme + b"://" + host[0]]
        if (method != "GET" and origin != ours) or (origin and origin != ours):
            return 403, ""
        site = headers.get(b"sec-fetch-site", [b"same-origin"])
        if path.startswith("/api/") and site != [b"same-origin"]:
            return 403, ""
        length = headers.get(b"content-length", [b"0"])
        if len(length) != 1 or not length[0].isdigit() or int(length[0][:12]) > BODY_BYTES:
            return 413, ""
        if path in OPEN_PAGES or path == CERTIFICATE:
            return 0, ""
        return self._known(headers, address, bucket)

    def _known(
        self, headers: dict[bytes, list[bytes]], address: str, bucket: _Bucket
    ) -> tuple[int, str]:
        now = time.monotonic()
        while bucket.wrong and bucket.wrong[0] < now - 60:
            bucket.wrong.popleft()
        given = headers.get(b"authorization", [])
        role = self.words.role(given[0]) if len(given) == 1 else ""
        if role:
            return 0, role
        if len(bucket.wrong) >= WRONG_A_MIN:
            return 429, ""
        bucket.wrong.append(now)
        if given:
            self.tell(f"{address} came with a wrong or old token")
        return 401, ""

    def _bucket(self, address: str) -> _Bucket | None:
        now = time.monotonic()
        if address not in self.buckets:
            if len(self.buckets) >= _KEPT:
                return None
            self.buckets[address] = _Bucket(at=now)
        bucket = self.buckets[address]
        bucket.left = min(float(REQUESTS_AT_ONCE), bucket.left + (now - bucket.at) * REQUESTS_A_S)
        bucket.at = now
        return bucket

    def _dressed(self, path: str, send: Send) -> Send:
        policy = self.policies.get(path, PLAIN_POLICY)
        extra = [
            (b"content-security-policy", policy.encode()),
            (b"x-content-type-options", b"nosniff"),
            (b"referrer-policy", b"no-referrer"),
            (b"cache-control", b"no-store"),
            *([(b"cross-origin-opener-policy", b"same-origin")] if self.scheme == b"https" else []),
            (b"cross-origin-resource-policy", b"same-origin"),
            (b"x-frame-options", b"DENY"),
        ]

        async def dress(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        return dress


def _headers(pairs: Iterable[tuple[bytes, bytes]]) -> dict[bytes, list[bytes]]:
    found: dict[bytes, list[bytes]] = {}
    for name, value in pairs:
        found.setdefault(name.lower(), []).append(value)
    return found


class TooLarge(Exception):
    """A body that goes beyond the bound though its header did not say so."""


def _bounded(receive: Receive) -> Receive:
    """Count a body as it comes: a header may be missing or lie."""
    taken = 0

    async def bounded() -> Any:
        nonlocal taken
        message = await receive()
        if message["type"] == "http.request":
            taken += len(message.get("body", b""))
            if taken > BODY_BYTES:
                raise TooLarge
        return message

    return bounded


_SAID = {
    401: b"open the link or scan the code again", 403: b"sent from another page",
    405: b"not done here", 413: b"too large", 421: b"this address is not served here",
    429: b"too many requests: wait a little",
}  # fmt: skip


async def _refuse(status: int, send: Send) -> None:
    said = _SAID[status]
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"content-length", str(len(said)).encode()),
            ],
        }
    )
    await send({"type": "http.response.body", "body": said})
