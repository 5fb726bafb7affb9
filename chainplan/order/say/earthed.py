"""How the piece is earthed, in a sentence or two, with what the other ways would cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.model.kinds import ReturnLead
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.order import LeadTime

_NAMES = {
    ReturnLead.TWEEZERS: "earthed tweezers on each ring",
    ReturnLead.CLIP: "a clip",
    ReturnLead.BLOCK: "a metal block under the whole piece",
}
_REASONS = {
    "set": " (your setting)",
    "loose": ", since no current flows from ring to ring here",
}
_QUICKER = {
    ReturnLead.TWEEZERS: ", quicker here than a clip",
    ReturnLead.CLIP: ", quicker here than earthed tweezers",
}


def say_earthed(why: str, times: Sequence[LeadTime]) -> str:
    """Say how the piece is earthed and why, and what the other ways would cost.

    Parameters
    ----------
    why : str
        As in ``Earthing.why``.
    times : sequence of LeadTime
        The way that was taken, then the others.
    """
    mine, others = times[0], times[1:]
    reason = _QUICKER[mine.way] if why == "quickest" else _REASONS[why]
    text = f"Return lead: {_name(mine)}{reason}."
    said = [f"with {_name(item)} {_costs(item)}" for item in others if item.how != "none"]
    if said:
        text += f" The same piece takes {', '.join(said)}"
        block = any(item.way is ReturnLead.BLOCK and item.how != "none" for item in others)
        text += "; rings that only lie on a block may spark where they touch it." if block else "."
    return text


def _name(item: LeadTime) -> str:
    if item.way is not ReturnLead.CLIP:
        return _NAMES[item.way]
    times = {0: "that stays where it is", 1: "moved once", 2: "moved twice"}
    return f"{_NAMES[item.way]} {times.get(item.clip_moves, f'moved {item.clip_moves} times')}"


def _costs(item: LeadTime) -> str:
    how = "" if item.how == "planned" else f"{item.how} "
    return f"{how}{show_duration(item.bench_time_s)}"
