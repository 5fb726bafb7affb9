"""Values of options that several commands take, refused with a reason where they cannot be used."""

from __future__ import annotations

import argparse


def seed(text: str) -> int:
    """Read a seed."""
    if not (text.isascii() and text.isdecimal() and len(text) <= 18):
        message = f"{text[:40]!r}; a seed is a whole number of 0 or more"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def folder(text: str) -> str:
    """Read the name of a folder to write into."""
    if not text.strip():
        message = "is empty; name a folder to write into"
        raise argparse.ArgumentTypeError(message)
    return text


def listed(text: str | None) -> list[str]:
    """Take the words of a list with commas apart."""
    return [word.strip() for word in text.split(",") if word.strip()] if text else []
