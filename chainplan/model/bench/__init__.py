"""Bench settings: one frozen group a stage, every default with unit, meaning and source."""

from __future__ import annotations

from dataclasses import field, fields

from chainplan.frozen import frozen
from chainplan.model.bench.groups import (
    CalendarSettings,
    ElectrodeSettings,
    HeatSettings,
    LeadSettings,
    MoneySettings,
    PaceSettings,
    QuoteSettings,
    SheetSettings,
    StationSettings,
    WelderSettings,
    WireSettings,
)
from chainplan.model.bench.setting import settings_of


@frozen
class Bench:
    """All bench settings of a job, by group."""

    electrode: ElectrodeSettings = field(default_factory=ElectrodeSettings)
    welder: WelderSettings = field(default_factory=WelderSettings)
    heat: HeatSettings = field(default_factory=HeatSettings)
    pace: PaceSettings = field(default_factory=PaceSettings)
    lead: LeadSettings = field(default_factory=LeadSettings)
    wire: WireSettings = field(default_factory=WireSettings)
    stations: StationSettings = field(default_factory=StationSettings)
    money: MoneySettings = field(default_factory=MoneySettings)
    calendar: CalendarSettings = field(default_factory=CalendarSettings)
    sheet: SheetSettings = field(default_factory=SheetSettings)
    quote: QuoteSettings = field(default_factory=QuoteSettings)


HAND_PACE = (
    ("stations", "weave_ring_s"),
    ("stations", "weave_link_s"),
    ("pace", "handle_s"),
)
"""The settings that most of the hours rest on: to be measured before any other."""

_CLASSES = {"stations": StationSettings, "pace": PaceSettings}


def pace_is_default(bench: Bench) -> bool:
    """Whether pace and stations are all still as invented, so that no time is anybody's own.

    Examples
    --------
    >>> pace_is_default(Bench()), pace_is_default(Bench(pace=PaceSettings(handle_s=8.0)))
    (True, False)
    """
    return all(
        getattr(group, item.name) == item.default
        for group in (bench.pace, bench.stations)
        for item in fields(group)
    )


def pace_warning() -> str:
    """Sentence for whoever reads times and prices that rest on the invented pace."""
    groups: dict[str, list[str]] = {}
    for group, name in HAND_PACE:
        (info,) = (i for i in settings_of(group, _CLASSES[group]) if i.name == name)
        groups.setdefault(group, []).append(f"'{info.words}'")
    first = ", then ".join(
        f"{' and '.join(names)} (group {group})" for group, names in groups.items()
    )
    return (
        "The pace of your hands is still the invented default, a practised hand's on the slow "
        "side: hours, dates and prices follow it, and a person new to the work takes two to three "
        "times as long. "
        f"Measure it, and change first, on the sheet 'bench' of the job, {first}."
    )
