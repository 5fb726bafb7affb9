"""Good files of every kind that is read, small, with one of everything: fuzzing begins here."""

from __future__ import annotations

import datetime
import io
import json
import struct
import tempfile
import zipfile
import zlib
from pathlib import Path
from typing import Any

import numpy as np

from chainplan.model.workshop.bench_log import BY_HAND_COLUMNS, LOG_COLUMNS
from chainplan.model.workshop.record import KnownPiece, KnownPlan
from chainplan.weave.library import LIBRARY_FOLDER

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
PEOPLE_AND_DESIGNS = """start_date = 2027-01-11
[[piece]]
name = "Drip"
quantity = 2
weave = "single-link"
wire_mm = 0.9
inner_mm = 3.2
metal = "studio-white"
length_mm = 45.0
due = 2027-02-05
minutes = "weave 20, finish 5.5"
late_weight = 2
design = "stripes"
grade_inner_mm = 4.0
grade_way = "to the middle and back"
[[piece]]
name = "Panel"
weave = "european-4-in-1"
wire = "18SWG"
inner = "6 mm"
metal = "copper"
length = "60 mm"
rows = 8
lies = "laid flat"
design = "sun"
[[fitting]]
piece = "Drip"
fitting = "ear wire"
kind = "ear wire"
where = "start"
length_mm = 18.0
connecting_rings = 1
mass = 0.4
price = 1.10
delivery_days = 3
fitted = "after welding"
[[fitting]]
piece = "Drip"
fitting = "glass drop"
kind = "pendant"
where = "end"
length_mm = 12.0
heat_kind = "own"
limit = 150.0
source = "invented"
[[design]]
design = "stripes"
rule = "list along"
which = "AAB"
metals = "A copper, B brass"
[[design]]
design = "stripes"
rule = "place in repeat"
which = "last"
metals = "brass"
[[design]]
design = "sun"
rule = "picture"
which = "picture.png"
metals = "brass, copper"
picture_width_mm = 40
[[design]]
design = "sun"
rule = "grid"
which = "grid.csv"
metals = "A copper, B brass"
laid = "again and again"
[[design]]
design = "sun"
rule = "rows"
which = "1-2, 5, last, every 3rd from 2"
metals = "copper"
[[person]]
person = "Ann"
hours = 4
begins = 8.5
working_days = "Mon to Thu"
days_off = "9 March 2027, 2027-03-10"
stations = "weave, finish"
pace = 1.2
wage = 28
[[person]]
person = "Ben"
[[metal]]
metal = "studio-white"
like = "sterling-silver"
source = "invented"
density = "10.2 / 10.3 / 10.4"
liquidus = 900
[[recorded]]
metal = "copper"
wire_mm = 1
mandrel_mm = 5
inner_mm = 5.2
[[recorded]]
metal = "copper"
wire = "1 mm"
power = 14
hits = 2
tip = "blunt"
[[price]]
item = "extra gift box"
price = 3.50
per = "each"
date = 2027-01-08
[[price]]
item = "wire premium copper"
price = 2.1
per = "kg"
[[price]]
item = "stone setting"
price = 12
per = "each"
[[stock]]
kind = "rings"
metal = "copper"
size_mm = 1.0
inner_mm = 4.0
amount = 40
[[part]]
piece = "Panel"
part = "amber"
kind = "amber"
place_mm = 10
row = 2
covers_mm = 6
heat_sink = 0.1
[bench.money]
currency = "GBP"
margin_percent = 35.00
[bench.calendar]
working_days = "Mon-Fri"
days_off = "2027-01-12"
[bench.quote]
logo = "picture.png"
shop = "Studio Invented"
"""
GRID = b"A,B,,A\n,,\nB,B,A,A\n" + b"A,B,A,B,A,B,A,B\n" * 9
COOLING = (SAMPLES / "cooling.csv").read_bytes()
WORDS = ("byzantine", "1.0mm", "3.5 mm", "sterling", "450mm", "18AWG", "5/16 in", "annealed", "12")
CHANGES = (
    "metal:sterling-silver+10%", "wage=35", "yield=0.95", "argon=0.05", "stations.cut_s=3",
    "tip=2,40", "premium:copper-5%", "margin=40",
)  # fmt: skip


def picture() -> bytes:
    """Make a PNG of 12 × 8 dots with red, green, blue and opacity, in three stretches of data."""
    shades = [(200, 120, 60, 255), (230, 200, 90, 255), (0, 0, 0, 0), (128, 128, 128, 200)]
    rows = b"".join(
        b"\0" + b"".join(bytes(shades[(x * y + x) % 4]) for x in range(12)) for y in range(8)
    )
    data = zlib.compress(rows)
    third = len(data) // 3
    parts = [
        (b"IHDR", struct.pack(">IIBBBBB", 12, 8, 8, 6, 0, 0, 0)),
        (b"gAMA", struct.pack(">I", 45455)),
        (b"tEXt", b"Title\0invented"),
        (b"IDAT", data[:third]),
        (b"IDAT", data[third : 2 * third]),
        (b"IDAT", data[2 * third :]),
        (b"IEND", b""),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunk(kind, body) for kind, body in parts)


