"""The code that a tablet scans: on the terminal and on the board."""

from __future__ import annotations

import io


def code_svg(link: str) -> str:
    """Draw a link's code as SVG; the same link gives the same bytes."""
    import segno

    out = io.BytesIO()
    made = segno.make(link, error="m", boost_error=False, micro=False)
    made.save(out, kind="svg", scale=6, border=4, xmldecl=False, svgclass=None, lineclass=None)
    return out.getvalue().decode()


def code_text(link: str) -> str:
    """Draw a link's code with half blocks for a terminal, dark on light."""
    import segno

    out = io.StringIO()
    segno.make(link, error="m", boost_error=False, micro=False).terminal(out, compact=True)
    return out.getvalue()
