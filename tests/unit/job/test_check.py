"""Checking a whole job: the same faults as laying all of it out, in less time."""

from __future__ import annotations

import pytest

import chainplan
from chainplan import weave
from chainplan.errors import InputError
from chainplan.public import jobs as public
from chainplan.weave.laying import piece as laying

ROWS = """name,weave,wire mm,inner mm,metal,length mm,rings,rows
Long,byzantine,1.0,3.6,copper,450,,
Short,byzantine,1.0,3.6,copper,60,,
Too small,box-chain,1.0,3.0,copper,100,,
Small too,box-chain,1.0,3.0,copper,120,,
Hangs,european-4-in-1,1.2,5.0,copper,100,,1
Holds,european-4-in-1,1.2,5.0,copper,100,,5
Wide,european-4-in-1,1.2,5.0,copper,110,,5
Counted,byzantine,1.0,3.6,copper,,60,
"""


def test_pieces_woven_alike_are_laid_out_once(tmp_path, monkeypatch):
    """And every fault is told all the same, as laying out every piece tells it."""
    job = tmp_path / "job.csv"
    job.write_text(ROWS, encoding="utf-8")
    with pytest.raises(InputError) as error:
        public.lay_out(chainplan.read_job(job))
    laid = []
    whole = weave.lay_piece

    def counted(piece, **given):
        laid.append(piece.name)
        return whole(piece, **given)

    monkeypatch.setattr(weave, "lay_piece", counted)
    assert chainplan.check_job(job) == error.value.faults
    assert len(error.value.faults) == 3
    assert laid == ["Long", "Too small", "Small too", "Hangs", "Holds", "Counted"]


def test_the_length_without_laying_out_is_the_length_laid_out(tmp_path):
    """Open, closed, counted and measured pieces."""
    job = tmp_path / "job.toml"
    job.write_text(
        "".join(
            f'[[piece]]\nname = "{k}"\nweave = "double-link"\nwire_mm = 1.0\ninner_mm = 4.5\n'
            f'metal = "copper"\n{more}\n'
            for k, more in enumerate(
                ("length_mm = 200.0", "rings = 60", "length_mm = 300.0\nclosed_loop = true",
                 "length_mm = 200.0\nmeasured_rings_per_cm = 4.0\nclasp_length_mm = 9.0")
            )
        ),
        encoding="utf-8",
    )  # fmt: skip
    for piece in chainplan.read_job(job).pieces:
        assert laying.fit_piece(piece) == pytest.approx(laying.lay_piece(piece).length_mm)
