"""Put the page together: its data, style and program in one file that asks nothing of a network."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.reference.texts import bench_texts, is_reviewed
from chainplan.report.bench_sheet.content import bench_content

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.plan import Plan

FOLDER = Path(__file__).parent
PROGRAM = (
    "known/words.js", "known/tasks.js", "known/log.js", "known/store.js", "seen/heat.js",
    "seen/approach.js", "seen/picture.js", "seen/paper.js", "awake.js", "screen.js", "checks.js",
    "weaving.js", "taps.js", "dialogs.js", "start.js",
)  # fmt: skip
"""Parts of the page's program, in the order in which they need each other, behind the one that
gives it its content."""
PAGE = FOLDER / "program" / "page.js"
WORDS = FOLDER / "program" / "known" / "words.js"
ALONE = (FOLDER / "program" / "alone.js",)


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


@dataclass(frozen=True, slots=True)
class SheetPage:
    """The page of a sheet, and the policy under which it runs."""

    html: str
    policy: str


def _program(parts: Sequence[Path]) -> str:
    """Put the parts of a program together, behind what every page begins with."""
    text = "\n".join(part.read_text(encoding="utf-8") for part in (PAGE, *parts))
    return f'"use strict";\n(async () => {{\n{text}\n}})();\n'


def sheet_page(
    *, language: str, title: str, first: Sequence[Path], policy: str, data: str = "",
    extra: str = "", more: str = "", told: bool = True,
) -> SheetPage:  # fmt: skip
    """Put a page of the sheet together.

    Parameters
    ----------
    language : str
        Of its texts.
    title : str
        Of the page.
    first : sequence of Path
        The parts of the program that give it its content and its link to others.
    policy : str
        What the content policy allows besides the page's own style and program.
    data : str
        Element that holds the content.
    extra, more : str
        Further settings and dialogs, with marks for texts as the page has them.
    told : bool
        Whether the page itself says its policy; a server tells it beside the page.
    """
    style = (FOLDER / "page.css").read_text(encoding="utf-8")
    program = _program([*first, *(FOLDER / "program" / name for name in PROGRAM)])
    policy = (
        f"default-src 'none'; img-src data: blob:; style-src {_fingerprint(style)}; "
        f"script-src {_fingerprint(program)}; base-uri 'none'; form-action 'none'{policy}"
    )
    texts = _texts(language)
    meta = f'<meta http-equiv="Content-Security-Policy" content="{html.escape(policy)}">'
    fills = {
        "policy": meta if told else "",
        "style": style,
        "data": data,
        "program": program,
        "extra": fill_marks(extra, texts),
        "more": fill_marks(more, texts),
        "reviewed": " hidden" if is_reviewed(language) else "",
    }
    return SheetPage(_framed(FOLDER / "page.html", texts, language, title, fills), policy)


def _texts(language: str) -> dict[str, str]:
    """Return the texts of a language by their marks, ready for HTML."""
    return {f"t.{key}": html.escape(text) for key, text in bench_texts(language).items()}


def _framed(
    page: Path, texts: Mapping[str, str], language: str, title: str, fills: Mapping[str, str]
) -> str:
    """Fill the marks of a page, and put it into the frame that all pages have."""
    sure = fill_marks((FOLDER / "sure.html").read_text(encoding="utf-8"), texts)
    marks = {
        **texts, **fills, "sure": sure, "language": language, "title": html.escape(title),
    }  # fmt: skip
    body = fill_marks(page.read_text(encoding="utf-8"), marks)
    frame = (FOLDER / "frame.html").read_text(encoding="utf-8")
    return fill_marks(frame, {**marks, "body": body})


def plain_page(
    page: Path, *, language: str, title: str, style: Path, program: Sequence[Path],
    fills: Mapping[str, str],
) -> SheetPage:  # fmt: skip
    """Put together another page in the sheet's language, with the policy that lets it run.

    Parameters
    ----------
    page, style : Path
        Its text and its look.
    program : sequence of Path
        Parts of its program, in the order in which they need each other; none: it runs none.
    language, title : str
        Of its texts; of the page.
    fills : mapping
        What else its marks are filled with, ready for HTML.
    """
    css = style.read_text(encoding="utf-8")
    code = _program(program) if program else ""
    marks = {**fills, "style": css, "program": code, "policy": ""}
    policy = (
        f"default-src 'none'; img-src data: blob:; style-src {_fingerprint(css)}; "
        f"script-src {_fingerprint(code)}; connect-src 'self'; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'"
    )
    return SheetPage(_framed(page, _texts(language), language, title, marks), policy)


def fill_marks(page: str, fills: Mapping[str, str]) -> str:
    """Fill the marks of a page; what is filled in is not read again."""
    pieces = re.split(r"\{\{([\w.]+)\}\}", page)
    pieces[1::2] = [fills[mark] for mark in pieces[1::2]]
    return "".join(pieces)


def bench_sheet_html(plan: Plan) -> str:
    """Return the bench sheet of a plan as one HTML document."""
    content = bench_content(plan)
    return sheet_page(
        language=content["language"],
        title=content["texts"]["page.title"].replace("{job}", plan.job.name),
        first=ALONE,
        policy="",
        data=f'<script type="application/json" id="content">{embedded_json(content)}</script>',
    ).html


def write_bench_sheet(plan: Plan, path: Path) -> Path:
    """Write the bench sheet of a plan; the same plan gives the same bytes."""
    path.write_text(bench_sheet_html(plan), encoding="utf-8", newline="\n")
    return path
