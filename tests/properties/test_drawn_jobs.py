"""Nothing sound is refused as our fault: jobs drawn by chance, and those that once were, plan.

``python tests/bench/random_jobs.py COUNT FIRST`` draws as many more as one likes.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from drawn_jobs import FOLLOW_UPS, draw_job, run_job, write_files
from drawn_jobs.rings import OWN_WEAVE, SAMPLES

JOBS = range(4001, 4009)
"""Small jobs; one of them is planned for one or two seconds."""
SOUND = Path(__file__).parents[1] / "data" / "sound_jobs"
REFUSED = {
    "connecting-ring-in-full-end": r"ring of 'clasp .* without overlap; give the fitting",
    "charm-on-a-loop": r"goes through no ring of 'Tide loop 3' at 1 mm from start without overlap",
    "graduated-in-large-steps": r"from step to step .* a ring is too small for the wire beside it",
}
"""Jobs that no hand could make, which came out as plans with wires in one another."""
FOLLOWED = {
    "examples-beside-closed-rings": ("begun",),
    "loose-joins-in-a-chain": ("begun",),
    "repair-in-italian": ("begun",),
}
"""Jobs whose plan was sound, and what was refused after it."""
SENTENCE = re.compile(r"chainplan: .{20,}", re.DOTALL)


@pytest.fixture(autouse=True)
def _own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("CHAINPLAN_CACHE", str(tmp_path / "cache"))


@pytest.mark.parametrize("number", JOBS)
def test_drawn_job_is_planned_or_refused_by_its_input(number, tmp_path):
    """No trace, no contradiction, no warning of a library, whatever stands in the job."""
    ways = tuple(FOLLOW_UPS)
    follow = (ways[number // 2 % len(ways)],) if number % 2 == 0 else ()
    run = run_job(write_files(draw_job(number), tmp_path / "job"), follow=follow)
    assert run.outcome in {"planned", "refused"}, f"{run.step}: {run.said}"
    if run.outcome == "refused":
        assert SENTENCE.match(run.said), run.said
        assert "Error" not in run.said


def test_most_drawn_jobs_can_be_made():
    """A strategy whose jobs are mostly refused would test the reader alone."""
    content = [draw_job(number) for number in JOBS]
    assert len({str(one) for one in content}) == len(content)
    weaves = {row["weave"] for one in content for row in one["pieces"]}
    assert len(weaves) > 8
    assert sum("fittings" in one for one in content) > 3


@pytest.mark.parametrize("file", sorted(SOUND.glob("*.toml")), ids=lambda file: file.stem)
def test_job_that_was_refused_as_our_fault(file, tmp_path):
    """Each was drawn once and made the examiner, or the plan itself, say what is not so."""
    shutil.copy(SAMPLES / OWN_WEAVE, tmp_path / OWN_WEAVE)
    job = Path(shutil.copy(file, tmp_path / "job.toml"))
    run = run_job(job, follow=FOLLOWED.get(file.stem, ()))
    expected = REFUSED.get(file.stem)
    if expected is None:
        assert run.outcome == "planned", f"{run.step}: {run.said}"
    else:
        assert run.outcome == "refused", f"{run.step}: {run.said}"
        assert re.search(expected, run.said), run.said
