"""Machines of the workshop: what a station needs beside a person, and how many there are."""

from __future__ import annotations

from enum import StrEnum

from chainplan.frozen import frozen
from chainplan.model.workshop.schedule import TUMBLER, WELDER


class MachineStation(StrEnum):
    """A station that may need a machine; at "weld" are pre-closing, set up and rework too."""

    COIL = "coil"
    CUT = "cut"
    TUMBLE = "tumble"
    WELD = "weld"
    CLEAN = "clean"
    INSPECT = "inspect"
    FINISH = "finish"


@frozen
class Machine:
    """A machine, or some alike: one thing at a time on each."""

    label: str
    station: MachineStation
    number: int = 1
    days_off: str = ""  # on which it stands: repair, lent

    @property
    def labels(self) -> tuple[str, ...]:
        """What each is called."""
        if self.number == 1:
            return (self.label,)
        return tuple(f"{self.label} {k}" for k in range(1, self.number + 1))


ALWAYS_THERE = (
    Machine(label=WELDER, station=MachineStation.WELD),
    Machine(label=TUMBLER, station=MachineStation.TUMBLE),
)
"""What a workshop has that lists no machine for the station; other stations need none then."""


def machines_there(listed: tuple[Machine, ...]) -> tuple[Machine, ...]:
    """Return the machines of a workshop: those listed, and the one welder and tumbler."""
    stations = {machine.station for machine in listed}
    return (*listed, *(one for one in ALWAYS_THERE if one.station not in stations))
