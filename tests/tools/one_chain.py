"""Jobs of a piece or two, for tests of what else may stand in a job."""

from __future__ import annotations

from chainplan.job import read_job

CHAIN = """
[[piece]]
name = "Chain"
weave = "byzantine"
wire_mm = 1.0
inner_mm = 3.5
metal = "copper"
length_mm = 100
"""
BRACELET_AND_EARRING = """
[[piece]]
name = "Bracelet"
weave = "single-link"
wire_mm = 1.2
inner_mm = 5.0
metal = "copper"
rings = 14

[[piece]]
name = "Earring"
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
rings = 6
"""


def job_of(tmp_path, four_weaves, rows):
    """The chain with further rows, as it is read."""
    path = tmp_path / "job.toml"
    path.write_text(CHAIN + rows, encoding="utf-8")
    return read_job(path, weaves=four_weaves)
