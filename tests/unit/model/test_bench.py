"""Bench settings: what is still invented, and what they say of themselves."""

from dataclasses import replace

import pytest

from chainplan.model.bench import HAND_PACE, Bench, pace_is_default, pace_warning


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
