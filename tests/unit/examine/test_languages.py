"""Pages and bench sheet in other languages: written, read back, and one wrong number is found."""

from __future__ import annotations

import dataclasses
import json
import random
import re
import shutil
from typing import TYPE_CHECKING, Any

import pytest

import chainplan
from chainplan.examine import examine_folder
from chainplan.examine.findings import Teller
from chainplan.examine.printed import paper as paper_checks
from chainplan.examine.printed.pages import by_piece, read_pages
from chainplan.examine.printed.wording import numbers_in
from chainplan.examine.reading import read_folder
from chainplan.examine.registry import CHECKS
from chainplan.reference.texts import texts_of
from tests.unit.examine.test_printed import NAMES

if TYPE_CHECKING:
    from pathlib import Path

OTHERS = ("de", "fr", "it", "es")
BOOK, PAPER = "the workbook is the plan", "the paper is the weld order"
_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")
_LABELS = re.compile(
    r"(?:(?:[^\W\d]+|·|[\d,]+)(?: |$))+|\w+ .*(?:Fortsetzung|suite|continua|sigue)"
)
"""Lines of numbers beside the pictures; the joins' own are looked at by their boxes. Lines with
dots name a few units as examples: of two numbers nobody can tell the step."""
_SCALE = re.compile(r"[\d.]+ × \w+|¿?50 mm [^\d]+")


@pytest.fixture(scope="module", name="written", params=OTHERS)
def fixture_written(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory,
    good_plan: Any, good: Path, in_language: Any,
) -> tuple[Path, str]:  # fmt: skip
    """The folder of a plan whose pages and sheet are in another language, and the language."""
    folder = tmp_path_factory.mktemp(request.param) / "plan"
    return in_language(good_plan[0], good, folder, request.param), request.param


def _left_at_bench(folder: Path) -> list[Any]:
    """What all checks find that read the pages or the sheet; the workbook stays English."""
    return [*examine_folder(folder, without={BOOK}).findings]


def _findings(files: Any) -> Any:
    teller = Teller(PAPER)
    dict(CHECKS)[PAPER](files, teller)
    return teller.close()


def test_no_english_sentence_is_left_on_the_pages(written: tuple[Path, str]) -> None:
    """Words that are in every English plan; names of metals and parts stay the job's."""
    folder, language = written
    pages = read_pages(folder / "weld-order.pdf", language)
    text = " ".join(line for page in pages for line in page.lines)
    found = re.findall(
        r"\b(?:the|every|ring|rings|join|joins|from|wait|waits|piece|welded|pair|pairs|"
        r"before|limit|below|hold|start|front|back|Burn|burns|switch)\b", text,
    )  # fmt: skip
    # Titles of sources stand as they were published.
    assert len(found) <= 3, found


