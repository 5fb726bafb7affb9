"""A job as plain rows, as every kind of job file holds them; what the writers write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from chainplan.job.bench import JOB_GROUP, START_DATE, bench_settings, setting_words
from chainplan.job.own_metals import FIELDS, LIKE, ROW_SOURCE, YIELD

if TYPE_CHECKING:
    from chainplan.model.job import HeatSensitivePart, Job, Piece
    from chainplan.model.metal import Metal, Value

Content = Mapping[str, Sequence[Mapping[str, Any]]]
"""Rows by sheet; each row is values by column name, lengths in mm. Blank cells are left out."""


def content_of(job: Job) -> dict[str, list[dict[str, Any]]]:
    """Turn a job back into rows that read as the same job."""
    return {
        "pieces": [row for piece in job.pieces for row in _piece_rows(piece)],
        "bench": _bench_rows(job),
        "prices": [
            _filled(item=p.item, price=p.price, per=p.per, date=p.date, note=p.note)
            for p in job.prices
        ],
        "stock": [
            {
                **_filled(kind=s.kind, metal=s.metal, temper=s.temper, size=s.size_mm),
                **_filled(inner=s.inner_mm, amount=s.amount, pack=s.pack, note=s.note),
            }
            for s in job.stock
        ],
        "parts": [_part_row(part) for piece in job.pieces for part in piece.parts],
        "metals": [_metal_row(metal) for metal in job.metals.values()],
        "recorded": [
            *(
                _filled(
                    metal=s.metal, wire=s.wire_mm, power=s.power_j, hits=s.hits, tip=s.tip,
                    note=s.note,
                )
                for s in job.recorded
            ),
            *(
                _filled(
                    metal=r.metal, temper=r.temper, wire=r.wire_mm, mandrel=r.mandrel_mm,
                    inner=r.inner_mm, note=r.note,
                )
                for r in job.measured_rings
            ),
        ],
    }  # fmt: skip


def _filled(**values: Any) -> dict[str, Any]:
    """Leave out what is empty: no text, no number, none at all."""
    return {
        name: value
        for name, value in values.items()
        if value is not None and value != "" and (name == "price" or value != 0)
    }


def _piece_rows(piece: Piece) -> list[dict[str, Any]]:
    rows = []
    for number, section in enumerate(piece.sections, 1):
        row: dict[str, Any] = {"name": piece.name}
        if number == 1:
            row["quantity"] = piece.quantity
        if len(piece.sections) > 1:
            row["section"] = number
        by_mandrel = section.mandrel_mm is not None
        row |= {
            "weave": section.weave,
            "wire": section.wire_mm,
            "inner": None if by_mandrel else section.inner_mm,
            "mandrel": section.mandrel_mm,
            "metal": section.metal,
            "temper": section.temper,
            "length": section.length_mm,
            "rings": section.rings,
            "rows": section.rows,
            "second wire": section.second_wire_mm,
            "second inner": section.second_inner_mm,
            "measured rings per cm": section.measured_rings_per_cm,
        }
        if number == 1:
            row |= {
                "clasp length": piece.clasp_length_mm or None,
                "closed loop": True if piece.closed else None,
                "rounding": None if piece.rounding == "nearest" else piece.rounding,
                "closing way": (None if piece.closing_way == "all in place" else piece.closing_way),
                "list price": piece.list_price,
                "due": piece.due,
                "notes": piece.notes or None,
            }
        rows.append({name: value for name, value in row.items() if value is not None})
    return rows


def _part_row(part: HeatSensitivePart) -> dict[str, Any]:
    row = _filled(piece=part.piece, part=part.name, kind=part.kind, limit=part.limit_c)
    row |= {"place": part.place_mm, "from": "end" if part.from_end else "start"}
    more = {"row": part.row, "covers": part.length_mm, "heat sink": part.sink_w_k}
    return row | _filled(**more, source=part.source)


def _bench_rows(job: Job) -> list[dict[str, Any]]:
    """Write the settings that differ from their defaults."""
    rows: list[dict[str, Any]] = []
    if job.start_date is not None:
        name = setting_words(START_DATE)
        rows.append({"group": JOB_GROUP, "setting": name, "value": job.start_date})
    for info in bench_settings():
        value = getattr(getattr(job.bench, info.group), info.name)
        if value != info.default:
            rows.append({"group": info.group, "setting": setting_words(info), "value": value})
    return rows


def _metal_row(metal: Metal) -> dict[str, Any]:
    """Write what the user gave; what another metal filled in is left to it again."""
    source = metal.notes.get(ROW_SOURCE, "")
    row: dict[str, Any] = {"metal": metal.key}
    if LIKE in metal.notes:
        row["like"] = metal.notes[LIKE]
    row |= {"title": metal.title, "source": source}
    for column, field in FIELDS.items():
        value = getattr(metal, field)
        if value is not None and (LIKE not in metal.notes or value.source == source):
            row[column] = _range_text(value)
    for temper, value in metal.yield_mpa.items():
        if LIKE not in metal.notes or value.source == source:
            row[f"{YIELD}{temper}"] = _range_text(value)
    words = {
        "weldability": metal.weldability, "weld note": metal.weld_note,
        "fume caution": metal.fume_caution, "skin caution": metal.skin_caution,
        "precious": metal.precious, "fineness": metal.fineness,
    }  # fmt: skip
    return row | {name: value for name, value in words.items() if value not in ("", None)}


def _range_text(value: Value) -> Any:
    if value.low == value.usual == value.high:
        return value.usual
    return f"{value.low!r} / {value.usual!r} / {value.high!r}"
