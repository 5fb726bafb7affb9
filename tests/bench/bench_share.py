"""Twenty tablets at two taps a second for a minute: what it costs, and that nothing is lost.

``python tests/bench/bench_share.py [TABLETS] [TAPS A SECOND] [SECONDS]``. Each tablet is a thread
that sends one request a tap, as sheets do, and one that reads the stream. Times are in ms: until a
tap is on the disk, and until it was seen on another tablet.
"""

from __future__ import annotations

import http.client
import json
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))

from at_share import Server, batch, device, plan_folder, tap

LONG = """\
name,quantity,weave,wire,inner,metal,length
Invented chain,20,single-link,1.0mm,4.0mm,copper,1000mm
"""


class Tablet:
    """One tablet: taps at an even rate, and a stream of news."""

    def __init__(self, server: Server, number: int) -> None:
        self.server, self.number, self.device = server, number, device()
        self.sent: dict[str, float] = {}
        self.kept_ms: list[float] = []
        self.seen: dict[str, float] = {}
        self.faults: list[str] = []
        self.over = False

    def header(self) -> dict[str, str]:
        return {
            "Host": f"127.0.0.1:{self.server.port}",
            "Authorization": f"Bearer {self.server.told['token']}",
            "Origin": f"http://127.0.0.1:{self.server.port}",
            "Content-Type": "application/json",
        }

    def work(self, rate: float, seconds: float) -> None:
        link = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=60)
        begun = time.monotonic() + self.number / 20 / rate
        for k in range(int(rate * seconds)):
            time.sleep(max(0.0, begun + k / rate - time.monotonic()))
            one = tap(1 + k % 240, person=f"T{self.number}")
            one["copy"] = self.number % 20 + 1
            at = time.monotonic()
            self.sent[one["id"]] = at
            link.request(
                "POST", "/api/events", json.dumps(batch(one, who=self.device)), self.header()
            )
            answer = link.getresponse()
            told = answer.read()
            self.kept_ms.append((time.monotonic() - at) * 1000)
            if answer.status != 200 or one["id"] not in json.loads(told)["kept"]:
                self.faults.append(f"{answer.status} {told[:100]!r}")
        link.close()

    def listen(self) -> None:
        link = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=20)
        link.request("GET", f"/api/stream?after=0&device={self.device}", headers=self.header())
        answer = link.getresponse()
        while not self.over:
            line = answer.readline()
            if line.startswith(b"data: "):
                now = time.monotonic()
                for event in json.loads(line[6:])["events"]:
                    self.seen[event["id"]] = now
        link.close()


def row(name: str, values: list[float]) -> str:
    values = sorted(values)
    at = [values[int(len(values) * share)] for share in (0.5, 0.95, 0.99)]
    return f"{name:<28}" + "".join(f"{value:>9.1f}" for value in (*at, values[-1]))


def main() -> None:
    given = [float(text) for text in sys.argv[1:4]]
    tablets, rate, seconds = [*given, *(20.0, 2.0, 60.0)[len(given) :]]
    with tempfile.TemporaryDirectory() as scratch:
        server = Server(plan_folder(Path(scratch), LONG)).start()
        try:
            all_tablets = [Tablet(server, number) for number in range(int(tablets))]
            readers = [threading.Thread(target=one.listen, daemon=True) for one in all_tablets]
            workers = [
                threading.Thread(target=one.work, args=(rate, seconds)) for one in all_tablets
            ]
            for one in (*readers, *workers):
                one.start()
            for one in workers:
                one.join()
            time.sleep(2)
            sent = {name: at for one in all_tablets for name, at in one.sent.items()}
            there = {name for (name,) in server.rows("SELECT id FROM event")}
            seen_ms = [
                (other.seen[name] - at) * 1000
                for one, other in zip(all_tablets, all_tablets[1:] + all_tablets[:1], strict=True)
                for name, at in one.sent.items()
                if name in other.seen
            ]
            kept_ms = [value for one in all_tablets for value in one.kept_ms]
            faults = [text for one in all_tablets for text in one.faults]
            print(f"{len(sent)} taps sent, {len(there)} in the record, "
                  f"{len(sent.keys() - there)} lost, {len(faults)} refused, "
                  f"{len(sent) - len(seen_ms)} not seen by the neighbour")  # fmt: skip
            print(f"{'ms':<28}{'median':>9}{'95 %':>9}{'99 %':>9}{'worst':>9}")
            print(row("until it is on the disk", kept_ms))
            print(row("until another tablet has it", seen_ms))
            for text in faults[:5]:
                print(text)
            for one in all_tablets:
                one.over = True
        finally:
            server.stop()


if __name__ == "__main__":
    main()
