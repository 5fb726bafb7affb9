"""One wrong number anywhere in a finished plan is found."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from chainplan.errors import InputError
from chainplan.examine import examine_folder

NAMES = ("rings.csv", "links.csv", "weld-order.csv", "plan.json", "bench-sheet.html")
PRINTED = (
    "the workbook is the plan", "the paper is the weld order", "the quotes are the plan",
    "the pages of joins are the joins", "the weaving pages are the rings",
    "the charts are the plan",
    "the sheet to fill in is the plan's", "the weeks on the wall are the schedule",
)  # fmt: skip
"""Checks that take longer: they are asked only where the others find nothing."""
NO_SECOND_SOURCE = {
    # Where the job file stood; prose on what a column of the log, a value or a source is.
    "job_file",
    "columns.*.*",
    "estimates.sources.*.title",
    "samples.*.source",
    "estimates.figures.piece.hallmark.source",
    "estimates.figures.piece.*.source",
    # What a late day of a piece weighs: the job's own word, which the schedule is made from.
    "estimates.due.*.late_weight",
    # Rings that would suit and turns of ways not taken: that needs a weave solved anew, which is
    # the stage's own work, and joins of ways that are not written.
    "pieces.*.sections.*.suitable_inner_mm.*",
    "pieces.*.closing_ways.*.turns",
    # Free, random and alternating orders are compared with and not written out: they are held to
    # the bound, the limits and the sum of their parts. End to end is put in order anew.
    "order.pieces.*.comparisons.*.warmest_interpass_c",
    "order.pieces.*.comparisons.*.warmest_without_waits_c",
    # Things to keep in mind as the search counted them, which is more than passes.
    "order.pieces.*.gains.to_remember",
    # Of what fingers and a part have warmest the temperature is compared; which of several rings
    # it is named by is the stage's choice.
    "order.pieces.*.gains.unpaused.*.ring",
    "order.pieces.*.limits.*.ring",
    "pieces.*.stand_by.*.nearest_ring",
    # Fingers on the edge between two cells, where rounded places leave both open: what is told
    # lies between the two.
    "order.pieces.*.limits.*.low_c",
    "order.pieces.*.limits.*.usual_c",
    "order.pieces.*.gains.unpaused.*.usual_c",
    "order.pieces.*.gains.unpaused.*.high_c",
    "order.pieces.*.gains.unpaused.*.usual_after_s",
    "order.pieces.*.gains.unpaused.*.high_after_s",
    # The rings that would be welded last, on their own from cold: no order that is written.
    "pieces.*.stand_by.*.set_last.ring_usual_c",
    "pieces.*.stand_by.*.set_last.ring_high_c",
    # Ways of earthing that are not taken are told in whole minutes.
    "order.pieces.*.earthing.times.*.bench_time_s",
    # Drawn anew by another seed: a tenth more or less may lie within what two thousand draws
    # scatter, or, of a number that moves next to nothing, within rounding.
    "order.pieces.*.chance.by_limit.*.nine_in_ten_c",
    "order.pieces.*.chance.by_limit.*.sways.*.low_k",
    "order.pieces.*.chance.by_limit.*.sways.*.high_k",
    # Told on a row of times a fifth apart, and rounded up: held to the true time and a fifth more.
    "pieces.*.rest_s",
    "pieces.*.cold_s",
    # Limits hold with these waits, which is simulated; a wait longer than it need be breaks none.
    "pieces.*.faster.*.wait.*",
    # How far a part's mark is drawn beyond the part.
    "pieces.*.parts.*.left",
    "pieces.*.parts.*.right",
}
"""Fields of which one number may be another without anything in the folder saying so, and why."""


def load_mutations():
    """The module beside this one, which is no test."""
    path = Path(__file__).with_name("mutations.py")
    spec = importlib.util.spec_from_file_location("mutations", path)
    module = sys.modules["mutations"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module", name="mutations")
def fixture_mutations():
    """What makes the mutations."""
    return load_mutations()


@pytest.mark.parametrize("seed", [0])
def test_one_wrong_number_in_any_field_of_any_file_is_found(bare, mutations, seed):
    """Some hundred plans, each with one number or word changed, drawn by a seed."""
    files = {name: (bare / name).read_text(encoding="utf-8") for name in NAMES}
    assert examine_folder(bare).ok  # or every change would count as found
    tried, missed = 0, []
    for mutation in mutations.all_mutations(files, seed, 1):
        if mutation.field in NO_SECOND_SOURCE or mutation.field.startswith("texts."):
            continue
        tried += 1
        path = bare / mutation.file
        path.write_text(mutation.text, encoding="utf-8")
        try:
            if examine_folder(bare, without=PRINTED).ok and examine_folder(bare).ok:
                missed.append(f"{mutation.file}, {mutation.field}: {mutation.place}")
        except InputError:
            pass  # it says that this is no plan
        finally:
            path.write_text(files[mutation.file], encoding="utf-8")
    assert tried > 300
    assert missed == [], "\n".join(missed)
    assert examine_folder(bare).ok
