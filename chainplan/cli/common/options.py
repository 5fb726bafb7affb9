"""Values of options that several commands take, refused with a reason where they cannot be used."""

from __future__ import annotations

import argparse


def seed(text: str) -> int:
    """Read a seed."""
    if not (text.isascii() and text.isdecimal() and len(text) <= 18):
        message = f"{text[:40]!r}; a seed is a whole number of 0 or more"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def workers(text: str) -> int:
    """Read how many processes work side by side."""
    if not (text.isascii() and text.isdecimal() and 1 <= int(text[:6]) <= 1000):
        message = f"{text[:40]!r}; a whole number from 1 to 1000"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def folder(text: str) -> str:
    """Read the name of a folder to write into."""
    if not text.strip():
        message = "is empty; name a folder to write into"
        raise argparse.ArgumentTypeError(message)
    return text


def add_workers(parser: argparse.ArgumentParser, *, cluster: bool = False) -> None:
    """Enter how many processes work side by side, and where."""
    parser.add_argument(
        "--workers",
        metavar="N",
        type=workers,
        help="processes that work side by side (default: the cores there are)",
    )
    if cluster:
        parser.add_argument(
            "--cluster", metavar="tcp://HOST:PORT", help="work on a running Dask cluster instead"
        )


def listed(text: str | None) -> list[str]:
    """Take the words of a list with commas apart."""
    return [word.strip() for word in text.split(",") if word.strip()] if text else []
