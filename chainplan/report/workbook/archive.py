"""Saving a workbook with bytes that depend on its content only: no clock in the file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

if TYPE_CHECKING:
    from openpyxl import Workbook

LEVEL = 4
_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first time that the format knows


class TimelessArchive(ZipFile):
    """A zip file whose members all carry the same time."""

    def writestr(
        self,
        zinfo_or_arcname: str | ZipInfo,
        data: Any,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a member from bytes or text."""
        name = zinfo_or_arcname
        info = ZipInfo(name if isinstance(name, str) else name.filename, _EARLIEST)
        info.compress_type = ZIP_DEFLATED
        super().writestr(info, data, compresslevel=LEVEL)

    def write(
        self,
        filename: Any,
        arcname: Any = None,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a member from a file."""
        self.writestr(str(arcname or filename), Path(filename).read_bytes())


def save_workbook(book: Workbook, path: Path) -> None:
    """Write a workbook; the same cells give the same bytes."""
    from openpyxl.writer.excel import ExcelWriter

    ExcelWriter(book, TimelessArchive(path, "w", ZIP_DEFLATED)).save()
