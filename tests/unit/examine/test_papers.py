"""Quotes, joins, weaving pages, charts and the sheet to fill in: a wrong number is found."""

from __future__ import annotations

import dataclasses
import html
import random
import re
import shutil

import pytest
from one_check import findings_of

from chainplan import cli
from chainplan.cli.common.running import OUR_FAULT
from chainplan.examine.papers import joins as joins_checks
from chainplan.examine.papers import quotes as quotes_checks
from chainplan.examine.papers import weaving_pages as weaving_checks
from chainplan.examine.printed.pages import read_pages, read_texts

QUOTES, JOINS, WEAVING, CHARTS, BY_HAND = (
    "the quotes are the plan", "the pages of joins are the joins",
    "the weaving pages are the rings", "the charts are the plan",
    "the sheet to fill in is the plan's",
)  # fmt: skip
NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")
NO_SECOND_SOURCE = re.compile(
    # Scales and rules of pictures, which a rule laid on the sheet confirms; arcs that are free.
    r"0 cm(?: \d+)*|The whole piece, .*|free arc \d+°|[\d.]+ × true size"
    r"|What it looks like, [\d.]+ times"
)
LABELS = re.compile(r"[\d ]+|(?:\d+ mm ?)+")
"""Numbers at the joins of maps, whose boxes are counted, and axes."""


def another(number):
    """Another number: a whole one is larger by three, a broken one by half."""
    return str(int(number) + 3) if "." not in number else f"{float(number) * 1.5:.4g}"


def places_in(lines):
    """Every number of some lines that something else in the plan confirms."""
    for j, line in enumerate(lines):
        if LABELS.fullmatch(line):
            continue
        left_out = {n for found in NO_SECOND_SOURCE.finditer(line) for n in range(*found.span())}
        for found in NUMBER.finditer(line):
            if found.start() not in left_out:
                yield j, *found.span()


def changed(lines, place):
    """The lines with one number altered, and what was altered."""
    j, begin, end = place
    line = lines[j]
    more = another(line[begin:end])
    wrong = [*lines]
    wrong[j] = line[:begin] + more + line[end:]
    return wrong, f"{line[begin:end]} → {more} in {line!r}"


def test_one_wrong_number_on_a_quote_is_found(files, monkeypatch):
    """Size, weight, price, tax, dates: every number of every page."""
    pages = read_texts(files.folder / "quote.pdf")
    tried, missed = 0, []
    for k, page in enumerate(pages):
        lines = [line for line in page.split("\n") if line.strip()]
        for place in places_in(lines):
            wrong, what = changed(lines, place)
            told = [*pages[:k], "\n".join(wrong), *pages[k + 1 :]]
            monkeypatch.setattr(quotes_checks, "read_texts", lambda _, told=told: told)
            tried += 1
            if not findings_of(QUOTES, files):
                missed.append(f"page {k + 1}: {what}")
    assert tried > 40
    assert missed == [], "\n".join(missed)


def test_one_wrong_number_on_the_pages_of_joins_is_found(files, monkeypatch):
    """Leans, places, air, joins of a face; every number in a box, left out, altered or twice."""
    pages = read_pages(files.folder / "joins.pdf")
    assert pages
    tried, missed = 0, []

    def look(wrong, what):
        nonlocal tried
        monkeypatch.setattr(joins_checks, "read_pages", lambda _: wrong)
        tried += 1
        if not findings_of(JOINS, files):
            missed.append(what)

    for k, page in enumerate(pages):
        for place in places_in(page.lines):
            lines, what = changed(page.lines, place)
            wrong = [*pages]
            wrong[k] = dataclasses.replace(page, lines=tuple(lines))
            look(wrong, f"page {k + 1}: {what}")
        for j, number in enumerate(page.boxes[:12]):
            for boxes in ((), (number + 1,), (number, number)):
                wrong = [*pages]
                own = (*page.boxes[:j], *boxes, *page.boxes[j + 1 :])
                wrong[k] = dataclasses.replace(page, boxes=own)
                look(wrong, f"page {k + 1}: box {number} as {boxes}")
        if page.number:
            wrong = [*pages]
            wrong[k] = dataclasses.replace(page, number=page.number + 1)
            look(wrong, f"page {k + 1}: its number")
    assert tried > 150
    assert missed == [], "\n".join(missed)


