"""A whole job as rows by sheet, drawn so that all that stands in it can stand together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from drawn_jobs.pieces import pieces
from drawn_jobs.rings import LARGE, SMALL, Scale
from drawn_jobs.things import things_on
from drawn_jobs.workshop import (
    bench_rows,
    machine_rows,
    people_rows,
    price_rows,
    recorded_rows,
    stock_rows,
)

if TYPE_CHECKING:
    from drawn_jobs.pieces import Row

__all__ = ["LARGE", "OWN_METAL", "SMALL", "Content", "Scale", "draw_job", "jobs"]

Content = dict[str, list[dict[str, Any]]]
OWN_METAL = {
    "metal": "studio-white", "like": "sterling-silver", "title": "studio white silver",
    "source": "invented: supplier's data sheet", "density": "10.0 / 10.3 / 10.6",
    "yield half-hard": 250.0,
}  # fmt: skip


@st.composite
def jobs(draw: st.DrawFn, scale: Scale = SMALL) -> Content:
    """A sound job."""
    count = draw(st.integers(1, scale.most_pieces))
    drawn = [draw(pieces(number, scale)) for number in range(1, count + 1)]
    content: Content = {"pieces": [row for piece in drawn for row in piece.rows]}
    content["designs"] = [row for piece in drawn for row in piece.designs]
    if draw(st.integers(1, 6)) == 6:
        content["metals"] = [OWN_METAL]
        content["pieces"][0] |= {"metal": OWN_METAL["metal"], "temper": "half-hard"}
    content["bench"] = draw(bench_rows())
    content["people"] = draw(people_rows())
    content["machines"] = draw(machine_rows())
    fittings: list[Row] = []
    parts: list[Row] = []
    for piece in drawn:
        of_piece, on_piece = draw(things_on(piece))
        fittings += of_piece
        parts += on_piece
    content |= {"fittings": fittings, "parts": parts}
    wires = list(dict.fromkeys(
        (row["metal"], row["wire"], row.get("inner") or row.get("mandrel") or 4 * row["wire"])
        for row in content["pieces"]
    ))  # fmt: skip
    content["prices"] = draw(price_rows(sorted({metal for metal, _, _ in wires})))
    content["stock"] = draw(stock_rows(wires))
    content["recorded"] = draw(recorded_rows(wires))
    return {sheet: rows for sheet, rows in content.items() if rows}


def draw_job(number: int, scale: Scale = SMALL) -> Content:
    """Draw one job by its number, the same at any time.

    Of a row of examples the first is the plainest and the later ones are like those before; so each
    job is the second of a row of its own.
    """
    drawn: list[Content] = []

    @seed(number)
    @settings(
        max_examples=2, database=None, deadline=None, derandomize=False, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(jobs(scale))
    def keep(content: Content) -> None:
        drawn.append(content)

    keep()
    return drawn[-1]
