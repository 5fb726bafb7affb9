"""Fittings that are there while joins are welded stand in the electrode's way."""

from __future__ import annotations

import numpy as np
import pytest

import chainplan
from chainplan.join.reaching.bodies import fitting_bodies
from chainplan.join.reaching.electrode import shape_electrode
from chainplan.join.reaching.reach import ReachRules, find_reach, list_own_tries
from chainplan.join.reaching.surroundings import Neighbourhood

JOB = """
[[piece]]
name = "Chain"
section = 1
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
rings = 8

[[piece]]
name = "Chain"
section = 2
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
rings = 8

[[fitting]]
piece = "Chain"
fitting = "oval stone"
kind = "stone setting"
where = "between 1 and 2"
length_mm = 14
fitted = "{fitted}"

[[fitting]]
piece = "Chain"
fitting = "clasp"
kind = "clasp"
where = "start"
length_mm = 12
fitted = "{fitted}"
"""


def planned(tmp_path, fitted):
    """Plan the chain, its fittings there or not yet."""
    file = tmp_path / "job.toml"
    file.write_text(JOB.format(fitted=fitted), encoding="utf-8")
    job = chainplan.read_job(file)
    (piece,) = chainplan.make_plan(job).pieces
    return job, piece


def nearest_mm(job, piece, points):
    """Least distance of points from the electrode at any join welded in place."""
    electrode = shape_electrode(job.bench.electrode)
    layout, joins = piece.layout, piece.joins
    least = np.inf
    for ring in np.flatnonzero(~joins.pre_closed).tolist():
        axis = joins.approach[ring]
        out = joins.point_mm[ring] - layout.centre_mm[ring]
        along = np.cross(layout.normal[ring], out)
        along /= np.linalg.norm(along)
        side = axis - (axis @ along) * along
        tip = joins.point_mm[ring] + layout.wire_mm[ring] / 2 * side / np.linalg.norm(side)
        offset = points - tip
        height = offset @ axis
        across = np.sqrt(np.maximum((offset**2).sum(axis=1) - height**2, 0.0))
        least = min(least, float(electrode.distance_mm(height, across).min()))
    return least


def rod_of(laid, eyes_mm, half_mm):
    """Points on the axis of a rod with round ends that lies between a fitting's eyes."""
    ends = np.array([laid.from_mm, laid.to_mm])
    long = np.linalg.norm(ends[1] - ends[0])
    share = np.linspace(eyes_mm[0] + half_mm, long - eyes_mm[1] - half_mm, 400) / long
    return ends[0] + share[:, None] * (ends[1] - ends[0])


def test_a_body_lies_between_its_eyes_a_quarter_of_its_length_thick(tmp_path):
    """Stone: 14 mm, an eye of 1.5 wires at either side, 3.5 mm to either side of its line."""
    _, piece = planned(tmp_path, "before welding")
    balls, radii = fitting_bodies(piece.layout)
    stone, clasp = (
        next(f for f in piece.layout.fittings if f.name == n) for n in ("oval stone", "clasp")
    )
    assert sorted(set(radii.tolist())) == [3.0, 3.5]
    at = balls[radii == 3.5]
    off = np.linalg.norm(at - np.array(stone.from_mm), axis=1)
    assert off.min() == pytest.approx(1.5 + 3.5)
    assert off.max() == pytest.approx(14 - 1.5 - 3.5)
    own = balls[radii == 3.0]
    ends = np.array([clasp.from_mm, clasp.to_mm])
    reach = sorted(float(np.linalg.norm(own - end, axis=1).min()) for end in ends)
    assert reach == pytest.approx([3.0, 1.5 + 3.0])  # nothing pulls at its far end


def test_the_electrode_stays_off_what_is_there(tmp_path):
    """Joins beside stone and clasp are turned or approached so that the rod is not touched."""
    job, piece = planned(tmp_path, "before welding")
    laid = {item.name: item for item in piece.layout.fittings}
    rod = rod_of(laid["oval stone"], (1.5, 1.5), 3.5)
    clear_mm = job.bench.electrode.clearance_mm
    assert nearest_mm(job, piece, rod) >= 3.5 * 0.968 + clear_mm - 0.01


def test_a_body_takes_ways_to_the_joins_beside_it_and_none_far_off(tmp_path):
    """Of the ring beside the stone fewer joins and directions will do; of a far one the same."""
    job, piece = planned(tmp_path, "before welding")
    _, later = planned(tmp_path, "after welding")
    assert fitting_bodies(later.layout)[1].size == 0
    electrode = shape_electrode(job.bench.electrode)
    clear_mm = job.bench.electrode.clearance_mm
    rules = ReachRules(spot_mm=0.6, margin_mm=0.1, clearance_mm=clear_mm)
    stone = next(f for f in piece.layout.fittings if f.name == "oval stone")
    found = {}
    for name, one in (("there", piece), ("not yet", later)):
        near = Neighbourhood(one.layout, search_mm=12.0)
        found[name] = []
        for ring in (stone.rings[0], 4):
            scene = near.around(ring, 0.0)
            tries = list_own_tries(scene.own, electrode, clearance_mm=clear_mm)
            found[name].append(set(find_reach(scene, tries, electrode, rules).row.tolist()))
    beside, far = zip(found["there"], found["not yet"], strict=True)
    assert beside[0] < beside[1]
    assert far[0] == far[1]