def test_one_wrong_number_on_the_weaving_pages_is_found(files, monkeypatch):
    """Bags, lines, sums; and rings of two metals that are exchanged."""
    pages = read_pages(files.folder / "weaving.pdf")
    tried, missed = 0, []
    for k, page in enumerate(pages):
        for place in places_in(page.lines):
            lines, what = changed(page.lines, place)
            if re.search(r"[A-Z] .*\d{3}, ", page.lines[place[0]]) and place[1] < 30:
                continue  # the fineness in a metal's name
            wrong = [*pages]
            wrong[k] = dataclasses.replace(page, lines=tuple(lines))
            monkeypatch.setattr(weaving_checks, "read_pages", lambda _, wrong=wrong: wrong)
            tried += 1
            if not findings_of(WEAVING, files):
                missed.append(f"page {k + 1}: {what}")
    assert tried > 15
    assert missed == [], "\n".join(missed)
    exchanged = {"A": "B", "B": "A"}
    wrong = [
        dataclasses.replace(
            page,
            lines=tuple(
                re.sub(r"\b[AB]\b", lambda m: exchanged[m[0]], line)
                if line.startswith(("rings", "row", "section", "so far"))
                else line
                for line in page.lines
            ),
        )
        for page in pages
    ]
    monkeypatch.setattr(weaving_checks, "read_pages", lambda _: wrong)
    assert findings_of(WEAVING, files)


def test_one_wrong_number_in_a_chart_is_found(files, tmp_path):
    """In titles, at bars and lines; ticks are numbers, which is all that can be asked of them."""
    folder = tmp_path / "plan"
    shutil.copytree(files.folder / "charts", folder / "charts")
    own = dataclasses.replace(files, folder=folder)
    assert findings_of(CHARTS, own) == ()
    places = []
    for path in sorted((folder / "charts").glob("*.svg")):
        for found in re.finditer(r">([^<]*)</text>", path.read_text(encoding="utf-8")):
            text = html.unescape(found[1])
            tick = re.fullmatch(r"[-−]?[\d.]+(?: °C)?|\w{3} \d+ \w{3}", text)
            if tick or "End to end" in text or "on from line" in text:
                continue
            places += [
                (path, found.start(1) + hit.start(), found.start(1) + hit.end())
                for hit in NUMBER.finditer(found[1])
            ]
    missed = []
    assert len(places) > 60
    for path, begin, end in random.Random(4).sample(places, min(len(places), 80)):
        svg = path.read_text(encoding="utf-8")
        path.write_text(svg[:begin] + another(svg[begin:end]) + svg[end:], encoding="utf-8")
        if not findings_of(CHARTS, own):
            missed.append(f"{path.name}: {svg[begin:end]} in {svg[begin - 40 : end + 10]!r}")
        path.write_text(svg, encoding="utf-8")
    assert missed == [], "\n".join(missed)
    path = next((folder / "charts").glob("temperatures-*.svg"))
    svg = path.read_text(encoding="utf-8")
    for wrong in ("nan", "-9223372036854775808", "inf"):
        path.write_text(re.sub(r">\d+</text>", f">{wrong}</text>", svg, count=1), encoding="utf-8")
        assert any(item.place == "numbers" for item in findings_of(CHARTS, own)), wrong
    path.write_text(svg.replace("\nL ", "\nL nan ", 1), encoding="utf-8")
    assert any(item.place == "lines" for item in findings_of(CHARTS, own))


def test_a_file_that_is_missing_is_found(files, tmp_path):
    """Each of the papers, and a chart."""
    folder = tmp_path / "plan"
    shutil.copytree(files.folder, folder)
    own = dataclasses.replace(files, folder=folder)
    for name, check in (("quote.pdf", QUOTES), ("joins.pdf", JOINS), ("weaving.pdf", WEAVING),
                        ("record-by-hand.xlsx", BY_HAND), ("charts/cost.svg", CHARTS)):  # fmt: skip
        path = folder / name
        content = path.read_bytes()
        path.unlink()
        assert findings_of(check, own), name
        path.write_bytes(content)
        assert findings_of(check, own) == ()


@pytest.mark.parametrize(
    ("module", "name", "file"),
    [
        ("chainplan.report.quote.page", "weight_of", "quote.pdf, Short chain"),
        ("chainplan.report.diagram.approach_picture", "describe_air", "joins.pdf, page 1"),
        ("chainplan.report.diagram.weaving_pages", "fill_bags", "weaving.pdf, Joined"),
        ("chainplan.report.charts.heat", "show_duration", "charts/heat-"),
    ],
)
def test_a_wrong_paper_stops_the_writing(good, tmp_path, monkeypatch, capsys, module, name, file):
    """Our fault, exit 1, nothing written."""
    import importlib

    place = importlib.import_module(module)
    known = getattr(place, name)

    def wrong(*given):
        found = known(*given)
        if isinstance(found, str):
            return NUMBER.sub(lambda hit: another(hit[0]), found) if NUMBER.search(found) else (
                "next wire 9.99 mm off"
            )  # fmt: skip
        bags, bag = found
        return (dataclasses.replace(bags[0], rings=bags[0].rings + 1), *bags[1:]), bag

    monkeypatch.setattr(place, name, wrong)
    job, out = good.parent / "small.toml", tmp_path / "out"
    assert cli.main(["plan", str(job), "--out", str(out), "--workers", "1", "--fresh"]) == OUR_FAULT
    assert file in capsys.readouterr().err
    assert not out.exists()
