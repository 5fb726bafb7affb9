"""The types of arrays, said once; shapes stand in the docstrings where they are used."""

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
IntArray: TypeAlias = npt.NDArray[np.int32]
"""Numbers of rings, joins, sections: what a piece keeps by the million."""
IndexArray: TypeAlias = npt.NDArray[np.intp]
"""Places in another array, as numpy gives them."""
AnyIntArray: TypeAlias = npt.NDArray[np.signedinteger[Any]]
"""Whole numbers of any width that a caller hands in."""
