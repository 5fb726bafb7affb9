"""Put the page together: its data, style and program in one file that asks nothing of a network."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.report.bench_sheet.content import bench_content

if TYPE_CHECKING:
    from chainplan.model.plan import Plan

FOLDER = Path(__file__).parent
PROGRAM = ("tasks.js", "log.js", "store.js", "picture.js", "paper.js", "screen.js")
"""Parts of the page's program, in the order in which they need each other."""


def embedded_json(value: object) -> str:
    r"""Write JSON that is safe inside a script element: no ``<``, ``>``, ``&`` or line separators.

    Examples
    --------
    >>> embedded_json({"name": "</script>"})
    '{"name":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(value, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def _fingerprint(text: str) -> str:
    """Return what the page's content policy calls a script or style by."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def bench_sheet_html(plan: Plan) -> str:
    """Return the bench sheet of a plan as one HTML document."""
    style = (FOLDER / "page.css").read_text(encoding="utf-8")
    parts = [(FOLDER / name).read_text(encoding="utf-8") for name in PROGRAM]
    program = '"use strict";\n(() => {\n' + "\n".join(parts) + "\n})();\n"
    policy = (
        "default-src 'none'; img-src data: blob:; "
        f"style-src {_fingerprint(style)}; script-src {_fingerprint(program)}; "
        "base-uri 'none'; form-action 'none'"
    )
    page = (FOLDER / "page.html").read_text(encoding="utf-8")
    fills = {
        "policy": html.escape(policy),
        "title": html.escape(f"Bench sheet: {plan.job.name}"),
        "style": style,
        "content": embedded_json(bench_content(plan)),
        "program": program,
    }
    pieces = re.split(
        r"\{\{(\w+)\}\}", page
    )  # text and marks in turn, so that no fill is read again
    pieces[1::2] = [fills[mark] for mark in pieces[1::2]]
    return "".join(pieces)


def write_bench_sheet(plan: Plan, path: Path) -> Path:
    """Write the bench sheet of a plan; the same plan gives the same bytes."""
    path.write_text(bench_sheet_html(plan), encoding="utf-8", newline="\n")
    return path
