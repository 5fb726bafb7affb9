"""The sheet of designs: from workbook, TOML, grids and pictures; every fault told at once."""

from __future__ import annotations

import openpyxl
import pytest
from PIL import Image

from chainplan.errors import InputError
from chainplan.job import read_job, write_job
from chainplan.model.kinds import DesignRule
from chainplan.model.piece.design import OWN
from chainplan.model.piece.weave_names import WeaveName, WeaveNames
from chainplan.reference.colours import colour_of_metal

WEAVES = WeaveNames((
    WeaveName(key="single-link", rings=1),
    WeaveName(key="byzantine", rings=6, parts=("connector", "knot")),
    WeaveName(key="european-4-in-1", form="sheet", rings=2, parts=("edge",)),
))  # fmt: skip
SHEET = {"weave": '"european-4-in-1"', "rows": "7"}


def a_rule(rule, which, metals, **more):
    """One rule as TOML."""
    keys = {"design": "invented", "rule": rule, "which": which, "metals": metals, **more}
    lines = [f"{key} = {f'{value!r}' if isinstance(value, str) else value}" for key, value in
             keys.items()]  # fmt: skip
    return "[[design]]\n" + "\n".join(lines) + "\n"


def read(toml, *rules, **piece):
    """Read a piece with the design 'invented'."""
    return read_job(toml("".join(rules), design='"invented"', **piece), weaves=WEAVES)


def faults(toml, *rules, **piece):
    """Faults of such a job."""
    with pytest.raises(InputError) as found:
        read(toml, *rules, **piece)
    return found.value.faults


def line_of(job):
    """First rule of the first piece's design."""
    return job.pieces[0].sections[0].design.lines[0]


def test_rules_are_read_in_their_order_and_found_by_the_piece(toml):
    """Two rules of one design; the piece's temper goes to metals that know it."""
    job = read(
        toml,
        a_rule("list along", "AAB", "A copper, B brass"),
        a_rule("columns", "every 3rd from 2, last", "sterling"),
        temper='"half-hard"',
    )
    section = job.pieces[0].sections[0]
    assert [line.rule for line in section.design.lines] == [DesignRule.LIST, DesignRule.COLUMNS]
    assert section.design.metals == ("copper", "brass", "sterling-silver")
    assert dict(section.design_tempers)["brass"] == "half-hard"
    assert line_of(job).cells == (bytes([0, 0, 1]),)


def test_letters_may_stand_with_their_number(toml):
    """A3 B2 . is AAABB and a ring left as it is."""
    job = read(toml, a_rule("list along", "A3 B2 .", "A copper, B brass"))
    assert line_of(job).cells == (bytes([0, 0, 0, 1, 1, OWN]),)


@pytest.mark.parametrize(
    ("rule", "piece", "found", "hint"),
    [
        (("list along", "AAC", "A copper, B brass"), {}, "'C' has no metal", ""),
        (("list along", "AAb", "A copper, B brass"), {}, "'b' has no metal", "B"),
        (("list along", "A", "A copper, brass"), {}, "is no letter with its metal", ""),
        (("columns", "2-x", "copper"), {}, "'2-x' is no number", ""),
        (("columns", "5-2", "copper"), {}, "runs backwards", ""),
        (("columns", "2", "coper"), {}, "is not known", "copper"),
        (("columns", "2", "copper, brass"), {}, "2 metals for columns", ""),
        (("rows", "2", "copper"), {}, "which is a chain", ""),
        (("colums", "2", "copper"), {}, "rule", "columns"),
        (("part", "conector", "copper"), {"weave": '"byzantine"'}, "no part of byzantine",
         "connector"),
        (("place in repeat", "1-7", "copper"), {"weave": '"byzantine"'}, "number 7 where", ""),
        (("rows", "8", "copper"), SHEET, "number 8 where", ""),
        (("check", "2", "copper"), SHEET, "no size of a field", ""),
        (("border", "wide", "copper"), SHEET, "is no width", ""),
        (("picture", "rose.png", "copper"), SHEET, "cannot be read", ""),
        (("grid", "A/A/A/A/A/A/A/A", "A copper"), SHEET, "a grid of 8 rows", ""),
    ],
)  # fmt: skip
def test_each_fault_is_told_with_what_is_allowed(toml, rule, piece, found, hint):
    """One message, its place, and the word that may have been meant."""
    (fault,) = faults(toml, a_rule(*rule), **piece)
    assert found in fault.found
    assert "job.toml" in fault.where
    assert fault.allowed
    assert not hint or hint in fault.hint


