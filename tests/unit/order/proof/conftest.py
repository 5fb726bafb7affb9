"""A short chain of the sample necklace under an interpass limit of the user's own, planned once."""

from dataclasses import replace
from pathlib import Path

import pytest

import chainplan

SAMPLES = Path(__file__).parents[4] / "samples"


@pytest.fixture(scope="package")
def job():
    whole = chainplan.read_job(SAMPLES / "necklace.toml")
    own = replace(whole.bench.heat, highest_interpass_c=60.0)
    whole = replace(whole, bench=replace(whole.bench, heat=own))
    piece = whole.pieces[0]
    short = replace(piece, sections=(replace(piece.sections[0], length_mm=100.0),))
    return replace(whole, pieces=(short,))


@pytest.fixture(scope="package")
def planned(job):
    return chainplan.make_plan(job).pieces[0]
