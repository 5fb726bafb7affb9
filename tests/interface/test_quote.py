"""A quote counts what a plan counts, says what it leaves out, and is the same for any workers."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

import chainplan
from chainplan import cli
from chainplan.public.questions import quoting

if TYPE_CHECKING:
    from pathlib import Path


def test_a_quote_counts_what_a_plan_counts(samples: Path, fair_plan) -> None:
    """Rings, mass and length of every piece; time at the welder where all is welded in place."""
    quote = chainplan.quote_job(samples / "craft-fair.xlsx")
    assert [item.piece for item in quote.pieces] == [p.piece.name for p in fair_plan.pieces]
    for item, planned in zip(quote.pieces, fair_plan.pieces, strict=True):
        assert item.rings == sum(count.rings for count in planned.counts)
        assert item.joins == planned.layout.rings
        assert item.mass_g == pytest.approx(sum(count.mass_g for count in planned.counts))
        assert item.length_mm == pytest.approx(planned.layout.length_mm, rel=1e-6)
        if planned.joins.pre_closed.any():
            continue
        waiting_min = planned.order.wait_s.sum() / 60
        here_min = planned.order.bench_time_s / 60 - waiting_min
        assert item.weld_min == pytest.approx(here_min, rel=0.15, abs=1.5)


def test_sums_are_those_of_all_copies(samples: Path) -> None:
    """Money to the cent, rings to the ring."""
    quote = chainplan.quote_job(samples / "craft-fair.xlsx")
    rows = quote.pieces
    assert quote.copies == sum(item.quantity for item in rows)
    assert quote.rings == sum(item.quantity * item.rings for item in rows)
    assert quote.price == sum((item.quantity * item.price for item in rows), Decimal(0))
    assert quote.cost == sum((item.quantity * item.cost for item in rows), Decimal(0))
    assert "without waits" in quote.basis


def test_any_number_of_workers_gives_the_same(samples: Path, monkeypatch) -> None:
    """In parts of four pieces."""
    monkeypatch.setattr(quoting, "TOGETHER", 4)
    job = chainplan.read_job(samples / "craft-fair.xlsx")
    assert chainplan.quote_job(job, workers=2) == chainplan.quote_job(job)


def test_a_piece_that_cannot_be_made_says_so_and_stays_out_of_the_sums(samples: Path) -> None:
    """Rings far too small for their weave."""
    job = chainplan.read_job(samples / "necklace.toml")
    (piece,) = job.pieces
    small = replace(piece, name="Too small", sections=(replace(piece.sections[0], inner_mm=1.1),))
    both = replace(job, pieces=(piece, small))
    quote, alone = chainplan.quote_job(both), chainplan.quote_job(job)
    assert quote.pieces[0] == alone.pieces[0]
    assert quote.pieces[1].reason
    assert (quote.price, quote.rings) == (alone.price, alone.rings)


def test_the_command_tells_a_table_and_writes_one(
    samples: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On the terminal, as JSON and as CSV: the same rings and prices."""
    job, table = str(samples / "craft-fair.xlsx"), tmp_path / "quote.csv"
    assert cli.main(["quote", job, "--csv", str(table), "--workers", "1"]) == 0
    said = capsys.readouterr().out
    assert cli.main(["quote", job, "--json", "--workers", "1"]) == 0
    record = json.loads(capsys.readouterr().out)
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["piece"] for row in rows] == [item["piece"] for item in record["pieces"]]
    assert [int(row["rings"]) for row in rows] == [item["rings"] for item in record["pieces"]]
    for row in rows:
        assert row["price"] in said
    assert str(record["price"]) in said
    assert record["basis"] in said


def test_a_table_that_cannot_be_written_is_one_message(
    samples: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder is not there."""
    wrong = str(tmp_path / "nowhere" / "quote.csv")
    job = str(samples / "necklace.toml")
    assert cli.main(["quote", job, "--csv", wrong, "--workers", "1"]) == 2
    assert "cannot be written" in capsys.readouterr().err