def chunk(kind: bytes, body: bytes) -> bytes:
    """Return one stretch of a PNG with its length and check sum."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def with_true_sums(content: bytes) -> bytes:
    """Return a damaged PNG with check sums that fit, so that the damage gets past them."""
    made, at = content[:8], 8
    while at + 8 <= len(content):
        length = struct.unpack(">I", content[at : at + 4])[0]
        body = content[at + 8 : at + 8 + length]
        kind = content[at + 4 : at + 8]
        made += content[at : at + 4] + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        at += 12 + len(body)
    return made


def workbook_of(content: dict[str, list[dict[str, object]]], rows: int = 12) -> bytes:
    """Write the first rows of every sheet of a job as a plain workbook."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for sheet, lines in content.items():
        page = book.create_sheet(sheet)
        names = list(dict.fromkeys(name for row in lines[:rows] for name in row))
        page.append([f"{name} mm" if name in LENGTHS else name for name in names])
        for row in lines[:rows]:
            values = [row.get(name) for name in names]
            page.append([v if isinstance(v, int | float | str) else v and str(v) for v in values])
    whole = io.BytesIO()
    book.save(whole)
    return whole.getvalue()


LENGTHS = {"wire", "inner", "mandrel", "length", "clasp length", "place", "covers", "size"} | {
    "grade inner",
    "picture width",
}


def table_workbook(rows: list[list[object]]) -> bytes:
    """Write one sheet of rows."""
    from openpyxl import Workbook

    book = Workbook()
    for row in rows:
        book.active.append(row)
    whole = io.BytesIO()
    book.save(whole)
    return whole.getvalue()


def typed_rows() -> list[list[object]]:
    """Return what somebody typed into the sheet for a workshop without a tablet."""
    names = [name for name, _ in BY_HAND_COLUMNS]
    filled: list[dict[str, object]] = [
        {"result": "wire lot", "at": "2027-01-11 08:50", "metal": "copper", "wire_mm": 1.0,
         "lot": "L-1"},
        {"result": "cylinder", "at": "2027-01-11 08:58", "bar": 150},
        {"result": "begins", "at": "2027-01-11 09:00", "person": "Ann"},
        {"result": "done", "at": "2027-01-11 09:04", "piece": "Chain", "ring": "1-2, 7-9",
         "copy": 1, "work_s": 6.4},
        {"result": "again", "piece": "Chain", "copy": 2, "ring": 3, "note": "gap still open"},
        {"result": "finished", "at": "1 March 2027 9:00", "piece": "Chain", "station": "weave",
         "minutes": 195},
        {"result": "measured", "at": "2027-03-01T09:10:00+01:00", "piece": "Chain",
         "what": "rings per cm", "value": "12,5"},
    ]  # fmt: skip
    return [names, *([row.get(name, "") for name in names] for row in filled)]


def as_csv(rows: list[list[object]]) -> bytes:
    """Write rows as CSV with quotes where they are needed."""
    import csv

    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue().encode()


def known_plan() -> KnownPlan:
    """Make the invented plan that the seeds' bench logs belong to."""
    ones = np.ones(40, dtype=np.int32)
    piece = KnownPiece(
        name="Chain", copies=2, rings=40, sections=(), ring=np.arange(1, 41, dtype=np.int32),
        pass_number=ones, section=ones, power_j=8.0 * ones, hits=ones, tip=("sharp",) * 40,
        pace_s=5.0 * ones, wait_s=0.0 * ones,
    )  # fmt: skip
    return KnownPlan(
        key="k", mark="abcdef012345", stamp="invented", job="invented", pieces=(piece,), turns=(),
        bench={}, root="k",
    )  # fmt: skip


def small_plan(folder: Path) -> dict[str, bytes]:
    """Plan a few rings and return the files of the plan by name."""
    import chainplan

    job = folder / "small.toml"
    job.write_text(
        '[[piece]]\nname = "Chain"\nweave = "single-link"\nwire_mm = 1.0\ninner_mm = 4.0\n'
        'metal = "copper"\nrings = 6\n[[price]]\nitem = "copper"\nprice = 16\nper = "kg"\n',
        encoding="utf-8",
    )
    chainplan.write_plan(chainplan.make_plan(chainplan.read_job(job)), folder / "plan")
    files = sorted(path for path in (folder / "plan").iterdir() if path.is_file())
    return {path.name: path.read_bytes() for path in files}


BEGUN = """start_date = 2027-01-11
[[piece]]
name = "Chain"
quantity = 2
weave = "single-link"
wire_mm = 1.2
inner_mm = 5.0
metal = "copper"
rings = 8
[[piece]]
name = "Two"
weave = "byzantine"
wire_mm = 1.0
inner_mm = 3.6
metal = "sterling-silver"
length_mm = 20
[[price]]
item = "copper"
price = 16
per = "kg"
"""
BEGUN_AT = datetime.datetime(2027, 1, 11, 9, 30)


