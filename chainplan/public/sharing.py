"""A plan shared with the tablets of a workshop: the public function, and what it puts together."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.intake import read_plan_record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.workshop.record import Event, KnownPlan
    from chainplan.share.on_show import OnShow, Outcome, ServedPage
    from chainplan.share.serving import Certified, Listening

PORT = 8470
"""The same if not told otherwise: what a tablet keeps for later belongs to address and port."""
PAPERS = (
    "weld-order.pdf", "joins.pdf", "plan.xlsx", "record-by-hand.xlsx", "bench-sheet.html",
    "rings.csv", "weld-order.csv", "links.csv",
)  # fmt: skip
"""Files of a plan's folder that are handed out; nothing else is."""
_CONTENT = re.compile(r'<script type="application/json" id="content">(.*?)</script>', re.DOTALL)
_SHARE_PAGES = Path(__file__).parents[1] / "share" / "page"
"""Where the parts of the pages stand that only sharing needs."""


def share_plan(
    folder: str | Path,
    *,
    port: int = PORT,
    lan: bool = False,
    https: bool = False,
    record: str | Path | None = None,
    on_listening: Callable[[Listening], None] | None = None,
    on_visit: Callable[[str], None] | None = None,
) -> None:
    """Share a plan with tablets until it is stopped from the board or by a signal.

    Taps go into the workshop's record as they come. Only this computer is served unless ``lan``.

    Parameters
    ----------
    folder : str or Path
        The plan's folder, as written.
    port : int
        Where to listen; 0 takes any free port, which a tablet cannot find again after a restart.
    lan : bool
        Serve the network that this computer is on too.
    https : bool
        With a certificate made here, which every tablet has to be told to trust once.
    record : str or Path, optional
        The record; beside the plan's folder if not given.
    on_listening : callable, optional
        Told addresses and token as soon as it is reached.
    on_visit : callable, optional
        Told line by line who came.

    Raises
    ------
    InputError
        If the folder holds no plan, the port is taken, this computer is on no network, the record
        cannot be written, or the packages of ``chainplan[share]`` are missing.
    """
    _need_packages(https=https)
    from chainplan.public.recording import record_path
    from chainplan.record.reading.plan_folder import read_plan_folder
    from chainplan.share.pass_words import NAME, PassWords
    from chainplan.share.serving import HERE, lan_address, serve
    from chainplan.writing import mend_folder

    folder = Path(folder)
    mend_folder(folder)
    plan = read_plan_folder(folder)
    target = record_path(folder, record)
    address = lan_address() if lan else HERE
    certified = _certified(target.parent, address) if https else None
    try:
        words = PassWords.open(folder / NAME, plan.key)
    except OSError as error:
        message = f"{folder}: cannot be written ({error.strerror})"
        raise InputError(message) from None
    serve(
        _on_show(folder, plan),
        words,
        lambda: RecordBook(target, plan),
        address=address,
        port=port,
        certified=certified,
        on_listening=on_listening or (lambda _: None),
        on_visit=on_visit or (lambda _: None),
    )


def _need_packages(*, https: bool) -> None:
    from importlib.util import find_spec

    names = ["starlette", "uvicorn", "segno", *(["cryptography"] if https else [])]
    missing = [name for name in names if find_spec(name) is None]
    if missing:
        message = (
            f"sharing needs {' and '.join(missing)}: install them with "
            "pip install 'chainplan[share]'"
        )
        raise InputError(message)


def _certified(beside: Path, address: str) -> Certified:
    from chainplan.share.certificate import certify
    from chainplan.share.serving import HERE

    try:
        return certify(beside / ".workshop-certificate", sorted({address, HERE}))
    except OSError as error:
        message = f"{beside}: the certificate cannot be kept there ({error.strerror})"
        raise InputError(message) from None


def _on_show(folder: Path, plan: KnownPlan) -> OnShow:
    """Gather what is shared: the sheet as it was written, pages, papers, what the board says."""
    from chainplan.record.reading.plan_folder import told_as_damage
    from chainplan.reference.texts import bench_texts
    from chainplan.share.on_show import OnShow, ServedPage, ShownPiece

    try:
        page = (folder / "bench-sheet.html").read_text(encoding="utf-8")
    except (OSError, ValueError) as error:
        message = f"{folder / 'bench-sheet.html'}: cannot be read ({error}); plan the job again"
        raise InputError(message) from None
    record = read_plan_record(folder / "plan.json")
    checked: dict[int, set[int]] = {}  # joins to check, also those welded before this plan
    with told_as_damage(folder):
        found = _CONTENT.search(page)
        content = json.loads(found.group(1) if found else "")
        language, job = str(content["language"]), str(content["job"])
        content["texts"] = bench_texts(language)  # those of this program, with the shared ones
        late = [
            {"piece": row["piece"], "days": row["late_days"], "due": row["due"]}
            for row in record["estimates"]["due"]
            if row["late_days"]
        ]
        due = {row["piece"]: row["due"] for row in record["estimates"]["due"]}
        for lot in content["checks"]:
            for which, _, ring in lot["drawn"]:
                checked.setdefault(which, set()).add(ring + 1)
    files = {name: folder / name for name in PAPERS if (folder / name).is_file()}
    return OnShow(
        job=job,
        pieces=tuple(
            ShownPiece(
                piece.name, piece.copies,
                frozenset([*piece.ring.tolist(), *checked.get(k, ())]), piece.joins,
            )
            for k, piece in enumerate(plan.pieces)
        ),
        sheet=json.dumps(content, separators=(",", ":")).encode(),
        sheet_page=_sheet_page(language, job),
        board_page=_board_page(language, job),
        trust_page=_trust_page(language),
        worker=ServedPage(
            (_SHARE_PAGES / "worker.js").read_text(encoding="utf-8"),
            "default-src 'none'; connect-src 'self'",
        ),
        files=files,
        board={
            "job": job, "files": list(files), "late": late,
            "pieces": [
                {"name": piece.name, "copies": piece.copies, "due": due.get(piece.name)}
                for piece in plan.pieces
            ],
        },
    )  # fmt: skip


