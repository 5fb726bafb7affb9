"""The bench's pages hold what is woven and welded, and are drawn anew only where that changes."""

from __future__ import annotations

import datetime
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan import report
from chainplan.model.job import Price
from chainplan.report.diagram import join_pictures
from chainplan.report.diagram.join_pictures import write_join_pictures
from chainplan.report.quote import Drawn, piece_picture, write_quotes
from chainplan.report.work import keep_pages, keep_pictures, work_of
from chainplan.report.workbook import draw_pieces
from chainplan.report.workbook.cells import picture
from chainplan.store import ResultShelf
from chainplan.store.packing import digest
from chainplan.workers import Workers

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import pytest

    from chainplan.model.plan import Plan


def mark(plan: Plan) -> str:
    return work_of(plan).stamp.work_sha256


def with_piece(plan: Plan, **changes: Any) -> Plan:
    (piece,) = plan.pieces
    return replace(plan, pieces=(replace(piece, piece=replace(piece.piece, **changes)),))


def test_prices_and_dates_leave_the_mark_of_the_work(necklace_plan: Plan) -> None:
    """So do customers, people, stations and the job's file: nothing of that is on these pages."""
    plan = necklace_plan
    price = Price(item="sterling-silver", price=Decimal(3), per="g")
    job = replace(
        plan.job,
        prices=(price,),
        start_date=datetime.date(2031, 3, 3),
        people=(),
        input_sha256="f" * 64,
        bench=replace(
            plan.job.bench, money=replace(plan.job.bench.money, labour_per_hour=Decimal(99))
        ),
    )
    dearer = replace(
        plan,
        job=job,
        stamp=replace(plan.stamp, input_sha256="f" * 64),
        estimates=replace(plan.estimates, costs=(), quotes=()),
        warnings=("another",),
    )
    assert mark(dearer) == mark(plan)
    sold = {"due": datetime.date(2031, 4, 4), "customer": "somebody", "list_price": Decimal(9)}
    assert mark(with_piece(plan, **sold)) == mark(plan)
    assert mark(with_piece(plan, quantity=7)) != mark(plan)
    assert mark(with_piece(plan, notes="polish before welding")) != mark(plan)


def changed(value: Any) -> Iterator[tuple[str, Any]]:
    """A frozen thing with each field changed in turn, down to single values, by the way to it."""
    for item in fields(value):
        content = getattr(value, item.name)
        if item.name.startswith("_") or not item.init:
            continue
        others: list[tuple[str, Any]] = []
        if isinstance(content, np.ndarray):
            others = [("", np.append(content.ravel(), content.ravel()[:1]))]
        elif is_dataclass(content):
            others = list(changed(content))
        elif isinstance(content, tuple) and content and is_dataclass(content[0]):
            others = [(name, (other, *content[1:])) for name, other in changed(content[0])]
        else:
            others = [("", ("changed", repr(content)))]
        for name, other in others:
            copy = object.__new__(type(value))
            for own in fields(value):
                kept = getattr(value, own.name)
                object.__setattr__(copy, own.name, other if own.name == item.name else kept)
            yield f"{item.name}.{name}", copy


def test_all_that_the_pages_are_drawn_from_is_in_the_mark(necklace_plan: Plan) -> None:
    """Layout, joins, heat, order, batch, electrode, limits, metals, news: field by field."""
    work = work_of(necklace_plan)
    ways = set()
    for name, other in changed(work):
        ways.add(name)
        assert digest(other) != digest(work), name
    assert len(ways) > 200
    assert {"pieces", "batch", "news", "job"} <= {name.split(".")[0] for name in ways}