def test_one_wrong_number_on_the_pages_is_found(
    written: tuple[Path, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In every sentence, list, title and table, whatever the language."""
    folder, language = written
    assert _left_at_bench(folder) == []
    files = read_folder(folder)
    pages = read_pages(folder / "weld-order.pdf", language)
    cover = len(by_piece(pages, language)[0])
    rng, missed, count, places = random.Random(1), [], 0, []
    for k, page in enumerate(pages):
        for j, line in enumerate(page.lines):
            count += 1
            told = re.search(r"× \d|· \w+ \d+$|\d–\d", line)
            if (count <= cover and not told) or _LABELS.fullmatch(line) or "…" in line:
                continue
            left_out = {n for found in _SCALE.finditer(line) for n in range(*found.span())}
            places += [
                (k, j, *found.span())
                for found in _NUMBER.finditer(line)
                if found.start() not in left_out
            ]
    assert len(places) > 150
    for k, j, begin, end in rng.sample(places, 100):
        line = pages[k].lines[j]
        number = line[begin:end]
        more = str(int(number) + 3) if "." not in number else f"{float(number) * 1.5:.4g}"
        lines = [*pages[k].lines]
        lines[j] = line[:begin] + more + line[end:]
        wrong = [*pages]
        wrong[k] = dataclasses.replace(pages[k], lines=tuple(lines))
        monkeypatch.setattr(paper_checks, "read_pages", lambda *_, wrong=wrong: wrong)
        if not _findings(files):
            missed.append(f"page {k + 1}: {number} → {more} in {lines[j]!r}")
    assert missed == [], "\n".join(missed)


def test_one_wrong_number_in_a_text_of_the_sheet_is_found(
    written: tuple[Path, str], tmp_path: Path
) -> None:
    """Pass lines, settings, limits, the return lead and cautions, against plan.json."""
    folder, _ = written
    bad = tmp_path / "plan"
    shutil.copytree(folder, bad)
    page = bad / "bench-sheet.html"
    whole = page.read_text(encoding="utf-8")
    data = re.search(r'(?s)id="content">(.*?)</script>', whole)
    assert data is not None
    known = json.loads(data[1])
    piece = known["pieces"][0]
    texts = [
        piece["passes"][0]["text"], piece["passes"][-1]["setting"], piece["limits"][0],
        piece["earthed"], next(c["text"] for c in known["cautions"] if numbers_in(c["text"])),
    ]  # fmt: skip
    for text in texts:
        number = numbers_in(text)[-1]
        wrong = text[::-1].replace(number[::-1], f"{number}9"[::-1], 1)[::-1]
        told = json.dumps(text, ensure_ascii=False)[1:-1]
        place = told if told in data[1] else json.dumps(text)[1:-1]
        assert place in data[1], text
        new = json.dumps(wrong, ensure_ascii=place == told)[1:-1] if place != told else wrong
        page.write_text(whole.replace(place, new, 1), encoding="utf-8")
        found = _left_at_bench(bad)
        assert any(item.file == "bench-sheet.html" for item in found), text


TOO_WARM = """
[bench.heat]
highest_interpass_c = 22

[[piece]]
piece = "Too warm"
weave = "byzantine"
wire_mm = 1.2
inner_mm = 4.2
metal = "copper"
rings = 24

[[part]]
piece = "Too warm"
part = "pearl"
kind = "pearl"
limit_c = 40
place_mm = 20
covers_mm = 4
"""


def test_advice_on_limits_stands_on_the_pages_in_every_language(
    tmp_path: Path, in_language: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whole sentences, and one of their numbers that is wrong is found."""
    job = tmp_path / "warm.toml"
    job.write_text(TOO_WARM, encoding="utf-8")
    plan = chainplan.make_plan(chainplan.read_job(job))
    order = plan.pieces[0].order
    assert order.status == "infeasible"
    assert len(order.advised) > 4
    english = chainplan.write_plan(plan, tmp_path / "plan")
    for language in OTHERS:
        folder = in_language(plan, english, tmp_path / language, language)
        assert _left_at_bench(folder) == [], language
        files, t = read_folder(folder), texts_of(language)
        pages = read_pages(folder / "weld-order.pdf", language)
        text = " ".join(line for page in pages for line in page.lines)
        for item in order.advised:
            assert t.say(item).replace("\u00a0", " ") in text, item.key
        told = f"{order.advised[0].fills['peak']} °C"
        wrong = [
            dataclasses.replace(
                page, lines=tuple(line.replace(told, f"1{told}") for line in page.lines)
            )
            for page in pages
        ]
        with monkeypatch.context() as patch:
            patch.setattr(paper_checks, "read_pages", lambda *_, wrong=wrong: wrong)
            assert any(item.place.endswith("advice") for item in _findings(files)), language


def test_names_that_read_like_the_plan_s_own_words_pass(tmp_path: Path, in_language: Any) -> None:
    """What the user writes may be in any script, and may say what the pages say."""
    job = tmp_path / "names.toml"
    job.write_text(NAMES, encoding="utf-8")
    plan = chainplan.make_plan(chainplan.read_job(job))
    english = chainplan.write_plan(plan, tmp_path / "plan")
    for language in OTHERS:
        folder = in_language(plan, english, tmp_path / language, language)
        assert _left_at_bench(folder) == [], language
