"""Puts one file in its place, whole or not at all."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from chainplan.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path


def write_file(path: Path, data: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    InputError
        If its folder is not there or not open to us.
    """
    part = path.with_name(f".{path.stem[:40]}-{secrets.token_hex(4)}")
    try:
        try:
            with part.open("xb") as stream:
                stream.write(data)
            part.replace(path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    except OSError as error:
        message = f"{path}: cannot be written ({error.strerror or error}); choose another place"
        raise InputError(message) from error
