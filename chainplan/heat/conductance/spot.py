"""From a ring into a stone, glue or cord: through the spot that touches.

What conducts poorly does not take heat away from the place that touches. Between the ring at T_r
and the stone's body at T_b the spot stands at

    T_s = T_b + share·(T_r − T_b),   share = g / (g + (8/3)·k·a)

g is the conductance of the contact, as of a link. Heat flows in through a disc of radius a, densest
in its middle as the pressure of a Hertz contact is: q″ = 3q/(2πa²)·√(1 − r²/a²). On a half-space
of conductivity k the middle, which is hottest, then stands 3·q/(8·k·a) above the body far away (the
sum of point sources q″·dA/(2πk·r), Carslaw, Jaeger, Conduction of Heat in Solids, 2nd ed. 1959,
10.2). An even flow through the same disc gives a mean of 8·q/(3π²·k·a), a quarter less (ib. 8.2
(6)): the middle is taken since that is where a stone cracks and glue lets go. Finite elements of a
ring on a bead stay below it (``tests/validation/heat/test_lump_against_finite_elements.py``).
"""

from __future__ import annotations

from chainplan.reference import parts as known_parts

RADIUS_PER_WIRE = 0.2
"""Radius of the contact over the wire: half of the gas gap's conductance lies within 0.15 wires of
the middle; 0.2 is what the finite elements were given. Half of it moves the spot by 0.05."""
UNKNOWN_W_MK = 0.2
"""Of what nobody knows the conductivity of: as amber, the poorest of stones."""
SETTLES_S = 0.1
"""How soon the spot follows the ring: finite elements have it within a second. Shorter makes the
equations stiff and moves the peak by a hundredth."""


def into_body_w_k(conductivity_w_m_k: float, radius_mm: float) -> float:
    """Conductance from the middle of the touching spot to the body: ``(8/3)·k·a``. [W/K].

    Parameters
    ----------
    conductivity_w_m_k : float
        Of the body. [W/(m K)]
    radius_mm : float
        Of the contact. [mm]
    """
    return 8 / 3 * conductivity_w_m_k * radius_mm / 1000


def touching_share(contact_w_k: float, conductivity_w_m_k: float, radius_mm: float) -> float:
    """Share of the way from a body to the ring that touches it at which the spot stands (no unit).

    Parameters
    ----------
    contact_w_k : float
        Conductance of the contact. [W/K]
    conductivity_w_m_k : float
        Of the body. [W/(m K)]
    radius_mm : float
        Of the contact. [mm]

    Examples
    --------
    >>> round(touching_share(1e-3, 0.2, 0.2), 2), round(touching_share(1e-3, 6.5, 0.2), 2)
    (0.9, 0.22)
    """
    return contact_w_k / (contact_w_k + into_body_w_k(conductivity_w_m_k, radius_mm))


def conductivity_of(kind: str) -> float | None:
    """Conductivity of a kind of part; ``None`` for what conducts like the rings. [W/(m K)]."""
    known = known_parts().get(kind)
    return UNKNOWN_W_MK if known is None else known.conductivity_w_m_k
