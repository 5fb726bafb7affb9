"""What a job is made of once it has been read."""

from __future__ import annotations

import datetime
import subprocess
import sys
from decimal import Decimal

import pytest

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError
from chainplan.job import check_job, read_job, section_from_words
from chainplan.model.metal import MeasuredRing
from chainplan.model.piece.weave_names import WeaveName, WeaveNames
from chainplan.reference import find_metal, inner_from_mandrel_mm

HEADING = "name,weave,wire mm,inner mm,metal,length mm\n"


def test_sections_of_one_name_make_one_piece_in_the_order_of_their_numbers(tmp_path):
    """Rows may stand in any order; the numbers say how the stretches follow each other."""
    path = tmp_path / "job.csv"
    path.write_text(
        "name,section,weave,wire mm,inner mm,metal,length mm,rings,clasp length mm,quantity\n"
        "Two-tone,2,single-link,1.2,4.8,copper,,25,,\n"
        "Other,,single-link,1.2,4.8,copper,100,,,\n"
        "Two-tone,1,byzantine,1,3.5,sterling-silver,120,,12,3\n"
    )
    two_tone, other = read_job(path).pieces
    assert [section.weave for section in two_tone.sections] == ["byzantine", "single-link"]
    assert two_tone.sections[1].rings == 25
    assert (two_tone.quantity, two_tone.clasp_length_mm) == (3, 12.0)
    assert (other.name, len(other.sections)) == ("Other", 1)


def test_sections_can_be_nested_in_toml(toml, four_weaves):
    """What holds for all sections is written once."""
    sections = "[[piece.section]]\nrings = 4\n[[piece.section]]\nlength_in = 2\n"
    (piece,) = read_job(toml(sections, length=None), weaves=four_weaves).pieces
    assert [s.rings for s in piece.sections] == [4, None]
    assert piece.sections[1].length_mm == pytest.approx(50.8)


def test_loose_joins_without_a_ring_size_are_no_rings_and_the_warning_says_so(toml, four_weaves):
    """Earring posts take no ring wire; the ring assumed for their heat is told."""
    path = toml(weave='"Loose joins"', inner=None, length=None, rings="24")
    job = read_job(path, weaves=four_weaves)
    (section,) = job.pieces[0].sections
    assert (section.weave, section.rings, section.inner_mm) == ("loose-joins", 24, 4.0)
    assert not section.made_of_rings
    assert "no wire, weight or sawing" in job.warnings[0]
    assert "heat a ring of 4 mm inside is assumed" in job.warnings[0]


def test_loose_joins_with_a_ring_size_are_rings(toml, four_weaves):
    """Pendant rings are cut from wire like all others."""
    path = toml(weave='"Loose joins"', length=None, rings="24")
    job = read_job(path, weaves=four_weaves)
    assert job.pieces[0].sections[0].made_of_rings
    assert not job.warnings


def test_mandrel_gives_the_ring_after_springback(toml, four_weaves):
    """The reader uses the same formula as everything else, with metal and temper of the row."""
    path = toml(inner=None, mandrel='"4 mm"', temper='"half hard"')
    (section,) = read_job(path, weaves=four_weaves).pieces[0].sections
    wanted_mm = inner_from_mandrel_mm(1.0, 4.0, find_metal("copper"), "half-hard")
    assert section.inner_mm == wanted_mm
    assert section.inner_mm > 4.0
    assert (section.mandrel_mm, section.temper) == (4.0, "half-hard")


def test_measured_ring_replaces_the_computed_springback(toml, four_weaves):
    """A ring of the user's own says more than a table of yields."""
    measured = "[[recorded]]\nmetal = 'copper'\nwire_mm = 1\nmandrel_mm = 5\ninner_mm = 5.2\n"
    path = toml(measured, inner=None, mandrel='"4 mm"')
    job = read_job(path, weaves=four_weaves)
    ring = MeasuredRing(wire_mm=1, mandrel_mm=5, inner_mm=5.2)
    wanted_mm = inner_from_mandrel_mm(1.0, 4.0, find_metal("copper"), calibration=ring)
    assert job.pieces[0].sections[0].inner_mm == wanted_mm
    assert wanted_mm != inner_from_mandrel_mm(1.0, 4.0, find_metal("copper"))
    assert job.measured_rings[0].inner_mm == 5.2


