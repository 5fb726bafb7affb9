"""Bench settings: what is still invented, and what they say of themselves."""

from dataclasses import fields, replace

import pytest

from chainplan.model.bench import HAND_PACE, Bench, pace_is_default, pace_warning
from chainplan.model.bench.setting import setting_rows, settings_of


def test_the_pace_is_invented_until_any_setting_of_it_is_changed() -> None:
    """Times rest on pace and stations; who changed one has looked at them."""
    bench = Bench()
    assert pace_is_default(bench)
    assert not pace_is_default(replace(bench, pace=replace(bench.pace, handle_s=9.0)))
    assert not pace_is_default(replace(bench, stations=replace(bench.stations, cut_s=5.0)))
    assert pace_is_default(replace(bench, money=replace(bench.money, decimals=0)))


@pytest.mark.parametrize(("group", "name"), HAND_PACE)
def test_the_warning_names_settings_that_there_are(group: str, name: str) -> None:
    """A name that cannot be found on the bench sheet helps nobody."""
    assert hasattr(getattr(Bench(), group), name)
    assert f"'{name.replace('_', ' ')}'" in pace_warning()
    assert f"group {group}" in pace_warning()


def test_every_row_of_the_table_is_a_field_of_its_group_and_of_its_kind() -> None:
    """A row that no class declares would be a setting that nobody can give."""
    declared = [
        (group.name, item.name, item.type)
        for group in fields(Bench)
        for item in fields(type(getattr(Bench(), group.name)))
    ]
    kinds = {"number": "float", "count": "int", "money": "Decimal", "yes/no": "bool", "text": "str"}
    rows = setting_rows()
    assert [(group, name) for group, name, _ in declared] == list(rows)
    for group, name, type_name in declared:
        assert type_name == kinds[rows[group, name]["kind"]], f"{group} {name}"


def test_every_default_lies_within_its_bounds_and_has_a_source() -> None:
    """A default that a job could not give itself would be refused when it is written out."""
    for group in fields(Bench):
        for info in settings_of(group.name, type(getattr(Bench(), group.name))):
            assert info.means, info
            assert info.source, info
            if info.low is not None:
                assert info.low <= info.default <= info.high, info
