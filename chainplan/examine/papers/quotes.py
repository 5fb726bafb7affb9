"""The quotes say what the plan says: size, weight, hallmark, price and dates, page by page."""

from __future__ import annotations

import datetime
import itertools
import math
import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.examine.printed.pages import bare, read_texts
from chainplan.examine.registry import check
from chainplan.examine.said import listed

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

QUOTE = "quote.pdf"
_FACTS = re.compile(
    r".*\bSize (?P<size>.+?) Weight (?P<weight>.+?)(?: Hallmark (?P<hallmark>.+?))? "
    r"Price (?P<price>\S+ \S+) (?P<notes>.+?) This price holds (?P<until>.+?) "
    r"Ready by (?P<ready>.+?) Care "
)
_LONG = re.compile(
    r"([\d.]+) (mm|cm) long(?:, closed; ([\d.]+) (mm|cm) round its inside;|,) "
    r"([\d.]+) mm wide(?:, (.+))?$"
)
_RULER = re.compile(r"0 cm((?: \d+)*)")
_SCALE = re.compile(r"The whole piece, (?:([\d.]+) (?:times|of) its own size|at its own size)\.")
_LARGEST_SCALE = 3.0
"""A small piece is drawn so many times its own size at most."""
_WIDEST_MM = 179.9
"""Between the edges of the wider of the two papers."""
_UNWOVEN = ("loose-joins", "connecting-rings")


@check("the quotes are the plan")
def check_quotes_on_paper(files: PlanFiles, teller: Teller) -> None:
    """Compare each page with its piece."""
    path = files.folder / QUOTE
    if not path.is_file():
        teller.tell(QUOTE, "the file", "is not there", "a page a piece")
        return
    pages = read_texts(path)
    teller.same(QUOTE, "pages", len(pages), len(files.pieces))
    for piece, quote, page in zip(files.pieces, files.estimates("quotes"), pages, strict=False):
        text = " ".join(page.split())
        named = bare(piece.name)[:20] in bare(text)
        teller.true(QUOTE, piece.name, named, "another page", "a page with its name")
        found = _FACTS.match(text)
        if found is None:
            teller.tell(QUOTE, piece.name, "another text", "size, weight, price and dates")
            continue
        _check_words(files, piece, text, teller)
        _check_size(piece, found["size"], teller)
        _check_weight(piece, found["weight"], teller)
        _check_price(files, quote, found, teller)
        _check_dates(files, piece, found, teller)
        hallmark = _hallmark(files, piece)
        place = f"{piece.name}, hallmark"
        good = (found["hallmark"] or "").startswith(hallmark) and bool(found["hallmark"]) == bool(
            hallmark
        )
        teller.true(QUOTE, place, good, found["hallmark"], hallmark or "nothing")
        _check_picture(piece, page, teller)


def _check_words(files: PlanFiles, piece: PieceFiles, text: str, teller: Teller) -> None:
    """Look for numbers in what it is, and in its hallmark, that no weave, metal or name has."""
    words = re.search(r"Quote.*? 0 cm ", text)
    hallmark = re.search(r" Hallmark hallmarked by an assay office, ([^:]*?) Price ", text)
    titles = [
        row["title"].partition(": ")[0]
        for key, row in files.sources.items()
        if key.startswith("metal.")
    ]
    legend = re.search(r".*(?:own size|without scaling)\.( .*?) Size ", text)
    named = [piece.name, *titles, *(item["name"] for item in piece.record["fittings"])]
    named += [section["weave"] for section in piece.record["sections"]]
    named += [
        note.partition(", struck ")[2] for note in files.of_piece("quotes", piece.name)[0]["notes"]
    ]
    quote = files.plan["bench"]["quote"]
    known = {number for name in (*named, *map(str, quote.values())) for number in _numbers(name)}
    for found in (words, hallmark, legend):
        inside = found[1 if found is legend else 0] if found else ""
        told = _numbers(re.sub(r" 0 cm(?: \d+)* ", " ", inside))
        odd = [number for number in told if number not in known]
        # The customer of a piece is told by its page alone.
        if found is not words or not text.split("Quote", 1)[1].startswith(" for "):
            teller.true(QUOTE, f"{piece.name}, what it is", not odd, odd[:3], sorted(known)[:8])


