"""The rings of one repeat in space: poses, repeat vectors, images, gaps, links, extents.

All lengths are in wire diameters of ring class 0, so the geometry has no scale.

A weave file gives the start (``Weave.data["seed"]``):

* ``aspect_ratio``: the aspect ratio of class 0 at which the seed is written (thin rings, so large);
* ``rings = [[cx, cy, cz, nx, ny, nz], …]``: centre and normal of each ring of the repeat;
* ``vectors = [[x, y, z]]``: the repeat vector of a chain, along x; two rows for a sheet, the first
  along x, the second in the x–y plane;
* ``free_turn = true``: the turn about the axis is itself solved for (spirals);
* ``free_shear = true``: the second vector may lean; otherwise it keeps its lean.

A chain with a turn is a screw about the x axis itself, so y and z of its centres count from there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.errors import Refusal, WeaveError
from chainplan.frozen import frozen
from chainplan.weave.shape.circles import CentreLines, linking_number, list_approaches

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.model.piece.weave import Weave
    from chainplan.weave.shape.circles import Approaches


@frozen
class Poses:
    """Where every ring of a repeat is; the sizes follow from the aspect ratio of class 0.

    ``inner_ratio`` and ``wire`` hold, per ring, the inner and the wire diameter over those of
    class 0. ``sheet``, ``free_turn`` and ``free_shear`` say which repeat unknowns there are.
    """

    aspect_ratio: float
    centre: FloatArray  # (k, 3)
    normal: FloatArray  # (k, 3), unit
    vectors: FloatArray  # (1 or 2, 3)
    turn_rad: float
    inner_ratio: FloatArray  # (k,)
    wire: FloatArray  # (k,)
    free_turn: bool = False
    free_shear: bool = False

    @property
    def count(self) -> int:
        """Rings in the repeat."""
        return int(self.centre.shape[0])

    @property
    def sheet(self) -> bool:
        """Whether there are two repeat vectors."""
        return bool(self.vectors.shape[0] == 2)

    @property
    def mean_radius(self) -> FloatArray:
        """Radius of each ring's centre line, shape (k,)."""
        radius: FloatArray = (self.aspect_ratio * self.inner_ratio + self.wire) / 2
        return radius

    @property
    def turns(self) -> bool:
        """Whether the repeats turn about the axis, or may."""
        return self.free_turn or bool(self.turn_rad)

    def resized(self, aspect_ratio: float) -> Poses:
        """Return the poses blown up or shrunk to another aspect ratio; gaps are not kept."""
        factor = (aspect_ratio + 1.0) / (self.aspect_ratio + 1.0)
        return replace(
            self,
            aspect_ratio=aspect_ratio,
            centre=self.centre * factor,
            vectors=self.vectors * factor,
        )


@frozen
class PoseStack:
    """Several poses of one repeat at once: what moves has one axis more than in :class:`Poses`."""

    aspect_ratio: FloatArray  # (m,)
    centre: FloatArray  # (m, k, 3)
    normal: FloatArray  # (m, k, 3), unit
    vectors: FloatArray  # (m, 1 or 2, 3)
    turn_rad: FloatArray  # (m,)
    inner_ratio: FloatArray  # (k,)
    wire: FloatArray  # (k,)
    free_turn: bool
    free_shear: bool

    @property
    def sheet(self) -> bool:
        """Whether there are two repeat vectors."""
        return bool(self.vectors.shape[1] == 2)

    @property
    def turns(self) -> bool:
        """Whether the repeats turn about the axis, or may."""
        return self.free_turn or bool(np.any(self.turn_rad))

    @property
    def mean_radius(self) -> FloatArray:
        """Radius of each ring's centre line, shape (m, k)."""
        radius: FloatArray = (self.aspect_ratio[:, None] * self.inner_ratio + self.wire) / 2
        return radius

    def pick(self, number: int) -> Poses:
        """Return one of the poses."""
        return Poses(
            aspect_ratio=float(self.aspect_ratio[number]),
            centre=self.centre[number],
            normal=self.normal[number],
            vectors=self.vectors[number],
            turn_rad=float(self.turn_rad[number]),
            inner_ratio=self.inner_ratio,
            wire=self.wire,
            free_turn=self.free_turn,
            free_shear=self.free_shear,
        )


def turn_about_x(angle_rad: npt.ArrayLike) -> FloatArray:
    """Matrices that turn a vector about the x axis, shape (…, n, 3, 3)."""
    angle = np.atleast_1d(np.asarray(angle_rad, dtype=float))
    matrix = np.zeros((*angle.shape, 3, 3))
    cos, sin = np.cos(angle), np.sin(angle)
    matrix[..., 0, 0] = 1.0
    matrix[..., 1, 1], matrix[..., 1, 2] = cos, -sin
    matrix[..., 2, 1], matrix[..., 2, 2] = sin, cos
    return matrix


