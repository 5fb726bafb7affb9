"""Words about a cooling curve: how to read one, and what it says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.text.terminal.workshop import table_text

if TYPE_CHECKING:
    from chainplan.model.thermal.calibration import Calibration

HOW_TO = """\
How to read a cooling curve, with a thermocouple of thin wire (0.3 mm at most) and a multimeter:

       hook, thread
          |
       ( )( )( )( )( )( )     the piece hangs free, out of draughts
              ||
              *--- thermocouple, its bare end held under the wire by one turn of thin
                   wire or a dot of heat paste, on the side of a ring away from its join

1. Hang the piece up by a thread and read the room's temperature beside it.
2. Piece: warm all of it in hot water, dry it quickly, hang it back. Ring: give one ring on the
   hanging piece one pulse of known energy. Loose ring: the same to one that hangs alone.
3. Write down seconds and temperature every 2 to 5 s, until it is within 5 K of the room.
4. After a pulse the seconds count from it; readings before it are written with times below 0.
5. Put both into two columns headed time and temperature, save them as CSV, and run
   chainplan calibrate COOLING.csv --job JOB [--pulse J] [--loose-ring] --picture curve.png
6. Do it again on another day; if the intervals fit each other, add --write JOB.xlsx.

The piece tells how much of its loss to the air a ring keeps, the ring in the piece also how well
links conduct and how much of the arc's heat it keeps, the loose ring the last most exactly. An
infrared thermometer misreads bright metal: blacken the spot with a felt pen first."""

_WARMED = {
    "piece": "the whole piece was warm",
    "ring": "one ring got a pulse of {pulse:g} J, thermometer on ring {ring}",
    "loose ring": "a ring that hangs alone got a pulse of {pulse:g} J",
}


def calibration_text(found: Calibration) -> str:
    """Say what a cooling curve says: value, interval, what the plan has, whether it is enough."""
    warmed = _WARMED[found.warmed].format(pulse=found.pulse_j, ring=found.ring)
    lines = [
        f"{found.readings.file}: {int(found.fit.used.sum())} readings on {found.piece}; {warmed}",
        f"room {found.room_c:.1f} °C, scatter {found.fit.residual_k:.2f} K, "
        f"intervals of {found.level:.0%}",
        "",
        table_text(
            ["number", "plan has", "measured", "from", "to", "enough", "unit"],
            [
                [
                    item.title,
                    *(f"{value:.3g}" for value in (item.old or 0.0, item.new, item.low, item.high)),
                    "yes" if item.enough else "no",
                    item.unit,
                ]
                for item in found.figures
            ],
        ),
    ]
    if not all(item.enough for item in found.figures):
        lines += ["", "not enough: the interval is no narrower than what the plan has already"]
    return "\n".join([*lines, "", *(f"note: {note}" for note in found.notes)]).rstrip()