def begun_plan(folder: Path) -> tuple[Any, list[dict[str, bytes]]]:
    """Plan a job, record some welds, plan the rest; return the plan and both folders' files."""
    import csv

    import chainplan
    from chainplan.public.recording import record_logs
    from chainplan.public.replanning import replan

    job = folder / "begun.toml"
    job.write_text(BEGUN, encoding="utf-8")
    target = folder / "output" / "begun"
    plan = chainplan.make_plan(chainplan.read_job(job))
    chainplan.write_plan(plan, target)
    with (target / "weld-order.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["piece"] == "Chain"][:4]
    mark = json.loads((target / "plan.json").read_bytes())["stamp"]["input_sha256"][:12]
    names = list(LOG_COLUMNS)
    lines: list[list[object]] = [[*names]]
    for k, row in enumerate(rows):
        told = {
            "plan": mark, "piece": "Chain", "copy": 1, "work_s": 8, "step": row["step"],
            "pass": row["pass"], "ring": row["ring"], "result": "done" if k else "again",
            "at": f"2027-01-11T09:0{k}:00+00:00",
        }  # fmt: skip
        lines.append([told.get(name, "") for name in names])
    log = folder / "begun.csv"
    log.write_bytes(as_csv(lines))
    record_logs([log], target)
    found = [_files_of(target)]
    replan(target, now=BEGUN_AT)
    found.append(_files_of(target))
    return plan, found


def _files_of(folder: Path) -> dict[str, bytes]:
    names = ("plan.json", "weld-order.csv", "rings.csv")
    return {name: (folder / name).read_bytes() for name in names}


def every_sheet() -> dict[str, list[dict[str, object]]]:
    """Return the rows of a job that has each sheet filled."""
    from chainplan.job import content_of, read_job
    from chainplan.public.jobs import weave_names

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "picture.png").write_bytes(picture())
        (folder / "grid.csv").write_bytes(GRID)
        (folder / "job.toml").write_text(PEOPLE_AND_DESIGNS, encoding="utf-8")
        return dict(content_of(read_job(folder / "job.toml", weaves=weave_names())))


def seeds() -> dict[str, list[bytes]]:
    """Return the good files by kind; of each kind a case begins with one of them."""
    from chainplan.job import content_of, read_job

    fair = workbook_of(content_of(read_job(SAMPLES / "craft-fair.xlsx")))
    every = workbook_of(every_sheet())
    log = (
        ",".join(LOG_COLUMNS).encode()
        + b"\n"
        + b"abcdef012345,Chain,1,1,1,7,done,'=x,2027-03-01T09:00:00+01:00,9.5,0\n" * 9
    )
    order = b"step,ring,start_s,piece,clip on ring\n" + b"".join(
        b"%d,%d,%d.5,A,%d\n" % (n, n, 9 * n, n + 1) for n in range(1, 40)
    )
    letters: list[list[object]] = [list("AB.A"), ["BBAA"], [None, "A"]]
    return {
        "csv": [(SAMPLES / "pieces.csv").read_bytes()],
        "toml": [
            (SAMPLES / "necklace.toml").read_bytes(),
            PEOPLE_AND_DESIGNS.encode(),
            (SAMPLES / "stone-necklace.toml").read_bytes(),
            PEOPLE_AND_DESIGNS.encode(),
        ],
        "xlsx": [fair, every],
        "order": [order],
        "log": [log],
        "typed": [as_csv(typed_rows())],
        "typed-xlsx": [table_workbook(typed_rows())],
        "weave": [path.read_bytes() for path in sorted(LIBRARY_FOLDER.glob("*.toml"))[:4]],
        "grid": [GRID, GRID.replace(b",", b";"), b"ABBA\nB..B\n"],
        "grid-xlsx": [table_workbook(letters)],
        "picture": [picture()],
        "logo": [picture()],
        "cooling": [COOLING, COOLING.replace(b",", b";").replace(b".", b",")],
        "words": [" | ".join(WORDS).encode()],
        "changes": [" | ".join(CHANGES).encode()],
        "laid": [PEOPLE_AND_DESIGNS.encode(), (SAMPLES / "dangles.toml").read_bytes()],
    }


def parts_of(content: bytes) -> dict[str, bytes]:
    """Return what is packed in a workbook."""
    with zipfile.ZipFile(io.BytesIO(content)) as source:
        return {name: source.read(name) for name in sorted(source.namelist())}


ODD: tuple[object, ...] = (
    None, True, 0, -1, 7, 1.5, 1e300, "", "x", "2027-13-45", [], [1], [None], {}, {"a": 1},
)  # fmt: skip


def with_odd_value(content: bytes, place: float, which: int) -> bytes:
    """Return a record in which one value, or all that stands under one key, is another thing."""
    record = json.loads(content)
    holders: list[tuple[Any, Any]] = []

    def list_places(value: Any) -> None:
        keys = value if isinstance(value, dict) else range(min(len(value), 3))
        for key in keys:
            holders.append((value, key))
            if isinstance(value[key], dict | list):
                list_places(value[key])

    list_places(record)
    holder, key = holders[int(place * len(holders))]
    if which % (len(ODD) + 1) == len(ODD):
        del holder[key]
    else:
        holder[key] = ODD[which % (len(ODD) + 1)]
    return json.dumps(record).encode()