def read_seed(weave: Weave, ring_sizes: Sequence[tuple[float, float]] | None = None) -> Poses:
    """Read the start of a weave from its data.

    Parameters
    ----------
    weave : Weave
        With ``data["seed"]`` as the module says.
    ring_sizes : sequence of (float, float), optional
        Wire and inner diameter of each ring class over those of class 0, instead of the file's.

    Raises
    ------
    WeaveError
        If there is no seed, or a class of rings has no size.
    """
    seed: Mapping[str, Any] | Any = weave.data.get("seed")
    if not isinstance(seed, dict) or "rings" not in seed or "vectors" not in seed:
        found = f"weave {weave.key!r}: no seed with rings and vectors"
        raise WeaveError(Refusal(found, "its file must give one"))
    rings = np.asarray(seed["rings"], dtype=float)
    ring_class = np.asarray(weave.ring_class, dtype=int)
    sizes = []
    for number, size in enumerate(weave.classes):
        if ring_sizes is not None:
            sizes.append(ring_sizes[number])
        elif size.inner_ratio is not None:
            sizes.append((size.wire_ratio, size.inner_ratio))
        else:
            found = f"weave {weave.key!r}: ring class {size.name!r} has no inner diameter"
            raise WeaveError(Refusal(found, "give one on the row"))
    ratios = np.array(sizes, dtype=float)
    normal = rings[:, 3:6]
    return Poses(
        aspect_ratio=float(seed["aspect_ratio"]),
        centre=rings[:, :3].copy(),
        normal=normal / np.linalg.norm(normal, axis=1, keepdims=True),
        vectors=np.atleast_2d(np.asarray(seed["vectors"], dtype=float)),
        turn_rad=float(weave.turn_rad),
        inner_ratio=ratios[ring_class, 1],
        wire=ratios[ring_class, 0],
        free_turn=bool(seed.get("free_turn", False)),
        free_shear=bool(seed.get("free_shear", False)),
    )


def order_links(links: npt.ArrayLike) -> IndexArray:
    """Bring links (i, j, a, b) to one form: (a, b) forward, or i < j within the repeat; sorted."""
    rows = np.asarray(links, dtype=int).reshape(-1, 4)
    i, j, a, b = rows.T
    back = (a < 0) | ((a == 0) & (b < 0)) | ((a == 0) & (b == 0) & (i > j))
    flipped = np.stack([j, i, -a, -b], axis=1)
    ordered = np.where(back[:, None], flipped, rows)
    return np.unique(ordered, axis=0)


def list_pairs(poses: Poses, reach: float) -> IndexArray:
    """Pairs (i, j, a, b) of a ring and another's image that may come within reach, each once.

    Parameters
    ----------
    poses : Poses
        The repeat.
    reach : float
        Wanted gap between the wires' surfaces. [wire diameters]
    """
    radius, count = poses.mean_radius, poses.count
    far = 2 * radius.max() + poses.wire.max() + reach
    span = np.ptp(poses.centre, axis=0)
    along = poses.vectors[0, 0]
    across_count = 0
    lean = 0.0
    if poses.sheet:
        across_count = int(np.ceil((far + span[1]) / max(abs(poses.vectors[1, 1]), 0.05)))
        lean = abs(poses.vectors[1, 0]) * across_count
    along_count = int(np.ceil((far + span[0] + lean) / max(abs(along), 0.05)))
    shape = (count, count, along_count + 1, 2 * across_count + 1)
    pairs: IndexArray = np.indices(shape).reshape(4, -1).T
    pairs[:, 3] -= across_count
    i, j, a, b = pairs.T
    pairs = pairs[(a > 0) | ((a == 0) & (b > 0)) | ((a == 0) & (b == 0) & (i < j))]
    centre = place_centres(poses, pairs)
    distance = np.linalg.norm(centre - poses.centre[pairs[:, 0]], axis=1)
    needed = radius[pairs[:, 0]] + radius[pairs[:, 1]] + pair_wire(poses, pairs) + reach
    near: IndexArray = pairs[distance < needed]
    return near


def pair_wire(poses: Poses, pairs: IndexArray) -> FloatArray:
    """Distance of the centre lines at which the wires of a pair touch, shape (p,)."""
    touch: FloatArray = (poses.wire[pairs[:, 0]] + poses.wire[pairs[:, 1]]) / 2
    return touch


