"""The command that takes a cooling curve: how to read one, and what it says."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.running import DONE
from chainplan.cli.common.telling import tell_written

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


def add_commands(commands: Commands) -> None:
    """Enter ``calibrate``."""
    text = "Measure arc share, exposure and links by a cooling curve; alone it says how"
    command = commands.add("calibrate", run_calibrate, text)
    command.add_argument("curve", metavar="COOLING", nargs="?", help="CSV of time and temperature")
    command.add_argument("--job", metavar="JOB", help="the job (default: the one to write into)")
    command.add_argument("--piece", metavar="NAME", help="needed if the job has several pieces")
    command.add_argument(
        "--pulse", type=float, metavar="J",
        help="energy set on the welder; without it the whole piece was warmed",
    )  # fmt: skip
    command.add_argument(
        "--loose-ring", action="store_true", help="the pulse went into a ring that hangs alone"
    )
    command.add_argument(
        "--ring", type=int, metavar="N", help="ring that got the pulse (default: the middle one)"
    )
    command.add_argument(
        "--thermometer", type=int, metavar="N", help="ring with the thermometer (default: the same)"
    )
    command.add_argument("--room", type=float, metavar="C", help="room temperature")
    command.add_argument("--picture", metavar="FILE", help="draw it there (.png or .svg)")
    command.add_argument("--write", metavar="JOB", help="put it into a job's workbook")


def run_calibrate(args: argparse.Namespace) -> int:
    """Answer ``chainplan calibrate``; library: chainplan.calibrate, chainplan.write_calibrated."""
    from chainplan.errors import Fault, InputError
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.calibration import HOW_TO, calibration_text

    if args.curve is None:
        print(to_json({"how_to": HOW_TO.splitlines()}) if args.json else HOW_TO)
        return DONE
    job = args.job or args.write
    if job is None:
        raise InputError(Fault("--job", "is missing", "name the job that has the piece"))
    found = chainplan.calibrate(
        args.curve,
        job,
        piece=args.piece,
        pulse_j=args.pulse,
        loose_ring=args.loose_ring,
        ring=args.ring,
        thermometer=args.thermometer,
        room_c=args.room,
        picture=args.picture,
    )
    written = chainplan.write_calibrated(found, args.write) if args.write else None
    if args.json:
        print(to_json({**plain(found), "written": plain(written)}))
        return DONE
    print(calibration_text(found))
    if written is not None:
        tell_written(written)
    return DONE
