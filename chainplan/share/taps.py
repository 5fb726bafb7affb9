"""Turns what a tablet sends into events, and says of each tap that fits nothing why not."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chainplan.model.workshop.bench_log import LOG_RESULTS
from chainplan.model.workshop.record import Event
from chainplan.share.bounds import (
    LABEL_LETTERS,
    NOTE_LETTERS,
    OLDEST_TAP_S,
    TAPS_AT_ONCE,
)

if TYPE_CHECKING:
    from chainplan.share.on_show import OnShow

ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]+")
MOST_MS = 1e15
"""No time in ms is larger: thirty thousand years."""
CLOCK_SLACK_S = 5.0
"""A tablet's clock that is off by less is not worth a word."""
DEVICE = "sheet "
"""Before a device's id in the source of its events."""


class NotUsable(ValueError):
    """A request that is none of ours."""


@dataclass(slots=True)
class HandedOver:
    """What one request brings."""

    device: str
    events: list[Event] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)


def clean_text(value: object, letters: int) -> str:
    """Take a text as one line without control characters, cut to a length."""
    if not isinstance(value, str):
        return ""
    return _CONTROL.sub(" ", value).strip()[:letters]


def read_device(body: Any) -> str:
    """Read which device speaks.

    Raises
    ------
    NotUsable
        If it has no id.
    """
    device = body.get("device") if isinstance(body, dict) else None
    if not (isinstance(device, str) and ID.fullmatch(device)):
        message = "the device has no id"
        raise NotUsable(message)
    return device


def read_taps(body: Any, shown: OnShow, now_s: float) -> HandedOver:
    """Read what a tablet hands over.

    Times are told by how long ago a tap was on the tablet's own clock, so that a clock that is
    wrong does no harm.

    Raises
    ------
    NotUsable
        If it is no list of taps, or too long a one.
    """
    taps = HandedOver(read_device(body))
    rows, told_ms = body.get("events"), body.get("now_ms")
    if not isinstance(rows, list) or len(rows) > TAPS_AT_ONCE:
        message = f"expected a list of at most {TAPS_AT_ONCE} taps"
        raise NotUsable(message)
    if not _is_number(told_ms):
        message = "the device's own time is missing"
        raise NotUsable(message)
    off_s = told_ms / 1000 - now_s
    source = f"{DEVICE}{taps.device}"
    if abs(off_s) > CLOCK_SLACK_S:
        source += f", its clock {off_s:+.0f} s"
    for row in rows:
        name = row.get("id") if isinstance(row, dict) else None
        if not (isinstance(name, str) and ID.fullmatch(name)):
            message = "a tap has no id"
            raise NotUsable(message)
        try:
            taps.events.append(_event(row, shown, now_s, told_ms, source))
        except NotUsable as error:
            taps.refused[name] = str(error)
    return taps


def _is_number(value: object) -> bool:
    """Whether a value is a number of a size that times have; an integer may have any."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and -MOST_MS < value < MOST_MS  # type: ignore[operator]


def _event(row: dict[str, Any], shown: OnShow, now_s: float, told_ms: float, source: str) -> Event:
    kind, piece = row.get("result"), shown.by_name.get(str(row.get("piece")))
    copy, ring = row.get("copy"), row.get("ring")
    if kind not in LOG_RESULTS:
        message = "no such result"
        raise NotUsable(message)
    if piece is None:
        message = "no such piece"
        raise NotUsable(message)
    whole = all(type(value) is int for value in (copy, ring))
    if not whole or not 1 <= copy <= piece.copies or ring not in piece.rings:  # type: ignore[operator]
        message = "no such join"
        raise NotUsable(message)
    undoes = row.get("undoes")
    if (kind == "undo") != (undoes is not None) or not (
        undoes is None or (isinstance(undoes, str) and ID.fullmatch(undoes))
    ):
        message = "an undo names what it takes back"
        raise NotUsable(message)
    ms = row.get("ms")
    ago_s = (told_ms - ms) / 1000 if _is_number(ms) else 0.0  # type: ignore[operator]
    at_s = round(now_s - min(max(ago_s, 0.0), OLDEST_TAP_S), 3)
    note = clean_text(row.get("note"), NOTE_LETTERS)
    if kind == "note" and not note:
        message = "a note says something"
        raise NotUsable(message)
    at = datetime.datetime.fromtimestamp(at_s).astimezone().isoformat(timespec="seconds")
    return Event(
        id=row["id"], kind=str(kind), at=at, at_s=at_s, piece=piece.name, copy=copy, ring=ring,
        person=clean_text(row.get("person"), LABEL_LETTERS), work_s=_seconds(row.get("work_s")),
        waited_s=_seconds(row.get("waited_s")), note=note, undoes=undoes, source=source,
    )  # fmt: skip


def _seconds(value: object) -> float | None:
    if not _is_number(value):
        return None
    seconds = float(value)  # type: ignore[arg-type]
    return round(seconds, 1) if 0 <= seconds <= OLDEST_TAP_S else None