def test_second_ring_is_needed_where_the_weave_has_two_sizes(toml, four_weaves):
    """Nothing stands in for the second size."""
    (fault,) = check_job(toml(weave='"two-sizes"'), weaves=four_weaves)
    assert "'second inner'" in fault.allowed
    path = toml(weave='"two-sizes"', second_wire_mm="0.8", second_inner='"2.4 mm"')
    (section,) = read_job(path, weaves=four_weaves).pieces[0].sections
    assert (section.second_wire_mm, section.second_inner_mm) == (0.8, 2.4)


def test_part_takes_its_limit_from_the_table_and_keeps_its_source(toml, four_weaves):
    """Music-wire springs: 120 °C, from the table of parts."""
    part = "[[part]]\npiece = 'Plain chain'\npart = 'clasp'\nkind = 'music-wire spring'\n"
    (piece,) = read_job(toml(part + "from = 'end'\n"), weaves=four_weaves).pieces
    assert (piece.parts[0].kind, piece.parts[0].limit_c) == ("spring", 120.0)
    assert piece.parts[0].from_end
    assert piece.parts[0].source


def test_part_with_a_limit_above_the_cautious_one_is_told(toml, four_weaves):
    """The user may know better, but not by a slip of the pen."""
    part = "[[part]]\npiece = 'Plain chain'\npart = 'drop'\nkind = 'amber'\nlimit = 300\n"
    job = read_job(toml(part), weaves=four_weaves)
    assert job.pieces[0].parts[0].limit_c == 300
    assert "above the cautious limit of 100 °C" in job.warnings[0]


def test_own_metal_is_filled_in_from_the_one_it_is_like(toml, four_weaves):
    """A supplier's sheet gives a density and a melting range, seldom more; the rest is told."""
    metal = (
        "[[metal]]\nmetal = 'studio-white'\nlike = 'sterling'\nsource = 'supplier, invented'\n"
        "density = '10.2 / 10.3 / 10.4'\nliquidus = 900\n"
    )
    job = read_job(toml(metal, metal="'Studio white'"), weaves=four_weaves)
    own, sterling = job.metals["studio-white"], find_metal("sterling-silver")
    assert job.pieces[0].sections[0].metal == "studio-white"
    assert (own.density_g_cm3.low, own.density_g_cm3.usual) == (10.2, 10.3)
    assert own.density_g_cm3.source == "supplier, invented"
    assert own.specific_heat_j_kg_k == sterling.specific_heat_j_kg_k
    assert own.yield_mpa == sterling.yield_mpa
    assert any("specific heat" in warning for warning in job.warnings)


def test_prices_stock_and_settings_are_read(toml, four_weaves):
    """Each list has its own rows and its own words."""
    more = (
        "[[price]]\nitem = 'wire premium Copper'\nprice = 0.30\nper = 'm'\ndate = 2027-01-08\n"
        "[[stock]]\nkind = 'wire'\nmetal = 'cu'\nsize = '18SWG'\namount = 5\npack = 2.5\n"
        "[[recorded]]\nmetal = 'copper'\nwire = '1 mm'\npower = 14\nhits = 2\ntip = 'blunt'\n"
    )
    job = read_job(toml(more), weaves=four_weaves)
    assert (job.prices[0].item, job.prices[0].price) == ("wire premium copper", Decimal("0.30"))
    assert job.prices[0].date == datetime.date(2027, 1, 8)
    assert (job.stock[0].metal, job.stock[0].pack) == ("copper", 2.5)
    assert job.stock[0].size_mm == pytest.approx(1.2192)
    assert (job.recorded[0].power_j, job.recorded[0].hits, job.recorded[0].tip) == (14, 2, "blunt")


