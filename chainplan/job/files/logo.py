"""Looks at the picture that a job names for the head of its quotes."""

from __future__ import annotations

import warnings
from io import BytesIO
from typing import TYPE_CHECKING

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, quote
from chainplan.intake import read_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.job.table import Findings

ENDINGS = (".png", ".jpg", ".jpeg")
ALLOWED = "name a .png or .jpg file that lies beside the job"
EXPORTED = (
    "save it as .png, 1400 dots wide or more, which prints as sharp as a drawing, and name that"
)
"""Drawings (.svg, .pdf, .ai) are not drawn here: they may ask for typefaces and files that this
computer does not have, and would print otherwise than their maker saw them."""


def check_logo(name: str, folder: Path, where: str, findings: Findings) -> None:
    """Tell a picture that is not there, or is none."""
    if not name:
        return
    path = folder / name
    place = f"{where}: logo"
    try:
        if path.suffix.casefold() not in ENDINGS and path.is_file():
            findings.fault(place, f"{quote(name)} is neither .png nor .jpg", EXPORTED)
            return
        if not path.is_file():
            findings.fault(place, f"there is no picture {quote(name)}", ALLOWED)
            return
        content = read_bytes(path, BOUNDS.picture_bytes, name=path.name, allowed=ALLOWED)
    except (OSError, ValueError) as error:
        said = error.said if isinstance(error, InputError) else None
        found = str(said) if isinstance(said, Fault) else f"{quote(name)} cannot be read"
        findings.fault(place, found, ALLOWED)
        return
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(content), formats=("PNG", "JPEG")) as picture:
                wide, high = picture.size
                if wide * high > BOUNDS.picture_dots:
                    most = f"at most {BOUNDS.picture_dots} dots are taken: make it smaller"
                    findings.fault(place, f"{quote(name)} has {wide} × {high} dots", most)
                    return
                picture.load()
    except Exception:  # damaged pictures end the library's readers in many ways
        findings.fault(place, f"{quote(name)} is no picture that can be read", ALLOWED)
