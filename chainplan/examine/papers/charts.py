"""The charts say what the plan says, and draw nothing that is no number."""

from __future__ import annotations

import datetime
import html
import math
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number
from chainplan.examine.printed.pages import bare
from chainplan.examine.registry import check
from chainplan.examine.said import DURATION, seconds_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

CHARTS = "charts"
_TEXT = re.compile(r">([^<]*)</text>")
_NO_NUMBER = re.compile(r"[-−]?(?:nan|inf|\d{12,}(?:\.\d*)?)(?: °C)?", re.IGNORECASE)
_NO_PLACE = re.compile(r'[\s",](?:nan|-?inf)[\s",]')
_MOST_PIECES = 60
"""Pieces that are drawn; the workbook has them all."""
_DOUBT = re.compile(
    r"(.*): (-?\d+) °C at the usual values, limit (\d+) °C; "
    r"([\d.e+-]+) in 100 plausible benches keep it"
)
_LEAST_K = 1.0
"""Temperatures that no number moves so far are left out of the chart of doubt."""
_LIMIT = re.compile(r"limit, (.*): (\d+) °C")
_PANEL = (
    rf"{{}}: ({DURATION}); at most rings before their weld (-?\d+) °C"
    r"((?:, .*? -?\d+ °C)*?)(?= End to end within| at the bad end|$)"
)
_DAY = re.compile(r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d{1,2} [A-Z][a-z][a-z]")
_MOST_BY_PIECE = 100
"""Pieces up to which each must have its charts."""
_OFF_K = 0.5101
"""Half of the whole degree to which charts write, and what rounding before has taken."""


@check("the charts are the plan")
def check_charts(files: PlanFiles, teller: Teller) -> None:
    """Read the texts of every chart and compare those that hold numbers of the plan."""
    folder = files.folder / CHARTS
    drawn: Counter[str] = Counter()
    for path in sorted(folder.glob("*.svg")) if folder.is_dir() else ():
        svg = path.read_text(encoding="utf-8")
        place = f"{CHARTS}/{path.name}"
        texts = [html.unescape(text) for text in _TEXT.findall(svg)]
        odd = [text for text in texts if _NO_NUMBER.fullmatch(text.strip())]
        teller.true(place, "numbers", not odd, odd[:3], "numbers")
        teller.true(place, "lines", not _NO_PLACE.search(svg), "no place", "places on the sheet")
        kind = next((name for name in _KINDS if path.stem.startswith(name)), None)
        if kind is None:
            teller.tell(place, "the file", path.name, f"one of {', '.join(_KINDS)}")
            continue
        drawn[kind] += 1
        _KINDS[kind](files, place, texts, teller)
    estimates = files.plan["estimates"]
    by_piece = (
        len(files.pieces) <= _MOST_BY_PIECE or drawn["what-if-"]
    )  # else left out: all or none
    dated = any(line["start"] for line in estimates["calendar"])
    for kind, wanted in (
        ("what-if-", len({line["piece"] for line in estimates["drivers"]}) * bool(by_piece)),
        ("cost", int(bool(estimates["costs"]))),
        ("calendar", int(bool(estimates["calendar"]))),
        ("people", int(dated)),
        (
            "doubt-",
            sum(bool(_moved(piece, _LEAST_K + 1e-3)) for piece in files.pieces if by_piece),
        ),
    ):
        least = drawn[kind] >= wanted if kind == "doubt-" else drawn[kind] == wanted
        teller.true(CHARTS, kind.strip("-"), least, drawn[kind], wanted)


def _pieces_of(files: PlanFiles, texts: list[str], rest: str) -> list[PieceFiles]:
    """Find the pieces that a chart's title can name: a long name is cut off."""
    whole = {bare(text) for text in texts}
    begun = [
        bare(told) for told, mark, cut in (t.partition("…") for t in texts) if mark and not cut
    ]
    found = []
    for piece in files.pieces:
        title = bare(f"{piece.name}: {rest}")
        if title in whole or any(title.startswith(told) for told in begun):
            found.append(piece)
    return found


def _one_agrees(
    files: PlanFiles, place: str, texts: list[str], rest: str, teller: Teller,
    compare: Callable[[PieceFiles, Teller], None],
) -> None:  # fmt: skip
    """Compare with the piece that the title names; of several that it can name one has to agree."""
    from chainplan.examine.findings import Teller as Own

    pieces = _pieces_of(files, texts, rest)
    teller.true(place, "title", bool(pieces), texts[-1:], "the name of a piece")
    tried = []
    for piece in pieces:
        own = Own(teller.check)
        compare(piece, own)
        tried.append(own.findings)
    for finding in min(tried, key=len, default=[]):
        teller.tell(finding.file, finding.place, finding.found, finding.expected)


def _check_what_if(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare cost as planned and at both ends of every input, and the numbers of copies."""
    shown = Counter(bare(text) for text in texts)

    def compare(piece: PieceFiles, own: Teller) -> None:
        wanted = []
        for line in files.of_piece("drivers", piece.name):
            low, usual, high = (as_number(line[f"cost_{e}_each"]) for e in ("low", "usual", "high"))
            wanted += [f"{line['low_input']}: {low:.2f}", f"{line['high_input']}: {high:.2f}"]
            wanted.append(f"as planned: {usual:.2f}")
        numbers = [str(line["quantity"]) for line in files.of_piece("breaks", piece.name)]
        for text in (*dict.fromkeys(wanted), *numbers):
            own.true(place, piece.name, shown[bare(text)] > 0, "another text", text)
        told = [text for text in texts if re.search(r": -?\d+\.\d\d$", text)]
        odd = [text for text in told if bare(text) not in {bare(known) for known in wanted}]
        own.true(place, piece.name, not odd, odd[:3], "costs of the plan")

    _one_agrees(files, place, texts, "what if", teller, compare)


def _check_cost(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare the sums of the pieces' costs."""
    sums: dict[str, float] = {}
    for line in files.estimates("costs"):
        sums[line["piece"]] = sums.get(line["piece"], 0.0) + as_number(line["amount"])
    wanted = [f"{total:,.2f}".replace(",", " ") for total in list(sums.values())[:_MOST_PIECES]]
    told = [text for text in texts if re.fullmatch(r"-?[\d ]+\.\d\d", text)]
    told = told[-len(wanted) :] if wanted else told  # an axis of cents stands before them
    teller.same(place, "sums", told, wanted)
    teller.true(place, "currency", files.plan["estimates"]["currency"] in texts, "none", "its own")


def _check_calendar(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare days on which somebody works, and what is late by how many."""
    _check_days(files, place, texts, teller)
    late = [row["late_days"] for row in files.estimates("due") if row["late_days"] > 0]
    told = [int(found[1]) for text in texts if (found := re.match(r"LATE (\d+) days?:", text))]
    if len(files.pieces) <= _MOST_PIECES:
        teller.same(place, "days late", sorted(told), sorted(late))
        shown = bare(" ".join(texts))
        names = [line["piece"] for line in files.estimates("calendar")]
        missing = [name for name in dict.fromkeys(names) if bare(name)[:12] not in shown]
        teller.true(place, "pieces", not missing, f"not {missing[:3]}", "every piece")


def _check_people(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare who works, the key of pieces, and the numbers in the bars."""
    _check_days(files, place, texts, teller)
    key = bare(" ".join(texts))
    for number, piece in enumerate(files.pieces[:_MOST_PIECES], 1):
        if number <= 3 or len(files.pieces) <= 12:  # a long key is cut off
            words = f"{number} {piece.name}"
            teller.true(place, "its key", bare(words)[:20] in key, "another text", words)
    shown = {bare(text) for text in texts if "…" not in text}
    people = {line["person"] for line in files.estimates("calendar") if line["person"]}
    missing = [name for name in sorted(people) if bare(name) not in shown]
    cut = sum("…" in text for text in texts)
    teller.true(place, "people", len(missing) <= cut, f"not {missing[:3]}", "who works")
    odd = [text for text in texts if text.isdigit() and not 0 < int(text) <= len(files.pieces)]
    teller.true(place, "numbers in bars", not odd, odd[:3], f"1 to {len(files.pieces)}")


def _check_days(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    known = set()
    for line in files.estimates("calendar"):
        if line["start"]:
            day = datetime.date.fromisoformat(line["start"][:10])
            known.add(f"{day:%a} {day.day} {day:%b}")
    odd = [text for text in texts if _DAY.fullmatch(text) and text not in known]
    teller.true(place, "days", not odd, odd[:3], "days on which somebody works")


def _moved(piece: PieceFiles, least_k: float) -> list[dict[str, Any]]:
    chance = piece.order.get("chance")
    return [
        row
        for row in (chance["by_limit"] if chance else ())
        if max((abs(s[end]) for s in row["sways"] for end in ("low_k", "high_k")), default=0)
        >= least_k
    ]


def _check_doubt(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare usual temperature, limit and benches that keep it, limit by limit."""
    told = [found for text in texts if (found := _DOUBT.fullmatch(text))]

    def compare(piece: PieceFiles, own: Teller) -> None:
        rows = _moved(piece, _LEAST_K)
        own.true(place, piece.name, abs(len(told) - len(rows)) <= 0, len(told), f"{len(rows)} rows")
        for found, row in zip(told, rows, strict=False):
            where = f"{piece.name}, {row['name']}"
            own.near(place, f"{where}, usual", float(found[2]), row["usual_c"], off=_OFF_K)
            own.near(place, f"{where}, limit", float(found[3]), row["limit_c"], off=_OFF_K)
            own.same(place, f"{where}, kept", found[4], f"{100 * row['kept']:.4g}")

    _one_agrees(files, place, texts, "how sure temperatures are", teller, compare)


def _check_temperatures(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare the limits that are drawn."""
    told = [(found[1], found[2]) for text in texts if (found := _LIMIT.fullmatch(text))]

    def compare(piece: PieceFiles, own: Teller) -> None:
        least: dict[str, float] = {}
        for row in piece.order["limits"]:
            least[row["name"]] = min(row["limit_c"], least.get(row["name"], math.inf))
        for name, limit in told:
            begin, _, _ = name.partition("…")
            known = [v for n, v in least.items() if bare(n).startswith(bare(begin))]
            good = any(abs(float(limit) - value) <= _OFF_K for value in known)
            own.true(place, f"{piece.name}, limit of {name}", good, limit, known)

    _one_agrees(files, place, texts, "temperature while it is welded", teller, compare)


def _check_heat(files: PlanFiles, place: str, texts: list[str], teller: Teller) -> None:
    """Compare times and warmest of both orders."""
    text = " ".join(texts)

    def compare(piece: PieceFiles, own: Teller) -> None:
        warmest: dict[str, float] = {}
        for row in piece.order["limits"]:
            if row["kind"] in ("fingers", "part"):
                warmest[row["name"]] = max(row["high_c"], warmest.get(row["name"], -math.inf))
        named = {item["name"]: item for item in piece.order["comparisons"]}
        mine = re.search(_PANEL.format("In the order to follow"), text)
        if mine is None:
            own.tell(place, piece.name, "nothing", "what the order to follow takes")
            return
        _said(own, place, f"{piece.name}, time", mine[1], piece.order["bench_time_s"])
        top = float(piece.steps["interpass_high_c"].max())
        own.near(place, f"{piece.name}, warmest", float(mine[2]), top, off=0.01)
        for name, told in _warm_of(mine[3]):
            begin, _, _ = name.partition("…")
            known = [v for n, v in warmest.items() if bare(n).startswith(bare(begin))]
            good = any(abs(told - value) <= _OFF_K for value in known)
            own.true(place, f"{piece.name}, {name}", good, told, known)
        own.same(place, f"{piece.name}, limits", len(_warm_of(mine[3])), len(warmest))
        ends = re.search(_PANEL.format("End to end within the same limits"), text)
        if ends is not None and "end to end" in named:
            seconds = named["end to end"]["bench_time_s"]
            _said(own, place, f"{piece.name}, end to end", ends[1], seconds)
            _check_ends(piece, ends, place, own)

    _one_agrees(files, place, texts, "each ring before its own weld", teller, compare)


def _check_ends(piece: PieceFiles, ends: re.Match[str], place: str, own: Teller) -> None:
    """End to end keeps the limits that the order keeps; of its temperatures no table is written."""
    aside = {item["name"] for item in piece.order["set_aside"]}
    limits = {row["name"]: row["limit_c"] for row in piece.order["limits"]}
    for name, told in _warm_of(ends[3]):
        kept = name not in limits or name in aside or told <= limits[name] + _OFF_K
        own.true(place, f"{piece.name}, end to end, {name}", kept, told, limits.get(name))


def _warm_of(text: str) -> list[tuple[str, float]]:
    """Read names with their degrees.

    Examples
    --------
    >>> _warm_of(", fingers 28 °C, amber drop, where touched 350 °C")
    [('fingers', 28.0), ('amber drop, where touched', 350.0)]
    """
    return [(n, float(t)) for n, t in re.findall(r", (.*?) (-?\d+) °C(?=,|$)", text)]


def _said(own: Teller, place: str, where: str, told: str, value_s: float) -> None:
    low, high = seconds_of(told)
    own.true(place, where, low - 0.06 <= value_s <= high + 0.06, told, f"{value_s:.1f} s")


_KINDS: dict[str, Callable[[PlanFiles, str, list[str], Teller], None]] = {
    "what-if-": _check_what_if, "cost": _check_cost, "calendar": _check_calendar,
    "people": _check_people, "doubt-": _check_doubt, "temperatures-": _check_temperatures,
    "heat-": _check_heat,
}  # fmt: skip
"""How the name of each kind of chart begins, and what compares it."""
