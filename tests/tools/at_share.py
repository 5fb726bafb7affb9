"""What tests of sharing have in common: a small plan's folder, and the server as a real process."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import uuid
from pathlib import Path
from typing import Any

from at_bench import Bench, wait_until

ROOT = Path(__file__).parents[2]
JOB = """\
name,quantity,weave,wire,inner,metal,length
Invented chain,2,single-link,1.0mm,4.0mm,copper,100mm
"""


def plan_folder(folder: Path, rows: str = JOB) -> Path:
    """Plan a small invented job: two copies of a chain of 25 rings."""
    import chainplan

    job = folder / "invented.csv"
    job.write_text(rows, encoding="utf-8")
    plan = chainplan.make_plan(chainplan.read_job(job))
    return chainplan.write_plan(plan, folder / "plans" / "invented")


def free_port() -> int:
    """A port that nobody uses just now."""
    with contextlib.closing(socket.socket()) as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


class Tablet(Bench):
    """A tablet with somebody at it."""

    def join(self, url: str, label: str) -> Tablet:
        """Scan the code, read the cautions, say who it is."""
        self.browser.get(url)
        wait_until(lambda: self.shown("cautions"))
        self.tap("acknowledge")
        wait_until(lambda: self.shown("who"))
        self.browser.find_element("id", "who-label").send_keys(label)
        self.tap("who-save")
        self.settled()
        return self

    def settled(self) -> None:
        """Wait until everything is handed over."""
        wait_until(lambda: self.text("link").endswith("everything is handed over"))

    def count(self) -> int:
        return int(self.text("count").split()[0])

    def weld(self, joins: int) -> None:
        for _ in range(joins):
            before = self.count()
            self.tap("done")
            wait_until(lambda before=before: self.count() > before)

    def cut(self, *, off: bool) -> None:
        """Take the network away from this browser, or give it back."""
        self.browser.execute_cdp_cmd("Network.enable", {})
        self.browser.execute_cdp_cmd(
            "Network.emulateNetworkConditions",
            {"offline": off, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1},
        )


class Server:
    """``chainplan share`` as a process of its own."""

    def __init__(self, folder: Path, *options: str, port: int | None = None) -> None:
        self.folder, self.options = folder, options
        self.port = free_port() if port is None else port
        self.process: subprocess.Popen[str] | None = None
        self.told: dict[str, str] = {}
        self.command = [sys.executable, "-m", "chainplan"]
        self.log = folder.parent / f"share-{self.port}.log"

    @property
    def record(self) -> Path:
        return self.folder.parent / "workshop.sqlite"

    def start(self) -> Server:
        """Start it and wait until it listens."""
        command = [*self.command, "share", str(self.folder), "--json", "--port", str(self.port),
                   *self.options]  # fmt: skip
        path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH", "")]))
        with self.log.open("a") as log:
            self.process = subprocess.Popen(
                command, stdout=subprocess.PIPE, stderr=log, text=True,
                env={**os.environ, "PYTHONPATH": path},
            )  # fmt: skip
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, self.log.read_text()
        self.told = json.loads(line)
        return self

    def kill(self) -> None:
        """End it as a power cut would."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(30)
        assert self.process.stdout is not None
        self.process.stdout.close()

    def stop(self) -> int:
        """End it as Ctrl-C does, if it runs."""
        if self.process is None:
            return 0
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        status = self.process.wait(30)
        if self.process.stdout is not None:
            self.process.stdout.close()
        return status

    @property
    def board_token(self) -> str:
        return self.told["board"].split("#")[1]

    def ask(
        self, path: str, body: Any = None, *, token: str | None = "", method: str = "",
        headers: dict[str, str] | None = None, raw: bytes | None = None,
    ) -> tuple[int, Any, dict[str, str]]:  # fmt: skip
        """Send one request; token "" is the right one, None none at all."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        sent = {"Host": f"127.0.0.1:{self.port}"}
        if token is not None:
            sent["Authorization"] = f"Bearer {token or self.told['token']}"
        payload = raw
        if body is not None:
            payload = json.dumps(body).encode()
        if payload is not None:
            sent |= {"Content-Type": "application/json", "Origin": f"http://127.0.0.1:{self.port}"}
        sent |= headers or {}
        try:
            link.request(method or ("GET" if payload is None else "POST"), path, payload, sent)
            answer = link.getresponse()
            text = answer.read()
            told = {name.lower(): value for name, value in answer.getheaders()}
            json_like = told.get("content-type", "").startswith("application/json")
            return answer.status, json.loads(text) if json_like else text, told
        finally:
            link.close()

    def rows(self, query: str = "SELECT * FROM event_now") -> list[tuple[Any, ...]]:
        """Look into the record from outside."""
        with contextlib.closing(sqlite3.connect(self.record)) as base:
            return base.execute(query).fetchall()


def device() -> str:
    """An id as a tablet draws it."""
    return str(uuid.uuid4())


def tap(ring: int, result: str = "done", **more: Any) -> dict[str, Any]:
    """One tap as a sheet sends it."""
    ms = time.time() * 1000
    return {"id": str(uuid.uuid4()), "result": result, "piece": "Invented chain", "copy": 1,
            "ring": ring, "person": "A", "note": "", "work_s": 5.0, "waited_s": 0.0, "undoes": None,
            "ms": ms, **more}  # fmt: skip


def batch(*taps: dict[str, Any], who: str = "", now_ms: float | None = None) -> dict[str, Any]:
    """What a sheet hands over in one request."""
    at = time.time() * 1000 if now_ms is None else now_ms
    return {"device": who or device(), "now_ms": at, "events": list(taps)}