def _numbers(text: str) -> list[str]:
    return re.findall(r"\d+-in-\d+|\d+", text)


def _check_size(piece: PieceFiles, told: str, teller: Teller) -> None:
    place, sections = f"{piece.name}, size", piece.record["sections"]
    woven = [section for section in sections if section["weave"] not in _UNWOVEN]
    if not woven:
        number = sum(section["rings"] for section in sections)
        teller.same(QUOTE, place, told, f"{number} rings" if number != 1 else "1 ring")
        return
    found = _LONG.match(told)
    if found is None:
        teller.tell(QUOTE, place, told, "length and width")
        return
    length = piece.record["length_mm"] + piece.record["clasp_length_mm"]
    _check_length(place, (found[1], found[2]), length, teller)
    closed = piece.record["loop"] is not None
    teller.same(QUOTE, f"{place}, closed", found[3] is not None, closed)
    if closed and found[3]:
        # Bent round, the inside is shorter than the middle of the thickness by π times it.
        inside = length - math.pi * max(section["thickness_mm"] for section in sections)
        _check_length(f"{place}, inside", (found[3], found[4]), inside, teller)
    wide = max(section["width_mm"] for section in woven)
    teller.near(QUOTE, f"{place}, width", float(found[5]), wide, off=0.0501)
    lies = ", ".join(dict.fromkeys(s["lies"] for s in woven if s["lies"]))
    teller.same(QUOTE, f"{place}, lies", found[6] or "", lies)


def _check_length(place: str, told: tuple[str, str], length_mm: float, teller: Teller) -> None:
    """Compare a length as people write it: mm below 10 cm, cm above."""
    unit = "mm" if length_mm < 100 else "cm"
    teller.same(QUOTE, f"{place}, unit", told[1], unit)
    if unit == "cm":
        teller.near(QUOTE, place, float(told[0]), length_mm / 10, off=0.0501)
    else:
        teller.near(QUOTE, place, float(told[0]), length_mm, off=_half_digit(length_mm))


def _half_digit(value: float) -> float:
    """Half of the third digit of a number, and what six digits leave open."""
    digit: float = 10.0 ** (math.floor(math.log10(max(abs(value), 1e-9))) - 2)
    return 0.501 * digit


def _check_weight(piece: PieceFiles, told: str, teller: Teller) -> None:
    """Compare the mass, and name what nobody weighed."""
    known = sum(section["mass_g"] for section in piece.record["sections"])
    unknown = []
    for item in piece.record["fittings"]:
        if item["kind"] == "extra":
            continue
        if item["mass_g"] is None:
            unknown.append(item["name"])
        else:
            known += item["mass_g"]
    if piece.record["clasp_length_mm"]:
        unknown.append("the clasp")
    place = f"{piece.name}, weight"
    words, _, without = told.partition(" without ")
    teller.same(QUOTE, f"{place}, without", bare(without), bare(listed(unknown)))
    number = re.fullmatch(r"about ([\d.e+]+) g", words)
    if number is None:
        teller.true(QUOTE, place, known < 0.051 and words == "below 0.1 g", words, f"{known:g} g")
    else:
        teller.near(QUOTE, place, float(number[1]), known, off=_half_digit(known))


def _hallmark(files: PlanFiles, piece: PieceFiles) -> str:
    """Say how the line on the hallmark begins; nothing without precious metal."""
    figures = files.plan["estimates"]["figures"].get(piece.name, [])
    told = next((row for row in figures if row["key"] == "hallmark"), None)
    if told is None:
        return ""
    if told["usual"] > 0:
        return "hallmarked by an assay office, "
    needless = "no hallmark needed" in told["basis"]
    return "none: it is lighter than the weight" if needless else "to be agreed"


