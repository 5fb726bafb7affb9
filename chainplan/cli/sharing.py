"""The command that shares a plan with the tablets of the workshop."""

from __future__ import annotations

import argparse
import sys

import chainplan
from chainplan.cli.common.running import DONE

TYPE_CHECKING = False
if TYPE_CHECKING:
    from chainplan.cli.common.registry import Commands
    from chainplan.share.serving import Listening


def add_commands(commands: Commands) -> None:
    """Enter ``share``."""
    share = commands.add("share", run_share, "Share a plan with tablets; ticks go into the record")
    share.add_argument("folder", metavar="FOLDER", help="the plan's folder")
    share.add_argument(
        "--port", type=_port, default=None, help="where to listen (default: 8470; 0: any free one)"
    )
    share.add_argument(
        "--lan", action="store_true", help="serve the network too, not this computer alone"
    )
    share.add_argument(
        "--https", action="store_true", help="with a certificate made here, to be trusted once"
    )
    share.add_argument(
        "--record", metavar="FILE", help="the record (default: workshop.sqlite beside the plan)"
    )


def _port(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) <= 5 and int(text) < 65536):
        message = f"{text[:40]!r}; a port is a whole number from 0 to 65535"
        raise argparse.ArgumentTypeError(message)
    return int(text)


WHAT_LAN_MEANS = """\
--lan opens this plan to the network that this computer is on: whoever has the link or the code
can see the plan and tick joins until you stop, or 14 hours have passed. Use it in a network of
your own.
"""
PLAIN_HTTP = """\
Over plain http others in that network could overhear the link; --https prevents that.
"""


def run_share(args: argparse.Namespace) -> int:
    """Answer ``chainplan share``; library: :func:`chainplan.share_plan`."""
    if args.lan:
        sys.stderr.write(WHAT_LAN_MEANS + ("" if args.https else PLAIN_HTTP))
    ports = {} if args.port is None else {"port": args.port}
    try:
        chainplan.share_plan(
            args.folder,
            lan=args.lan,
            https=args.https,
            record=args.record,
            on_listening=_tell_json if args.json else _tell,
            on_visit=_tell_visit,
            **ports,
        )
    except KeyboardInterrupt:
        sys.stderr.write("chainplan: stopped\n")
    return DONE


def _tell_json(where: Listening) -> None:
    """Print one line as soon as it is reached."""
    import json

    told = {"url": where.url, "token": where.token, "api": where.api, "board": where.board}
    if where.trust:
        told["trust"] = where.trust
    print(json.dumps(told), flush=True)


def _tell(where: Listening) -> None:
    from chainplan.share.code import code_text

    print(code_text(where.url))
    print(f"tablets: scan the code, or open  {where.url}")
    if where.trust:
        print(f"once on every tablet before:     {where.trust}")
    print(f"the board, for you alone:        {where.board}")
    print("Ctrl-C stops; started again within 14 hours, open pages go on.", flush=True)


def _tell_visit(line: str) -> None:
    import time

    sys.stderr.write(f"{time.strftime('%H:%M:%S')} {line}\n")
    sys.stderr.flush()
