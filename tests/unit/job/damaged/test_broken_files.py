"""One small broken file per fault; each message says where, what was found and what is allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from chainplan.errors import InputError
from chainplan.job import check_job, read_job

FOLDER = Path(__file__).resolve().parents[3] / "data" / "broken" / "job"

# file → (place after the file's name, words that must stand in the message); the only fault
BROKEN = {
    "bench_currency_not_three_letters.toml": ("bench.money.currency", "'euro'", "three letters"),
    "bench_day_off_not_a_date.toml": ("bench.calendar.days_off", "'Easter'", "2027-01-01"),
    "bench_group_not_a_table.toml": ("bench", "not a table"),
    "bench_group_not_known.toml": ("bench.weldor.pre_flow_s", "did you mean 'welder'?"),
    "bench_powers_in_the_wrong_order.toml": ("bench.welder.lowest_power_j", "30", "20"),
    "bench_setting_not_a_number.toml": ("bench.welder.pre_flow_s", "'long'", "number"),
    "bench_setting_not_known.toml": ("bench.welder.pre_flw_s", "did you mean 'pre flow s'?"),
    "bench_setting_out_of_range.toml": ("bench.welder.pre_flow_s", "50 s", "0 to 10 s"),
    "bench_shares_in_the_wrong_order.toml": ("bench.heat.arc_share_low", "0.9", "0.6"),
    "bench_working_day_not_known.toml": ("bench.calendar.working_days", "'Tus'", "Mon Tue"),
    "bench_working_days_in_a_broken_range.toml": ("working_days", "'Mon-Frei'", "Mon-Fri,"),
    "cell_under_no_heading.csv": ("G2", "'5'", "quotes"),
    "clasp_longer_than_the_piece.toml": ("clasp_length", "250 mm", "200 mm"),
    "closed_loop_perhaps.toml": ("closed_loop", "'perhaps'", "yes or no"),
    "closed_loop_with_a_clasp.toml": ("closed_loop", "keep one"),
    "column_given_twice.toml": ("wire_mm", "second time"),
    "column_not_known.toml": ("lenth", "did you mean 'length'?"),
    "due_a_century_off.toml": ("due", "1927-03-01", "2000 to 2100"),
    "due_that_can_be_read_in_two_ways.toml": ("due", "3 April or March 4", "2027-03-01"),
    "due_that_does_not_exist.toml": ("due", "2027-02-30", "does not exist"),
    "due_that_is_a_number.toml": ("due", "46447", "date"),
    "due_that_is_no_date.toml": ("due", "'soon'", "2027-03-01"),
    "header_only.csv": ("", "no row below", "one row a piece"),
    "heading_missing.csv": ("", "no column 'weave'"),
    "heading_not_known.csv": ("G1", "'colour'", "known: name"),
    "heading_twice.csv": ("D1", "second column 'wire'", "C1"),
    "inner_and_mandrel_both.toml": ("mandrel", "both inner and mandrel"),
    "inner_and_mandrel_missing.toml": ("piece 1 (Plain chain)", "inner or mandrel"),
    "inner_smaller_than_the_wire.toml": ("inner", "0.9 mm", "1 mm"),
    "length_and_rings_both.toml": ("rings", "both length and rings"),
    "length_and_rings_missing.toml": ("piece 1 (Plain chain)", "length or rings"),
    "length_with_a_comma_read_in_two_ways.toml": ("length", "1,000", "two ways", "point"),
    "list_price_negative.toml": ("list_price", "-1", "allowed is 0.01"),
    "loose_joins_with_a_length.toml": ("length", "loose-joins", "empty"),
    "loose_joins_without_their_number.toml": ("piece 1", "'rings'"),
    "mandrel_on_which_wire_springs_back_straight.toml": ("mandrel", "190 mm", "thinner mandrel"),
    "metal_not_known.toml": ("metal", "'coper'", "did you mean 'copper'?"),
    "metal_that_must_not_be_welded.toml": ("metal", "must not be welded", "bare metal"),
    "name_missing.toml": ("piece 1", "name is missing"),
    "name_that_begins_like_a_formula.toml": ("name", "'=1+1'", "letter or digit"),
    "name_that_climbs_out_of_its_folder.toml": ("name", "'../chain'", "letter or digit"),
    "name_that_is_too_long.toml": ("name", "61 characters", "60"),
    "name_that_some_computers_reserve.toml": ("name", "'con'", "reserve"),
    "name_twice.toml": ("piece 2 (Plain chain) › name", "second time", "'section'"),
    "name_twice_but_for_capitals.toml": ("piece 2 (plain Chain) › name", "capitals"),
    "name_with_a_control_character.toml": ("name", "U+0007"),
    "name_with_a_slash.toml": ("name", "'/'"),
    "name_with_an_emoji.toml": ("name", "\U0001f48d"),
    "name_with_quotes.toml": ("name", "'\"'"),
    "no_pieces.toml": ("", "no pieces"),
    "notes_that_are_a_list.toml": ("notes", "a list"),
    "number_missing.csv": ("C2", "wire is missing"),
    "own_metal_like_an_unknown_one.toml": ("like", "did you mean 'copper'?"),
    "own_metal_that_is_liquid_before_it_melts.toml": ("solidus", "1200", "1083"),
    "own_metal_with_a_bad_key.toml": ("metal 1 › metal", "'My Metal'", "hyphens"),
    "own_metal_with_a_known_key.toml": ("metal 1 › metal", "'copper'", "already"),
    "own_metal_with_a_range_out_of_order.toml": ("density", "9 / 8 / 10", "low / usual / high"),
    "own_metal_without_a_source.toml": ("metal 1", "source is missing"),
    "own_metal_without_its_values.toml": ("metal 1", "specific heat", "like"),
    "part_beyond_the_end_of_its_piece.toml": ("place", "300 mm", "200 mm"),
    "part_of_an_unknown_kind.toml": ("kind", "'ambre'", "did you mean 'amber'?"),
    "part_of_its_own_kind_without_a_limit.toml": ("part 1", "no limit"),
    "part_on_a_piece_that_is_not_there.toml": ("piece", "did you mean 'Plain chain'?"),
    "part_on_a_row_that_is_not_there.toml": ("row", "row is 3", "1 to 1"),
    "piece_written_as_a_single_table.toml": ("piece", "[[piece]]"),
    "price_not_a_number.toml": ("price 1 › price", "'dear'", "number"),
    "price_of_nothing_known.toml": ("item", "did you mean 'argon'?"),
    "price_per_the_wrong_unit.toml": ("per", "per g", "l, cylinder"),
    "price_twice.toml": ("price 2", "second price of argon"),
    "quantity_true.toml": ("quantity", "yes", "number"),
    "quantity_zero.toml": ("quantity", "0", "1 to 10000"),
    "recorded_ring_without_its_inner_diameter.toml": ("recorded 1", "'inner'"),
    "recorded_ring_twice.toml": ("recorded 2", "second measured ring of copper"),
    "recorded_ring_of_an_unknown_temper.toml": ("temper", "'soft'", "half-hard"),
    "rings_not_whole.toml": ("rings", "12.5", "whole number"),
    "rounding_not_known.toml": ("rounding", "did you mean 'nearest'?"),
    "rows_given_for_a_chain.toml": ("rows", "single-link", "chain"),
    "rows_missing_for_a_sheet.toml": ("piece 1", "european-4-in-1", "'rows'"),
    "second_ring_given_for_a_weave_of_one_size.toml": ("second_wire_mm", "one size"),
    "section_left_out.toml": ("section", "1, 3", "without gaps"),
    "section_list_empty.toml": ("section", "[[piece.section]]"),
    "section_twice.toml": ("piece 2", "section 1", "twice"),
    "section_two_alone.toml": ("section", "is 2", "begin with 1"),
    "sections_that_disagree_on_the_quantity.toml": ("piece 2", "quantity", "section 1 only"),
    "start_date_that_is_no_date.toml": ("start_date", "'today'", "2027-03-01"),
    "stock_of_an_unknown_temper.toml": ("temper", "'halfhard'", "half-hard"),
    "stock_rings_without_a_size.toml": ("stock 1", "'inner'"),
    "stock_wire_without_a_metal.toml": ("stock 1", "'metal'"),
    "table_not_known.toml": ("peice", "did you mean 'piece'?"),
    "temper_not_known.toml": ("temper", "'soft'", "annealed, half-hard"),
    "weave_not_known.toml": ("weave", "did you mean 'single-link'?"),
    "wire_in_an_unknown_unit.toml": ("wire", "'lb'", "1.2mm, 0.04in, 16AWG"),
    "wire_infinite.toml": ("wire_mm", "Infinity", "finite"),
    "wire_negative.toml": ("wire", "-1 mm", "0.1 to 10 mm"),
    "wire_not_finite.toml": ("wire_mm", "NaN", "finite"),
    "wire_too_thick.toml": ("wire_mm", "18 mm", "18AWG or 18SWG"),
    "wire_with_a_bare_gauge.toml": ("wire", "'18ga'", "AWG or SWG"),
    "wire_without_a_unit.toml": ("wire", "no unit", "18AWG or 18SWG"),
    "wire_zero.toml": ("wire", "0 mm", "0.1 to 10 mm"),
}

# file → words of each of its faults, in order
BROKEN_TWICE = {
    "no_known_heading.csv": ["'a'", "'b'", "'name'", "'weave'", "'wire'", "'metal'"],
    "number_not_a_number.csv": ["C2: wire is 'one'", "F2: length is 'nan'"],
    "recorded_with_power_and_mandrel.toml": ["both power and mandrel", "inner diameter"],
    "section_repeats_a_key_of_its_piece.toml": ["given for the piece", "both length and rings"],
    "wire_heading_in_an_unknown_unit.toml": ["has the unit 'lb'", "wire is missing"],
}

# file → words; these cannot be read at all, so there is no list of faults
NO_JOB = {
    "blank.csv": ["is empty", "chainplan start"],
    "empty.toml": ["is empty", "chainplan start"],
    "not_a_workbook.xlsx": ["not a workbook", ".xlsx, .csv or .toml"],
    "not_toml.toml": ["not TOML", "line 1"],
    "not_utf8.csv": ["not UTF-8", "byte 15"],
    "quote_not_closed.csv": ["not a CSV", "quotes"],
    "zero_bytes.toml": ["zero bytes"],
}


def test_every_broken_file_is_in_one_of_the_lists():
    """A file that no list names would never be read."""
    named = [*BROKEN, *BROKEN_TWICE, *NO_JOB]
    assert sorted(named) == sorted(path.name for path in FOLDER.iterdir())


@pytest.mark.parametrize(("file", "words"), BROKEN.items(), ids=list(BROKEN))
def test_broken_file_is_refused_with_one_message_that_names_place_and_fault(
    file, words, four_weaves
):
    """One cause, one message: with the file, the place, what was found and what is allowed."""
    faults = check_job(FOLDER / file, weaves=four_weaves)
    assert len(faults) == 1, [str(fault) for fault in faults]
    place, *rest = words
    assert faults[0].where.startswith(file)
    assert place in faults[0].where
    assert faults[0].found
    assert faults[0].allowed
    for word in rest:
        assert word in str(faults[0])


@pytest.mark.parametrize(("file", "words"), BROKEN_TWICE.items(), ids=list(BROKEN_TWICE))
def test_every_fault_of_a_file_is_told_at_once(file, words, four_weaves):
    """People mend a sheet once, not once a fault."""
    with pytest.raises(InputError) as caught:
        read_job(FOLDER / file, weaves=four_weaves)
    assert len(caught.value.faults) == len(words)
    for fault, word in zip(caught.value.faults, words, strict=True):
        assert word in str(fault)
        assert word in str(caught.value)


@pytest.mark.parametrize(("file", "words"), NO_JOB.items(), ids=list(NO_JOB))
def test_file_that_is_no_job_is_refused_with_what_it_is(file, words, four_weaves):
    """Nothing in it can be placed, so the error itself says what the file is."""
    with pytest.raises(InputError) as caught:
        check_job(FOLDER / file, weaves=four_weaves)
    assert str(caught.value).startswith(file)
    for word in words:
        assert word in str(caught.value)