def turn_images(poses: Poses | PoseStack, pairs: IndexArray, parts: FloatArray) -> FloatArray:
    """Turn vectors, one a pair, from the repeat to its image, shape (…, p, 3)."""
    if not poses.turns:
        return parts
    angle = pairs[:, 2] * np.asarray(poses.turn_rad)[..., None]
    cos, sin = np.cos(angle), np.sin(angle)
    y, z = parts[..., 1], parts[..., 2]
    return np.stack([parts[..., 0], cos * y - sin * z, sin * y + cos * z], axis=-1)


def turn_back(poses: Poses | PoseStack, pairs: IndexArray, parts: FloatArray) -> FloatArray:
    """Turn vectors, one a pair, from the image back to the repeat, shape (…, p, 3)."""
    return turn_images(poses, -pairs, parts)


def place_shifts(poses: Poses | PoseStack, pairs: IndexArray) -> FloatArray:
    """Place the origins of the images (a, b) of pairs, shape (…, p, 3)."""
    shift: FloatArray = pairs[:, 2:3] * poses.vectors[..., :1, :]
    if poses.sheet:
        shift = shift + pairs[:, 3:4] * poses.vectors[..., 1:, :]
    return shift


def place_centres(poses: Poses | PoseStack, pairs: IndexArray) -> FloatArray:
    """Place the centres of the images (j, a, b) of pairs, shape (…, p, 3)."""
    centre = poses.centre.take(pairs[:, 1], -2)
    return turn_images(poses, pairs, centre) + place_shifts(poses, pairs)


def place_normals(poses: Poses | PoseStack, pairs: IndexArray) -> FloatArray:
    """Place the normals of the images (j, a, b) of pairs, shape (…, p, 3)."""
    return turn_images(poses, pairs, poses.normal.take(pairs[:, 1], -2))


def place_circles(poses: Poses, pairs: IndexArray) -> tuple[CentreLines, CentreLines]:
    """Place the circles of pairs (i, j, a, b): those of rings i, and those of the images of j."""
    radius, i, j = poses.mean_radius, pairs[:, 0], pairs[:, 1]
    return (
        CentreLines(poses.centre[i], poses.normal[i], radius[i]),
        CentreLines(place_centres(poses, pairs), place_normals(poses, pairs), radius[j]),
    )


def find_links(poses: Poses) -> IndexArray:
    """Return the pairs that are really linked, rows (i, j, a, b) as :func:`order_links` orders."""
    pairs = list_pairs(poses, 0.0)
    number = linking_number(*place_circles(poses, pairs))
    return order_links(pairs[number != 0])


def find_approaches(
    poses: Poses, reach: float, *, samples: bool
) -> tuple[IndexArray, FloatArray, Approaches]:
    """Find the places where wires come within reach: pairs, gap of each place, the places."""
    pairs = list_pairs(poses, reach)
    touch = pair_wire(poses, pairs)
    first, second = place_circles(poses, pairs)
    places = list_approaches(first, second, reach=touch + reach, samples=samples)
    return pairs, places.distance - touch[places.pair], places


def smallest_gap(poses: Poses) -> float:
    """Smallest gap between any two wires, images included; negative where they overlap."""
    _, gap, _ = find_approaches(poses, 0.5, samples=False)
    return float(gap.min()) if gap.size else 0.5


def find_contacts(poses: Poses, tolerance: float = 1e-3) -> IndexArray:
    """Return the pairs whose wires touch within a tolerance, rows as :func:`order_links` orders."""
    pairs, gap, places = find_approaches(poses, tolerance, samples=False)
    return order_links(pairs[np.unique(places.pair[gap < tolerance])])


def measure_extents(poses: Poses) -> tuple[float, float]:
    """Width (along y) and thickness (along z) of the endless chain or of one repeat of a sheet."""
    turning = poses.turn_rad != 0 or poses.free_turn
    # A turn of nearly a third comes round slowly: after some hundred repeats it lies the other way.
    matrix = turn_about_x(np.arange(2000 if turning else 1) * float(poses.turn_rad))
    centre = np.einsum("aij,kj->aki", matrix, poses.centre)
    normal = np.einsum("aij,kj->aki", matrix, poses.normal)
    lean = np.sqrt(np.maximum(1 - normal**2, 0))
    half = poses.mean_radius[:, None] * lean + poses.wire[:, None] / 2
    high, low = (centre + half).max(axis=(0, 1)), (centre - half).min(axis=(0, 1))
    return float(high[1] - low[1]), float(high[2] - low[2])