def test_every_third_ring_of_a_repeat_of_one_is_pointed_to_a_list(toml):
    """A single link repeats ring by ring: what comes back after three is said as a list."""
    rule = a_rule("place in repeat", "every 3rd from 3", "copper")
    (fault,) = faults(toml, rule, weave='"single-link"')
    assert fault.found == "number 3 where there is 1 ring in a repeat of single-link"
    assert fault.allowed.startswith("1; the rule 'list along', such as AAB")


def test_all_faults_come_at_once(toml):
    """Three slips in three rules are three messages."""
    found = faults(
        toml,
        a_rule("columns", "x", "copper"),
        a_rule("list along", "AZ", "A copper"),
        a_rule("columns", "1", "unobtainium"),
    )
    assert len(found) == 3


def test_an_unknown_design_is_told_with_the_nearest(toml):
    """The piece names a design that is spelled otherwise."""
    with pytest.raises(InputError) as error:
        read_job(toml(a_rule("columns", "1", "copper"), design='"invneted"'), weaves=WEAVES)
    (fault,) = error.value.faults
    assert fault.hint == ("invented",)


def test_a_design_that_no_piece_has_is_noted(toml):
    """It may be a slip, and is no fault."""
    job = read_job(toml(a_rule("columns", "1", "copper")), weaves=WEAVES)
    assert any("no piece has the design" in text for text in job.warnings)


def test_a_grid_comes_from_csv_workbook_or_the_cell_itself(toml, tmp_path):
    """The same letters in five ways; blank cells are points, a space between each two is none."""
    (tmp_path / "grid.csv").write_text("A,,B\n\n,A,\n", encoding="utf-8")
    (tmp_path / "lines.csv").write_text("A.B\n...\n.A.\n", encoding="utf-8")
    book = openpyxl.Workbook()
    for place, letter in (("A1", "A"), ("C1", "B"), ("B3", "A")):
        book.active[place] = letter
    book.save(tmp_path / "grid.xlsx")
    wanted = (bytes([0, OWN, 1]), bytes([OWN] * 3), bytes([OWN, 0, OWN]))
    for which in ("grid.csv", "lines.csv", "grid.xlsx", "A.B/.../.A.", "A . B / . . . / . A ."):
        job = read(toml, a_rule("grid", which, "A copper, B brass"), **SHEET)
        assert line_of(job).cells == wanted, which


def test_a_picture_takes_the_nearest_metal_and_leaves_clear_dots(toml, tmp_path):
    """Dots in the metals' own colours, one a little off, one clear."""
    picture = Image.new("RGBA", (3, 2), (0, 0, 0, 0))
    for place, metal in (((0, 0), "copper"), ((1, 0), "sterling-silver"), ((2, 1), "brass")):
        colour = colour_of_metal(metal)
        shade = [min(int(colour[at : at + 2], 16) + 4, 255) for at in (1, 3, 5)]
        picture.putpixel(place, (*shade, 255))
    picture.save(tmp_path / "dots.png")
    rule = a_rule("picture", "dots.png", "sterling-silver, copper, brass")
    job = read(toml, rule, **SHEET)
    assert line_of(job).cells == (bytes([1, 0, OWN]), bytes([OWN, OWN, 2]))
    picture.putpixel((0, 1), (255, 255, 255, 255))
    picture.save(tmp_path / "dots.png")
    assert read(toml, rule, **SHEET).input_sha256 != job.input_sha256


def test_a_file_that_is_no_picture_is_refused(toml, tmp_path):
    """A text with a picture's name, and a picture cut short."""
    (tmp_path / "dots.png").write_text("no picture", encoding="utf-8")
    (fault,) = faults(toml, a_rule("picture", "dots.png", "copper"), **SHEET)
    assert "no PNG" in fault.found
    Image.new("RGB", (40, 40)).save(tmp_path / "dots.png")
    whole = (tmp_path / "dots.png").read_bytes()
    (tmp_path / "dots.png").write_bytes(whole[: len(whole) // 2])
    (fault,) = faults(toml, a_rule("picture", "dots.png", "copper"), **SHEET)
    assert "damaged" in fault.found


def test_designs_survive_being_written_and_read_again(toml, tmp_path):
    """Through a workbook and TOML; grids and rules as they were written."""
    job = read(
        toml,
        a_rule("grid", "AB/BA", "A copper, B brass", laid="again and again"),
        a_rule("border", "1", "copper"),
        **SHEET,
    )
    for ending in ("xlsx", "toml"):
        again = read_job(write_job(job, tmp_path / f"again.{ending}"), weaves=WEAVES)
        assert again.designs == job.designs
        assert again.pieces[0].sections[0].design == job.pieces[0].sections[0].design
