"""The commands about weaves: list them, tell about one, check a file of one's own."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.running import DONE, INPUT_FAULT
from chainplan.cli.common.telling import tell_files

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


def add_commands(commands: Commands) -> None:
    """Enter ``weaves`` and ``designs``."""
    designs = commands.add("designs", run_designs, "Preview designs: rings by metal, a picture")
    designs.add_argument("job", metavar="JOB", help="the job file")
    designs.add_argument("--picture", metavar="DIR", help="draw the pieces there, shaded")
    weaves = commands.add("weaves", run_weaves, "List the weaves, or tell about one")
    weaves.add_argument("name", nargs="?", metavar="NAME", help="a weave, to be told about it")
    weaves.add_argument("--wire", metavar="SIZE", help="1.0mm, 18AWG, 18SWG, 0.04in")
    weaves.add_argument("--inner", metavar="SIZE", help="inner diameter of the ring")
    weaves.add_argument("--new", metavar="FILE", help="check a weave file of your own")
    weaves.add_argument("--picture", metavar="FILE", help="draw it, or all of them, there")
    weaves.add_argument("--chart", metavar="FILE", help="chart rings per cm and limits there")
    weaves.add_argument("--numbers", action="store_true", help="number the rings of the picture")


@chainplan.keep_solved()
def run_designs(args: argparse.Namespace) -> int:
    """Answer ``chainplan designs``; library: :func:`chainplan.preview_designs`."""
    from pathlib import Path

    from chainplan.report.text import record
    from chainplan.report.text.terminal import answers

    previews = chainplan.preview_designs(args.job, args.picture)
    for item in previews:
        tell_files(map(Path, item.files))
    print(record.to_json(previews) if args.json else answers.designs_text(previews))
    return DONE


@chainplan.keep_solved()
def run_weaves(args: argparse.Namespace) -> int:
    """Answer ``chainplan weaves``.

    Library: list_weaves, describe_weave, check_weave, draw_weave, draw_weaves, draw_weave_chart.
    """
    from chainplan.report.text import record
    from chainplan.report.text.terminal import answers

    if args.new:
        report = chainplan.check_weave(args.new)
        print(record.to_json(report.record()) if args.json else str(report))
        return DONE if report.ok else INPUT_FAULT
    if args.name is None:
        weaves = chainplan.list_weaves()
        listed = record.weaves_record(weaves)
        if args.picture:
            tell_files(chainplan.draw_weaves(args.picture, wire=args.wire or "1.0mm"))
        print(record.to_json(listed) if args.json else answers.weaves_text(weaves))
        return DONE
    described = chainplan.describe_weave(args.name, wire=args.wire, inner=args.inner)
    told = record.weave_record(described)
    if args.picture:
        tell_files(chainplan.draw_weave(described, args.picture, numbers=args.numbers))
    if args.chart:
        tell_files([chainplan.draw_weave_chart(described, args.chart)])
    print(record.to_json(told) if args.json else answers.weave_text(described))
    return DONE
