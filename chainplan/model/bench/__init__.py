"""Bench settings: one frozen group a stage, every default with unit, meaning and source."""

from __future__ import annotations

from dataclasses import dataclass, field

from chainplan.model.bench.calendar import CalendarSettings
from chainplan.model.bench.electrode import ElectrodeSettings
from chainplan.model.bench.heat import HeatSettings
from chainplan.model.bench.money import MoneySettings
from chainplan.model.bench.pace import PaceSettings
from chainplan.model.bench.stations import StationSettings
from chainplan.model.bench.welder import WelderSettings
from chainplan.model.bench.wire import WireSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """All bench settings of a job, by group."""

    electrode: ElectrodeSettings = field(default_factory=ElectrodeSettings)
    welder: WelderSettings = field(default_factory=WelderSettings)
    heat: HeatSettings = field(default_factory=HeatSettings)
    pace: PaceSettings = field(default_factory=PaceSettings)
    wire: WireSettings = field(default_factory=WireSettings)
    stations: StationSettings = field(default_factory=StationSettings)
    money: MoneySettings = field(default_factory=MoneySettings)
    calendar: CalendarSettings = field(default_factory=CalendarSettings)
