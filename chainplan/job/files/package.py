"""Unpacks the parts of a workbook that are needed, within the bounds and without declarations."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from typing import IO, TYPE_CHECKING

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError
from chainplan.job.table import key_shown

if TYPE_CHECKING:
    from collections.abc import Iterator

CHUNK = 256 * 1024
"""Bytes unpacked at a time: what is unpacked beyond the bound is at most this."""
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_CELL = re.compile(rb"[<:]c[\s/>]")
_TAGS_OF_A_CELL = 8
"""Tags that a cell takes at most: itself, its value or formula and its text, opened and closed."""


def unpack_workbook(content: bytes, file: str) -> io.BytesIO:
    """Unpack what is needed within bounds, counting what really comes out, and pack it flat.

    Raises
    ------
    InputError
        If it is no packed file, is damaged, is outside the bounds, or declares entities.
    """
    if content.startswith(_OLD_WORKBOOK):
        found = "is an old .xls or has a password"
        raise InputError(Fault(file, found, "save it as .xlsx without one"))
    flat = io.BytesIO()
    left, cells = BOUNDS.unpacked_bytes, 0
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed, zipfile.ZipFile(flat, "w") as plain:
            members = packed.infolist()
            if len(members) > BOUNDS.members:
                found, allowed = f"has {len(members)} parts", f"at most {BOUNDS.members} are taken"
                raise InputError(Fault(file, found, allowed))
            needed = [part for part in members if part.filename.endswith((".xml", ".rels"))]
            declared = sum(member.file_size for member in needed)
            if declared > BOUNDS.unpacked_bytes:
                raise _too_much(file, declared)
            for member in needed:
                with packed.open(member) as stream:
                    data = b"".join(_chunks(stream, left, file))
                left -= len(data)
                cells += _check_part(member.filename, data, file)
                plain.writestr(zipfile.ZipInfo(member.filename), data)
    except InputError:
        raise
    except (
        zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, RuntimeError,
        ValueError,
    ) as error:  # fmt: skip
        raise _no_workbook(file, content) from error
    if cells > BOUNDS.cells:
        raise _too_full(file, cells)
    flat.seek(0)
    return flat


def _check_part(name: str, data: bytes, file: str) -> int:
    """Refuse a part that takes too long to read or declares entities; count its cells."""
    tags = data.count(b"<") + data.count(b"<\0")  # in UTF-16 they count twice, which does no harm
    if "/worksheets/" in name and name.endswith(".xml"):
        cells = len(_CELL.findall(data)) or tags // _TAGS_OF_A_CELL
        if tags > _TAGS_OF_A_CELL * BOUNDS.cells:
            raise _too_full(file, cells)
    elif tags > (_TAGS_OF_A_CELL * BOUNDS.cells if "haredStrings" in name else BOUNDS.part_tags):
        found = f"its part {key_shown(name)} has {tags} tags"
        raise InputError(Fault(file, found, f"at most {BOUNDS.part_tags} are taken: save it anew"))
    else:
        cells = 0
    _refuse_entities(data, file)
    return cells


def _refuse_entities(data: bytes, file: str) -> None:
    """Refuse XML with a document type, whatever its encoding: it can only stand before the root."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    root = _Root()
    parser = DefusedXMLParser(target=root, forbid_dtd=True)
    try:
        for place in range(0, len(data), _PROLOG):
            parser.feed(data[place : place + _PROLOG])
            if root.begun:
                return
    except DefusedXmlException as error:
        found = "declares entities, which no workbook needs"
        raise InputError(Fault(file, found, "save it anew")) from error
    except (ParseError, ValueError, LookupError):
        return  # it is told when the part is read


_PROLOG = 4096
"""Bytes of a part that are looked at in one go for what stands before its root."""


class _Root:
    """Takes what a parser finds until the root element begins."""

    begun = False

    def start(self, _tag: str, _attributes: dict[str, str]) -> None:
        """Note that the root has begun: nothing can be declared any more."""
        self.begun = True

    def end(self, _tag: str) -> None:
        """Take the end of an element."""

    def data(self, _text: str) -> None:
        """Take text."""

    def close(self) -> None:
        """Take the end of the part."""


def _no_workbook(file: str, content: bytes) -> InputError:
    """Say in plain words what a file is that cannot be unpacked as a workbook."""
    if content.startswith(b"PK"):
        found = "is not a workbook that can be read: it is damaged or not all there"
        allowed = "copy it anew, or save it anew as .xlsx without a password"
    else:
        kind = "text" if _is_text(content) else "something else"
        found = f"is not a workbook, whatever its name says: inside is {kind}"
        allowed = "a job is an .xlsx, .csv or .toml file with the ending of its kind"
    return InputError(Fault(file, found, allowed))


def _is_text(content: bytes) -> bool:
    try:
        return content.decode("utf-8").replace("\n", "").replace("\r", "").isprintable()
    except UnicodeDecodeError:
        return False


def _chunks(stream: IO[bytes], most: int, file: str) -> Iterator[bytes]:
    """Read a member bit by bit, so that no more is unpacked at once than is taken."""
    while chunk := stream.read(CHUNK):
        most -= len(chunk)
        if most < 0:
            raise _too_much(file, BOUNDS.unpacked_bytes)
        yield chunk


def _too_much(file: str, size: int) -> InputError:
    found = f"unpacks to {size / 1e6:.0f} MB or more"
    taken = f"at most {BOUNDS.unpacked_bytes / 1e6:.0f} MB are taken"
    return InputError(Fault(file, found, taken))


def _too_full(file: str, cells: int) -> InputError:
    found, taken = f"has {cells} cells", f"at most {BOUNDS.cells} are taken"
    return InputError(Fault(file, found, f"{taken}: make several files of it"))