def test_pages_are_drawn_once_and_are_the_same_bytes(
    necklace_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A damaged shelf, and one that names a place elsewhere, are only slow."""
    drawn: list[int] = []
    real = join_pictures.add_approaches
    monkeypatch.setattr(join_pictures, "add_approaches", lambda *a: (drawn.append(1), real(*a))[-1])
    shelf = ResultShelf(folder=tmp_path / "shelf")

    def written(plan: Plan, name: str, kept: ResultShelf | None = shelf) -> bytes:
        folder, work = tmp_path / name, work_of(plan)
        folder.mkdir()
        keep_pages(lambda: write_join_pictures(work, folder), "joins", digest(work), folder, kept)
        return (folder / "joins.pdf").read_bytes()

    fresh = written(necklace_plan, "fresh", None)
    assert written(necklace_plan, "first") == fresh
    assert len(drawn) == 2
    assert written(replace(necklace_plan, warnings=("dearer",)), "second") == fresh
    assert len(drawn) == 2
    assert written(with_piece(necklace_plan, notes="another"), "third") != fresh
    assert len(drawn) == 3
    for path in shelf.folder.rglob("*.kept"):
        path.write_bytes(path.read_bytes()[:-5])
    assert written(necklace_plan, "damaged") == fresh
    assert len(drawn) == 4
    monkeypatch.setattr(
        ResultShelf, "get", lambda *_: {"../elsewhere.pdf": np.zeros(3, dtype=np.uint8)}
    )
    assert written(necklace_plan, "led away") == fresh
    assert not (tmp_path / "elsewhere.pdf").exists()


def test_pictures_on_quotes_and_in_the_workbook_are_drawn_once(
    necklace_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A customer that changes draws none of them; the bytes are those without a shelf."""
    drawn: list[str] = []
    piece_real, table_real = piece_picture.draw_piece, picture.draw_pieces
    monkeypatch.setattr(
        piece_picture, "draw_piece", lambda *a, **k: (drawn.append("q"), piece_real(*a, **k))[-1]
    )
    monkeypatch.setattr(picture, "draw_pieces", lambda a: (drawn.append("w"), table_real(a))[-1])
    shelf = ResultShelf(folder=tmp_path / "shelf")

    def written(plan: Plan, kept: ResultShelf | None) -> tuple[bytes, list[bytes | None]]:
        work = work_of(plan)
        file = tmp_path / "quote.pdf"
        write_quotes(plan, file, drawn=Drawn(work=work, shelf=kept, drawn_from=digest(work)))
        layouts = [piece.layout for piece in work.pieces]
        pictures = keep_pictures(lambda: draw_pieces(layouts), digest(work), kept)
        return file.read_bytes(), pictures

    fresh = written(necklace_plan, None)
    assert written(necklace_plan, shelf) == fresh
    assert drawn == ["q", "w"] * 2
    assert written(necklace_plan, shelf) == fresh
    sold = with_piece(necklace_plan, customer="somebody")
    other, pictures = written(sold, shelf)
    assert other != fresh[0]
    assert pictures == fresh[1]
    assert drawn == ["q", "w"] * 2
    assert (other, pictures) == written(sold, None)
    written(with_piece(necklace_plan, notes="another"), shelf)
    assert drawn == ["q", "w"] * 4
    for path in shelf.folder.rglob("*.kept"):
        path.write_bytes(path.read_bytes()[:-5])
    assert written(necklace_plan, shelf) == fresh
    monkeypatch.setattr(ResultShelf, "get", lambda *_: ["no picture"])
    assert written(necklace_plan, shelf) == fresh


def test_a_known_work_is_written_in_one_process(
    necklace_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first time as many work as were asked for."""
    counts: list[int] = []
    real = report.side_by_side

    def watched(function: Any, tasks: Any, workers: Workers, **more: Any) -> Any:
        counts.append(workers.count)
        return real(function, tasks, Workers(count=1), **more)

    monkeypatch.setattr(report, "side_by_side", watched)
    shelf = ResultShelf(folder=tmp_path / "shelf")
    known = []
    for name in ("first", "second"):
        (tmp_path / name).mkdir()
        known.append(
            report.write_files(
                necklace_plan, tmp_path / name, workers=Workers(count=2), shelf=shelf,
                on_step=lambda *_: None,
            )
        )  # fmt: skip
    assert known == [False, True]
    assert counts == [2, 1]
    first, second = (
        {
            path.relative_to(tmp_path / name): path.read_bytes()
            for path in (tmp_path / name).rglob("*")
            if path.is_file()
        }
        for name in ("first", "second")
    )
    assert first == second