def _check_price(
    files: PlanFiles, quote: dict[str, Any], found: re.Match[str], teller: Teller
) -> None:
    """Compare price, tax, the price of all copies, and what is not yet in it."""
    money = files.plan["estimates"]["currency"]
    place = f"{quote['piece']}, price"
    price = f"{money} {quote['price_with_tax_each']}"
    teller.same(QUOTE, place, bare(found["price"]), bare(price))
    tax = Decimal(files.plan["bench"]["money"]["tax_percent"]).normalize()
    notes = [f"with {tax:f} % tax, which is {money} {quote['tax_each']}" if tax else "no tax on it"]
    if quote["quantity"] > 1:
        whole = Decimal(quote["price_with_tax_each"]) * quote["quantity"]
        notes.append(f"{quote['quantity']} of them: {money} {whole}")
    told, _, without = found["notes"].partition("NOT YET IN THIS PRICE:")
    teller.true(QUOTE, place, bare(told) == bare(" ".join(notes)), told, " ".join(notes))
    _check_missing(files, quote["missing"], without, place, teller)


def _check_missing(
    files: PlanFiles, missing: list[str], told: str, place: str, teller: Teller
) -> None:
    """Compare what a price is without: metals by their sources' titles, gas as supplies."""
    titles = {
        key.split(".")[1]: row["title"].partition(": ")[0]
        for key, row in files.sources.items()
        if key.startswith("metal.")
    }
    names = ["workshop supplies" if name == "argon" else titles.get(name, name) for name in missing]
    expected = listed(names) if names else ""
    words = [re.findall(r"[^\s,]+", text.lower()) for text in (told, expected)]
    numbers = {word for word in words[1] if re.search(r"\d", word)}
    left, wanted = ([word for word in part if word not in numbers] for part in words)
    # A customer reads no alloy numbers: those may be missing, and nothing else.
    teller.true(QUOTE, place, left == wanted, told, expected)


def _check_dates(files: PlanFiles, piece: PieceFiles, found: re.Match[str], teller: Teller) -> None:
    """Compare how long the price holds, and when the piece is ready."""
    days, start = files.plan["bench"]["quote"]["valid_days"], files.plan["start_date"]
    until = f"for {days} days from the day on which you get it"
    if start is not None:
        last = datetime.date.fromisoformat(start) + datetime.timedelta(days=days)
        until = f"until {_day(last)}"
    teller.same(QUOTE, f"{piece.name}, this price holds", found["until"], until)
    due = next((row for row in files.estimates("due") if row["piece"] == piece.name), None)
    done = due["done"] if due else None
    ready = _day(datetime.date.fromisoformat(done)) if done else "to be agreed"
    teller.same(QUOTE, f"{piece.name}, ready by", found["ready"], ready)


def _day(day: datetime.date) -> str:
    return f"{day.day} {day:%B} {day.year}"


def _check_picture(piece: PieceFiles, page: str, teller: Teller) -> None:
    """Look whether rules count evenly, and whether the picture at its scale fits the page."""
    for line in page.split("\n"):
        ruler = _RULER.fullmatch(line.strip())
        if ruler is None:
            continue
        ticks = [0, *(int(text) for text in ruler[1].split())]
        steps = {after - before for before, after in itertools.pairwise(ticks)}
        good = len(steps) < 2 and all(step > 0 for step in steps)
        teller.true(QUOTE, f"{piece.name}, rule", good, line.strip()[:60], "even steps")
    scale = _SCALE.search(" ".join(page.split()))
    if scale is None:
        return
    told = float(scale[1] or 1.0)
    x, reach = piece.centre_mm[:, 0], piece.radius_mm
    lean = (1 - piece.normal[:, 0] ** 2).clip(0.0) ** 0.5
    long = float((x + reach * lean).max() - (x - reach * lean).min())
    good = 0 < told <= _LARGEST_SCALE + 0.051 and told * long <= _WIDEST_MM * 1.06
    teller.true(QUOTE, f"{piece.name}, scale", good, told, f"{long:.0f} mm that fit the page")