def test_bench_settings_keep_their_defaults_unless_given(toml, four_weaves):
    """Only what the user writes changes."""
    bench = "[bench.welder]\n'pre flow s' = 0.4\n[bench.calendar]\nworking_days = 'thu, Monday'\n"
    job = read_job(toml(bench), weaves=four_weaves)
    plain = read_job(toml(), weaves=four_weaves)
    assert job.bench.welder.pre_flow_s == 0.4
    assert job.bench.calendar.working_days == "Mon Thu"
    assert job.bench.welder.post_flow_s == plain.bench.welder.post_flow_s
    assert job.bench.electrode == plain.bench.electrode


def test_piece_due_before_the_start_is_told(toml, four_weaves):
    """It may be late already; that is no fault of the file."""
    path = toml(due="2027-01-04")
    path.write_text("start_date = 2027-01-11\n" + path.read_text())
    job = read_job(path, weaves=four_weaves)
    assert job.start_date == datetime.date(2027, 1, 11)
    assert "before the start" in job.warnings[0]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_csv_is_read_with_the_usual_separators(separator, tmp_path, four_weaves):
    """Where the comma is the decimal sign, spreadsheets separate by semicolons."""
    path = tmp_path / "job.csv"
    row = ["Plain chain", "single-link", "1.0", "4", "copper", "200"]
    text = HEADING.replace(",", separator) + separator.join(row) + "\n"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert len(read_job(path, weaves=four_weaves).pieces) == 1


def test_csv_with_decimal_commas_is_read_where_they_can_mean_one_thing(tmp_path, four_weaves):
    """1,5 is one and a half; 1,000 may be a thousand."""
    path = tmp_path / "job.csv"
    path.write_text("name;weave;wire mm;inner mm;metal;length mm\nA;single-link;1,2;4,8;copper;200")
    (section,) = read_job(path, weaves=four_weaves).pieces[0].sections
    assert (section.wire_mm, section.inner_mm) == (1.2, 4.8)


def test_file_with_thousands_of_faults_tells_the_first_and_counts_the_rest(tmp_path):
    """A wrong column makes a fault a row; two hundred are enough to see it."""
    path = tmp_path / "job.csv"
    rows = [f"Chain {n},single-link,1,4,copper,-1\n" for n in range(1000)]
    path.write_text(HEADING + "".join(rows))
    faults = check_job(path)
    assert len(faults) == BOUNDS.faults + 1
    assert "800 further faults" in faults[-1].found


def test_own_weave_file_is_opened_beside_the_job(toml):
    """A maker's own weave needs no place in the library."""
    opened = []

    def open_file(path):
        opened.append(path)
        return WeaveName(key=str(path))

    path = toml(weave="'mine.toml'")
    names = WeaveNames((), open_file)
    (fault,) = check_job(path, weaves=names)
    assert "not there" in fault.found
    (path.parent / "mine.toml").write_text("")
    assert read_job(path, weaves=names).pieces[0].sections[0].weave.endswith("mine.toml")
    assert opened == [path.parent / "mine.toml"]


def test_hash_of_the_input_is_that_of_the_bytes(toml, four_weaves):
    """The same file gives the same stamp, another another."""
    first = read_job(toml(), weaves=four_weaves).input_sha256
    assert first == read_job(toml(), weaves=four_weaves).input_sha256
    assert first != read_job(toml("# note\n"), weaves=four_weaves).input_sha256


def test_section_is_read_from_single_words(four_weaves):
    """The command line gives the same words without a file; numbers are mm."""
    section = section_from_words(
        weave="1-in-1", wire="18AWG", inner=4.0, length="45 cm", metal="Sterling",
        weaves=four_weaves,
    )  # fmt: skip
    assert (section.weave, section.metal) == ("single-link", "sterling-silver")
    assert (section.inner_mm, section.length_mm) == (4.0, 450.0)


