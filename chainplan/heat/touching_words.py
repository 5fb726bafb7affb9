"""Says what stands by while joins are welded: how near, how hot where touched, and what helps."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.thermal.touching import SpotTemperature, StandBy

MOST_LISTED = 8
"""Ring numbers in a sentence: as many as are taken in at a glance."""
WORTH_K = 2.0
"""What setting a thing last has to gain before it is worth a sentence. Judgement: less is not seen
by any thermocouple at the bench. [K]"""
RIGHT_AT_IT_MM = 0.5
"""Nearer than this, a place is said to be at the join: half a bead of a thermocouple. [mm]"""


def warn_of_spots(items: Sequence[StandBy]) -> tuple[str, ...]:
    """Say which things get hotter than their limit where a ring touches them."""
    return tuple(
        _say_spot(item, item.planned)
        for item in items
        if item.planned is not None
        and item.limit_c is not None
        and item.conductivity_w_m_k is not None
        and item.touching
        and item.planned.spot_high_c > item.limit_c
    )


def say_stand_by(items: Sequence[StandBy], near_mm: float) -> tuple[str, ...]:
    """Say of each thing what a hand should know of it, the most urgent first."""
    return tuple(text for item in items for text in _say(item, near_mm))


def _say(item: StandBy, near_mm: float) -> Iterator[str]:
    shield = item.fitting or item.conductivity_w_m_k is not None
    if item.joins_near and shield:
        at_it = item.nearest_mm < RIGHT_AT_IT_MM
        where = "right at it" if at_it else f"{item.nearest_mm:.1f} mm away"
        count = "1 join is" if item.joins_near == 1 else f"{item.joins_near} joins are"
        yield (
            f"{item.name}: the nearest join is {where} (ring {item.nearest_ring + 1}), {count} "
            f"within {near_mm:g} mm. Cover it from spatter and from the arc's light while these "
            "are welded."
        )
    if item.planned is None or item.limit_c is None:
        return
    if item.touching and item.conductivity_w_m_k is not None:
        yield _say_spot(item, item.planned)
    better = item.set_last
    if better is None:
        return
    gain = max(
        item.planned.body_high_c - better.body_high_c, item.planned.spot_high_c - better.spot_high_c
    )
    others = item.planned != better and gain > WORTH_K
    if others:
        many = len(item.touching) > 1
        yield (
            f"Set {item.name} last: weld all other joins first; then "
            f"{len(item.touching)} {'joins remain' if many else 'join remains'} at it "
            f"({say_numbers(item.touching)})"
            f"{', welded one by one from cold' if many else ''}, and it reaches "
            f"{better.body_usual_c:.0f} °C as a whole ({better.body_high_c:.0f} at the bad end)"
            + (
                ""
                if item.conductivity_w_m_k is None
                else f" and {better.spot_usual_c:.0f} °C ({better.spot_high_c:.0f}) where it is "
                "touched"
            )
            + "."
        )
    if better.spot_high_c > item.limit_c:
        yield (
            f"{item.name}: its own rings are too hot for it{' even so' if others else ''} ("
            f"{better.spot_high_c:.0f} °C at the bad end, limit {item.limit_c:.0f} °C). Put it on "
            "after welding, through an eye that opens or with a setting closed cold, or a copper "
            "clip between it and the join."
        )


def _say_spot(item: StandBy, planned: SpotTemperature) -> str:
    """Say how hot the spot gets, where a ring touches what conducts poorly."""
    limit_c = item.limit_c or 0.0
    hot = planned.spot_high_c > limit_c
    verdict = "above its limit of" if hot else "its limit is"
    return (
        f"{item.name}: where {say_numbers(item.touching)} "
        f"{'touches' if len(item.touching) == 1 else 'touch'} it, the very spot warms with the "
        f"ring for some seconds (up to {item.largest_share:.0%} of the ring's rise): "
        f"{planned.spot_usual_c:.0f} °C at the usual values, {planned.spot_high_c:.0f} at the bad "
        f"end, {verdict} "
        f"{limit_c:.0f} °C."
    )


def say_numbers(rings: Sequence[int]) -> str:
    """Write the numbers of rings as people do, from 1.

    Examples
    --------
    >>> say_numbers([4]), say_numbers([21, 22]), say_numbers([21, 22, 23])
    ('ring 5', 'rings 22 and 23', 'rings 22 to 24')
    """
    numbers = [str(ring + 1) for ring in rings[:MOST_LISTED]]
    more = len(rings) - len(numbers)
    if len(rings) == 1:
        return f"ring {numbers[0]}"
    if len(rings) > 2 and list(rings) == list(range(rings[0], rings[-1] + 1)):
        return f"rings {rings[0] + 1} to {rings[-1] + 1}"
    if more:
        return f"rings {', '.join(numbers)} and {more} more"
    return f"rings {', '.join(numbers[:-1])} and {numbers[-1]}"
