"""Pages of a PDF as PNG, rendered by PDFium, so that the pictures show what is printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.report.paper.sheet import Sheet

DOTS_AN_INCH = 90
"""Of page images: A4 in landscape is 1052 dots wide, which a screen shows whole and legibly."""


def page_pngs(pdf: bytes, dots_an_inch: int = DOTS_AN_INCH) -> Iterator[bytes]:
    """Render each page of a PDF as the bytes of a PNG file, one after another."""
    from io import BytesIO

    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            out = BytesIO()
            picture = page.render(scale=dots_an_inch / 72).to_pil()
            picture.save(out, "PNG", dpi=(dots_an_inch, dots_an_inch))
            yield out.getvalue()
    finally:
        document.close()


def sheet_png(sheet: Sheet, dots_an_inch: int = DOTS_AN_INCH) -> bytes:
    """Return one sheet as the bytes of a PNG file."""
    from chainplan.report.paper.pdf import write_pdf

    (content,) = page_pngs(write_pdf([sheet], title=sheet.title), dots_an_inch)
    return content
