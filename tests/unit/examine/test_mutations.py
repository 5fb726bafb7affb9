"""One wrong number anywhere in a finished plan is found."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from chainplan.errors import InputError
from chainplan.examine import examine_folder

NAMES = ("rings.csv", "links.csv", "weld-order.csv", "plan.json", "bench-sheet.html")
PRINTED = ("the workbook is the plan", "the paper is the weld order")
"""Checks that take longer: they are asked only where the others find nothing."""
NO_SECOND_SOURCE = {
    # Where the job file stood, and what the columns of the bench log mean.
    "job_file",
    "columns.*.*",
    # A sentence about a source, not about the plan.
    "estimates.sources.*.title",
    "estimates.figures.piece.hallmark.source",
    "estimates.figures.piece.*.source",
    # The model of melting stands in no file: what it gives can be put in order, not reckoned anew.
    "estimates.settings.*.figures.*.low",
    "estimates.settings.*.figures.*.usual",
    "estimates.settings.*.figures.*.high",
    "estimates.settings.*.figures.*.basis",
    # Springback of wire on a mandrel, and rings that would suit: only named, not shown.
    "pieces.*.sections.*.suitable_inner_mm.*",
    "pieces.*.sections.*.reasons.*",
    # Orders and ways that are compared with, but not written out.
    "pieces.*.closing_ways.*.turns",
    "order.pieces.*.comparisons.*.warmest_interpass_c",
    "order.pieces.*.comparisons.*.warmest_without_waits_c",
    # End to end without a pause is told, not written out; what the search counted by is its own.
    "order.pieces.*.gains.unpaused.*.ring",
    "order.pieces.*.gains.unpaused.*.usual_c",
    "order.pieces.*.gains.unpaused.*.high_c",
    "order.pieces.*.gains.unpaused.*.usual_after_s",
    "order.pieces.*.gains.unpaused.*.high_after_s",
    "order.pieces.*.gains.fingers_counted",
    "order.pieces.*.gains.to_remember",
    "order.pieces.*.gains.a_thing_s",
    "order.pieces.*.gains.little_s",
    # Ways of earthing that are not taken are told in whole minutes.
    "order.pieces.*.earthing.times.*.bench_time_s",
    # Samples are drawn, not written out.
    "order.pieces.*.chance.decides",
    "order.pieces.*.chance.runs",
    "order.pieces.*.chance.by_limit.*.kept",
    "order.pieces.*.chance.by_limit.*.usual_c",
    "order.pieces.*.chance.by_limit.*.nine_in_ten_c",
    "order.pieces.*.chance.by_limit.*.sways.*.number",
    "order.pieces.*.chance.by_limit.*.sways.*.share",
    "order.pieces.*.chance.by_limit.*.sways.*.low_k",
    "order.pieces.*.chance.by_limit.*.sways.*.high_k",
    # Which visit to the welder, and how often it is set anew: counted, not listed.
    "schedule.tasks.*.visit",
    "schedule.changes",
    # What a late day of a piece weighs: the job's own word.
    "estimates.due.*.late_weight",
    # Sentences whose numbers stand nowhere else; a limit of just half a degree, rounded either way.
    "pieces.*.below.*",
    # The sheet's own words and rules, and waits that only the planner's clock works out.
    "guard_ms",
    "hold_ms",
    "away_s",
    "away_times",
    "skipped_s",
    "large_from_s",
    "faster_share",
    "pieces.*.start_mm",
    "pieces.*.rest_s",
    "pieces.*.cold_s",
    "pieces.*.faster.*.share",
    "pieces.*.faster.*.wait.*",
    # Why a limit is there: a sentence with its source; and where the fingers have it warmest.
    "order.pieces.*.limits.*.why",
    "order.pieces.*.limits.*.ring",
    # Fingers on the edge between two cells, where the rounded places leave both open.
    "order.pieces.*.limits.*.low_c",
    "order.pieces.*.limits.*.usual_c",
    # Peaks of what stands by in single runs: between each other they can be put in order alone.
    "pieces.*.stand_by.*.planned.body_usual_c",
    "pieces.*.stand_by.*.planned.body_high_c",
    "pieces.*.stand_by.*.planned.ring_usual_c",
    "pieces.*.stand_by.*.planned.ring_high_c",
    "pieces.*.stand_by.*.nearest_ring",
    "pieces.*.stand_by.*.largest_share",
    # How far a part's mark is drawn beyond the part.
    "pieces.*.parts.*.left",
    "pieces.*.parts.*.right",
}
"""Fields whose number stands once in the files, or partly so: a change may or may not be found."""


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
