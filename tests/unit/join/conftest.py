"""Builders of small pieces in closed form: rings in space with the links that they have."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plain_section import plain_section

from chainplan.model.piece.layout import Layout, Loop
from chainplan.model.piece.weave import Repeat


def make_repeat(centre, normal, vectors, links, *, aspect_ratio=4.0, turn_rad=0.0):
    """A repeat of equal rings of wire 1; links are rows i, j, offset along, offset across."""
    centre, normal = np.asarray(centre, dtype=float), np.asarray(normal, dtype=float)
    k = centre.shape[0]
    return Repeat(
        weave="made-up",
        aspect_ratio=aspect_ratio,
        state="taut",
        centre=centre,
        normal=normal / np.linalg.norm(normal, axis=1, keepdims=True),
        mean_radius=np.full(k, (aspect_ratio + 1) / 2),
        wire=np.ones(k),
        ring_class=np.zeros(k, dtype=np.int32),
        vectors=np.asarray(vectors, dtype=float),
        turn_rad=turn_rad,
        links=np.asarray(links, dtype=np.int32).reshape(-1, 4),
        contacts=np.asarray(links, dtype=np.int32).reshape(-1, 4),
        residual_gap=0.0,
        width=aspect_ratio + 2,
        thickness=aspect_ratio + 2,
    )


def tile(repeat, along, across=1, *, wire_mm=1.0, closed=False, form="chain", with_repeat=True):
    """A piece of one section, a ring at a time: slow, plain, and on its own."""
    k = repeat.rings
    rows = [(b, a, p) for b in range(across) for a in range(along) for p in range(k)]
    number = {key: index for index, key in enumerate(rows)}
    centre, normal = [], []
    for b, a, p in rows:
        angle = a * repeat.turn_rad
        turn = np.array(
            [
                [1.0, 0.0, 0.0],
                [0.0, math.cos(angle), -math.sin(angle)],
                [0.0, math.sin(angle), math.cos(angle)],
            ]
        )
        shift = a * repeat.vectors[0] + (b * repeat.vectors[1] if len(repeat.vectors) > 1 else 0)
        centre.append((turn @ repeat.centre[p] + shift) * wire_mm)
        normal.append(turn @ repeat.normal[p])
    links = []
    for b, a, p in rows:
        for i, j, da, db in repeat.links.tolist():
            if i != p:
                continue
            other = ((b + db), (a + da) % along if closed else a + da, j)
            if other in number:
                links.append(sorted((number[b, a, p], number[other])))
    links = np.unique(np.array(links, dtype=np.int32).reshape(-1, 2), axis=0)
    places = np.array(rows, dtype=np.int32)
    n = len(rows)
    section = plain_section(
        n, len(links), weave=repeat.weave, form=form, metal="examplium", wire_mm=wire_mm,
        inner_mm=repeat.aspect_ratio * wire_mm, repeats=along, rows=across,
        length_mm=along * float(np.linalg.norm(repeat.vectors[0])) * wire_mm,
        width_mm=across * float(np.linalg.norm(repeat.vectors[-1])) * wire_mm,
        thickness_mm=repeat.thickness * wire_mm, repeat=repeat if with_repeat else None,
    )  # fmt: skip
    return Layout(
        piece="made-up piece",
        centre_mm=np.array(centre),
        normal=np.array(normal),
        mean_radius_mm=np.tile(repeat.mean_radius * wire_mm, along * across),
        wire_mm=np.tile(repeat.wire * wire_mm, along * across),
        section=np.zeros(n, dtype=np.int32),
        place=places[:, 2],
        along=places[:, 1],
        across=places[:, 0],
        row=places[:, 0] * k + places[:, 2],
        column=places[:, 1],
        links=links,
        contacts=links,
        sections=(section,),
        closed=closed,
        loop=_loop(repeat, along, wire_mm) if closed else None,
    )


def _loop(repeat, along, wire_mm):
    """Where the start stands again behind the end; its links are not asked for here."""
    return Loop(
        shift_mm=along * repeat.vectors[0] * wire_mm,
        turn_rad=along * repeat.turn_rad,
        links=np.zeros((0, 2), dtype=np.int32),
    )


def make_scene(centre, normal, *, radius_mm=2.5, wire_mm=1.0, links=(), form="chain"):
    """A piece of rings anywhere, each of them a place of its own in one repeat."""
    centre = np.atleast_2d(np.asarray(centre, dtype=float))
    n = centre.shape[0]
    normal = np.broadcast_to(np.asarray(normal, dtype=float), (n, 3))
    links = np.asarray(links, dtype=np.int32).reshape(-1, 2)
    repeat = make_repeat(
        centre / wire_mm,
        normal,
        [[1000.0, 0.0, 0.0]],
        [(i, j, 0, 0) for i, j in links.tolist()],
        aspect_ratio=2 * radius_mm / wire_mm - 1,
    )
    return tile(repeat, 1, wire_mm=wire_mm, form=form)


def single_link(aspect_ratio=4.0):
    """The repeat of a single-link chain: two rings, a pitch of the inner diameter each."""
    return make_repeat(
        [[0, 0, 0], [aspect_ratio, 0, 0]],
        [[0, 1, 1], [0, -1, 1]],
        [[2 * aspect_ratio, 0, 0]],
        [(0, 1, 0, 0), (1, 0, 1, 0)],
        aspect_ratio=aspect_ratio,
    )


def screw_chain(aspect_ratio=4.0, turn_deg=90.0):
    """The same chain as one ring that turns about the axis from ring to ring."""
    return make_repeat(
        [[0, 0, 0]],
        [[0, 1, 1]],
        [[aspect_ratio, 0, 0]],
        [(0, 0, 1, 0)],
        aspect_ratio=aspect_ratio,
        turn_rad=math.radians(turn_deg),
    )


def leaning_sheet(aspect_ratio=4.5):
    """Rows that lean to and fro, each ring through two of the row before and two after."""
    return make_repeat(
        [[0, 0, 0], [3.4, 1.8, 0]],
        [[0, -0.57, 0.82], [0, 0.57, 0.82]],
        [[6.8, 0, 0], [0, 3.6, 0]],
        [(0, 1, 0, 0), (1, 0, 0, 1), (1, 0, 1, 0), (1, 0, 1, 1)],
        aspect_ratio=aspect_ratio,
    )


@pytest.fixture(name="builders")
def fixture_builders():
    """All builders, for the tests of this folder."""

    class Builders:
        make_repeat = staticmethod(make_repeat)
        tile = staticmethod(tile)
        make_scene = staticmethod(make_scene)
        single_link = staticmethod(single_link)
        screw_chain = staticmethod(screw_chain)
        leaning_sheet = staticmethod(leaning_sheet)

    return Builders
