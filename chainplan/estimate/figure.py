"""One estimated number, made from its low, usual and high."""

from __future__ import annotations

from chainplan.model.estimate import Figure

COMPUTED = "computed from the job"


def figure_of(
    key: str,
    title: str,
    values: float | tuple[float, float, float],
    unit: str,
    basis: str,
    *,
    source: str = COMPUTED,
) -> Figure:
    """Make a figure from one exact value, or from low, usual and high.

    Parameters
    ----------
    key, title, unit, basis, source : str
        As the figure has them.
    values : float or three floats
        The value, or its low, usual and high.
    """
    low, usual, high = values if isinstance(values, tuple) else (values, values, values)
    return Figure(
        key=key,
        title=title,
        usual=usual,
        low=low,
        high=high,
        unit=unit,
        basis=basis,
        source=source,
    )