def _sheet_page(language: str, job: str) -> ServedPage:
    from chainplan.reference.texts import bench_texts
    from chainplan.report.bench_sheet.page import sheet_page
    from chainplan.share.on_show import ServedPage

    made = sheet_page(
        language=language,
        title=bench_texts(language)["page.title"].replace("{job}", job),
        first=(_SHARE_PAGES / "token.js", _SHARE_PAGES / "link.js"),
        policy="; connect-src 'self'; worker-src 'self'; frame-ancestors 'none'",
        extra=(_SHARE_PAGES / "extra.html").read_text(encoding="utf-8"),
        more=(_SHARE_PAGES / "more.html").read_text(encoding="utf-8"),
        told=False,
    )
    return ServedPage(made.html, made.policy)


def _board_page(language: str, job: str) -> ServedPage:
    from chainplan.reference.texts import bench_texts
    from chainplan.report.bench_sheet.page import WORDS, embedded_json, plain_page
    from chainplan.share.on_show import ServedPage

    texts = bench_texts(language)
    shown = {key: text for key, text in texts.items() if key.startswith(("board.", "piece."))}
    made = plain_page(
        _SHARE_PAGES / "board.html",
        language=language,
        title=texts["board.title"].replace("{job}", job),
        style=_SHARE_PAGES / "board.css",
        program=(_SHARE_PAGES / "token.js", WORDS, _SHARE_PAGES / "board.js"),
        fills={"texts": embedded_json(shown)},
    )
    return ServedPage(made.html, made.policy)


def _trust_page(language: str) -> ServedPage:
    from chainplan.reference.texts import bench_texts
    from chainplan.report.bench_sheet.page import plain_page
    from chainplan.share.on_show import ServedPage

    made = plain_page(
        _SHARE_PAGES / "trust.html",
        language=language, title=bench_texts(language)["trust.title"],
        style=_SHARE_PAGES / "board.css", program=(), fills={},
    )  # fmt: skip
    return ServedPage(made.html, made.policy)


class RecordBook:
    """The workshop's record, as the server uses it: in one thread."""

    def __init__(self, path: Path, plan: KnownPlan) -> None:
        """Open the record, make it if there is none, and make the plan known to it.

        Raises
        ------
        InputError
            If it is none, or cannot be written.
        """
        from chainplan.record.kept.lineage import of_record
        from chainplan.record.kept.store import Record

        self._path = path
        self._book = Record(path)
        self._plan = of_record(self._book, plan)
        self._book.keep_plan(self._plan)

    def close(self) -> None:
        """Close the file."""
        self._book.close()

    def add(self, events: Sequence[Event]) -> dict[str, Outcome]:
        """Record events, those that are there already once; say of each what became of it."""
        from chainplan.record.reading.checks import known_ids

        there = known_ids(self._book, events)
        fresh = {e.id: e._replace(plan=self._plan.key) for e in events if e.id not in there}
        refused = self._add(list(fresh.values()))
        found: dict[str, Outcome] = dict(self._numbers([event.id for event in events]))
        return {event.id: refused.get(event.id) or found[event.id] for event in events}

    def _add(self, events: Sequence[Event]) -> dict[str, str]:
        """Add events together; where one of them will not do, one by one."""
        if not events:
            return {}
        try:
            self._book.add(events)
        except InputError as error:
            if len(events) > 1:
                refused: dict[str, str] = {}
                for event in events:
                    refused |= self._add([event])
                return refused
            if "nothing of this was recorded" not in str(error):
                raise
            return {events[0].id: "it takes back nothing that is known, or says what cannot be"}
        return {}

    def _numbers(self, ids: Sequence[str]) -> dict[str, tuple[int, float]]:
        found = {}
        for start in range(0, len(ids), 500):
            part = ids[start : start + 500]
            marks = ", ".join("?" * len(part))
            query = f"SELECT id, seq, at_s FROM event WHERE id IN ({marks})"
            for name, seq, at_s in self._book.rows(query, part):
                found[name] = (int(seq), float(at_s))
        return found

    def after(self, seq: int, most: int) -> list[tuple[int, Event]]:
        """List events of this work behind a number, the earliest first."""
        return self._book.events_after(self._plan.root or self._plan.key, seq, most)

    def progress(self) -> dict[str, Any]:
        """Say how far the work is, as plain values."""
        from chainplan.public.recording import progress_in
        from chainplan.report.text.record import plain

        job = progress_in(self._book, self._plan)
        rows = self._book.rows(
            "SELECT e.piece, e.copy, e.station, e.person, e.kind FROM event_now AS e "
            "JOIN plan AS p ON p.key = e.plan WHERE p.root = ? AND e.kind IN ('begun', 'finished') "
            "ORDER BY e.at_s, e.seq",
            (self._plan.root or self._plan.key,),
        )
        now = {(row[0], row[1]): row for row in rows}
        return {
            "pieces": [{"job": job.job, **plain(piece)} for piece in job.pieces],
            "jobs": [plain(job)],
            "stations": [
                {"piece": piece, "copy": copy, "station": station, "person": person}
                for piece, copy, station, person, kind in now.values()
                if kind == "begun"
            ],
        }
