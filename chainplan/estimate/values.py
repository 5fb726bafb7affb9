"""Every value that went into the estimates, with its unit, range and source."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from chainplan.estimate.figure import figure_of
from chainplan.model.bench.setting import settings_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.estimate.take import Take
    from chainplan.model.estimate import Figure
    from chainplan.model.job import Job

OWN = "set by the user"


def sources_of(takes: Sequence[Take], job: Job) -> tuple[Figure, ...]:
    """List every value that went in: bench settings, metals, prices; with source and range."""
    return (*_bench_values(job), *_metal_values(takes), *_price_values(job))


def _bench_values(job: Job) -> list[Figure]:
    found = []
    for group in fields(job.bench):
        settings = getattr(job.bench, group.name)
        for info in settings_of(group.name, type(settings)):
            value = getattr(settings, info.name)
            if isinstance(value, str):
                continue
            found.append(
                figure_of(
                    f"bench.{group.name}.{info.name}",
                    info.means,
                    float(value),
                    info.unit,
                    "bench setting",
                    source=info.source if value == info.default else OWN,
                )
            )
    return found


def _metal_values(takes: Sequence[Take]) -> list[Figure]:
    found = []
    metals = {key: metal for take in takes for key, metal in take.metals.items()}
    for key, metal in sorted(metals.items()):
        values = {
            item.name: getattr(metal, item.name)
            for item in fields(metal)
            if hasattr(getattr(metal, item.name), "usual")
        }
        by_temper = {"yield_mpa": metal.yield_mpa, "hardness_gpa": metal.hardness_by_temper}
        values |= {
            f"{name}.{temper}": value
            for name, tempers in by_temper.items()
            for temper, value in tempers.items()
        }
        for name, value in values.items():
            found.append(
                figure_of(
                    f"metal.{key}.{name}",
                    f"{metal.title}: {name}",
                    (value.low, value.usual, value.high),
                    value.unit,
                    "value of the metal",
                    source=value.source,
                )
            )
    return found


def _price_values(job: Job) -> list[Figure]:
    currency = job.bench.money.currency
    return [
        figure_of(
            f"price.{price.item}",
            f"price of {price.item}",
            float(price.price),
            f"{currency}/{price.per}",
            "price in the job" + (f", {price.date.isoformat()}" if price.date else ""),
            source=price.note or OWN,
        )
        for price in job.prices
    ]