def test_every_fault_of_single_words_is_told_at_once(four_weaves):
    """A bare gauge, a bare length and a mistyped metal in one go."""
    with pytest.raises(InputError) as caught:
        section_from_words(
            weave="single-link", wire="18", inner="4mm", length="450", metal="coper",
            weaves=four_weaves,
        )  # fmt: skip
    assert [fault.where for fault in caught.value.faults] == ["wire", "length", "metal"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"wire": "18"}, "wire: '18' has no unit; write 18AWG, 18SWG or 1.0mm"),
        ({"wire": "1.2"}, "wire: '1.2' has no unit; write 1.2mm"),
        ({"wire": " "}, "the ring: wire is missing; give wire (--wire), for example 1.0mm"),
        ({"metal": ""}, "the ring: metal is missing; give metal (--metal), for example sterling"),
        ({"inner": "4"}, "inner: '4' has no unit; write 4mm, or a length in cm or in"),
        ({"inner": None}, "neither inner nor mandrel is given; give one of them (--inner or --m"),
        ({"length": "450"}, "length: '450' has no unit; write 450mm, or a length in cm or in"),
        ({"weave": "european-4-in-1"}, "has no width; give the number of rows (--rows)"),
        ({"rows": 3}, "rows: rows is given for single-link, which is a chain; leave it out"),
        ({"rings": "2.5", "length": None}, "rings: 2.5; write a whole number"),
        ({"weave": "loose-joins", "length": None}, "give how many joins (--rings)"),
        ({"weave": "two-sizes"}, "give second inner (--second-inner)"),
    ],
)
def test_message_about_a_single_word_says_how_to_give_it_there(words, message, four_weaves):
    """On a command line there is no column to write it in and no heading to change."""
    given = {"weave": "single-link", "wire": "1.0mm", "inner": "4mm", "metal": "copper"}
    with pytest.raises(InputError) as caught:
        section_from_words(**{**given, "length": "45cm", **words}, weaves=four_weaves)
    assert message in str(caught.value)
    for word in ("column", "heading", "empty", "nothing was written"):
        assert word not in str(caught.value)


def test_reader_is_imported_without_the_heavy_libraries():
    """The quick commands pay for what they import."""
    heavy = "{'pandas', 'scipy', 'networkx', 'matplotlib', 'openpyxl'}"
    code = f"import sys, chainplan.job; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("name", "length", "clasp", "said"),
    [
        ("Bracelet for Monday", "19", 12, "a bracelet of 19 mm is odd: is 19 cm meant"),
        ("Two tone", "19", 12, "odd with a clasp of 12 mm: is 19 cm or 19 in meant"),
        ("Necklaces", '"19 in"', 0, ""),
        ("Necklace", "19", 0, "is 19 in meant"),
        ("Bracelet", '"19 cm"', 12, ""),
        ("Earring dangles", "19", 0, ""),
        ("Cuff", "4000", 0, "is it right? Usual are 110 to 400 mm"),
        ("Sample", "19", 0, ""),
    ],
)
def test_a_length_that_is_odd_for_its_piece_is_asked_about(
    name, length, clasp, said, toml, four_weaves
):
    """A question, no fault: the length may be right."""
    path = toml(
        f"""
        [[piece]]
        name = "{name}"
        weave = "single-link"
        wire_mm = 1.0
        inner_mm = 4.0
        metal = "copper"
        length = {length if length.startswith('"') else length + ".0"}
        clasp_length_mm = {clasp}
        """.replace("length = ", "length = " if length.startswith('"') else "length_mm = ", 1)
    )
    warnings = read_job(path, weaves=four_weaves).warnings
    if said:
        assert len(warnings) == 1
        assert said in warnings[0]
    else:
        assert not warnings
