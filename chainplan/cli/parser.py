"""The parser of the whole command line, put together from the groups of commands."""

from __future__ import annotations

import argparse

import chainplan
from chainplan.cli import (
    calibrations,
    counts,
    examining,
    jobs,
    orders,
    questions,
    quotes,
    records,
    sharing,
    weaves,
)
from chainplan.cli.common.registry import Commands

GROUPS = (
    jobs, counts, quotes, questions, weaves, orders, examining, records, sharing, calibrations,
)  # fmt: skip
"""The modules of commands, in the order in which the help lists them."""


def build_parser() -> argparse.ArgumentParser:
    """Build the parser; nothing heavy is imported for it."""
    parser, _ = build_commands()
    return parser


def build_commands() -> tuple[argparse.ArgumentParser, Commands]:
    """Build the parser, and with it the table of what runs each command."""
    parser = argparse.ArgumentParser(
        prog="chainplan",
        description="Plans welded chainmail: rings, joins, weld order, heat, cost, bench sheet.",
        epilog="Exit status: 0 done, 2 the input is at fault, 1 the program is, 130 stopped.",
    )
    parser.add_argument("--version", action="version", version=f"chainplan {chainplan.__version__}")
    commands = Commands(parser)
    for group in GROUPS:
        group.add_commands(commands)
    return parser, commands
