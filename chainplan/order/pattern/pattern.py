"""What a regular way through a piece is, and what it takes in one go."""

from __future__ import annotations

from math import gcd
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.model.said import Phrase


@frozen
class Pattern:
    """One regular way through a piece.

    ``stride`` counts units of a line, rings of a row, columns or diagonals; ``classes`` deals the
    rows (or the rings of a pair) out to passes of their own; ``jump`` is how far the next pass
    starts from the last one's start; all passes run the same way, from the end if ``backward``.
    ``blocks`` finishes one stretch of the piece before the next. With a ``run`` the hand works
    through so many units (or columns) and then skips to the next run of its pass, one in ``share``:
    what it has just warmed then lies beyond the fingers, and the way there is spread over several
    joins. All starts of the stride are welded before the next share of the runs, or the other way
    round if ``turn_first``; ``turn_jump`` is to the shares what ``jump`` is to the starts.
    ``by_clip``: all passes from one place of the return lead's clip before it is moved on.
    ``home``: so many units (or columns) at the end that the passes run towards are welded first,
    the other way: when a pass comes to its end they have cooled, and the fingers hold there. With
    ``home_each`` before every pass its own share of them, otherwise all of them at the beginning.
    """

    family: str = "line"  # line, rows, columns, diagonals
    stride: int = 1
    classes: int = 1
    jump: int = 1
    backward: bool = False
    snake: bool = False
    blocks: int = 1
    run: int = 0  # 0: nothing is skipped
    share: int = 1
    turn_jump: int = 0  # 0: the next pass of a run's share lies far from the last
    turn_first: bool = False
    by_clip: bool = False
    home: int = 0  # 0: nothing is welded ahead
    home_each: bool = False

    @property
    def passes(self) -> int:
        """Times that the hand goes along the piece, for one face and setting."""
        return self.stride * self.classes * self.share * (2 if self.home else 1)


@frozen
class Taken:
    """Joins that a pattern takes in one go along the piece, and what is needed to say so."""

    joins: IntArray
    first: int  # unit or column to begin with, were there joins in all
    part: int = 0  # which of the pattern's classes
    last: int = 0  # last unit of the block


@frozen
class PlannedPass:
    """Joins of one pass in order, with what to say about it but for count and time."""

    joins: IntArray
    stem: Phrase
    face: int
    setting: int


def middle_jump(stride: int) -> int:
    """Find a step through the residues of a stride that keeps successive starts far apart.

    Examples
    --------
    >>> [middle_jump(s) for s in (1, 2, 3, 4, 5, 7, 12)]
    [1, 1, 1, 1, 2, 3, 5]
    """
    for jump in range(stride // 2, 1, -1):
        if gcd(jump, stride) == 1:
            return jump
    return 1


def starts_of(stride: int, jump: int) -> list[int]:
    """Start places of a stride's passes, in the order in which they are welded.

    Examples
    --------
    >>> starts_of(5, 2)
    [0, 2, 4, 1, 3]
    """
    return [(k * jump) % stride for k in range(stride)]
