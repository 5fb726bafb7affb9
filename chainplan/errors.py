"""Every error chainplan raises on purpose, and refusals as data from where they arise to the end.

A :class:`Refusal` arises where something cannot be used, before its place is known; whoever knows
the place turns it into a :class:`Fault`. Both keep what was found, what is allowed and which word
was meant as fields of their own: sentences are made when they are told, and never taken apart.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.bounds import BOUNDS

if TYPE_CHECKING:
    from collections.abc import Iterable

LIKE = 0.6
"""Share of letters in common from which a word may be another mistyped: difflib's own default.
Lower offers words that nobody meant, higher misses two slips in a word of five letters."""


def quote(value: object, most: int = BOUNDS.shown_letters) -> str:
    """Show what was found: text in quotes, numbers as they are, cut to a length.

    Examples
    --------
    >>> quote("thin"), quote(3.50), quote("ab" * 40, 8)
    ("'thin'", '3.5', "'abababa…'")
    """
    if isinstance(value, str):
        return repr(cut(str(value), most))  # of an enumeration, its text
    if isinstance(value, Decimal | float):
        value = f"{value:g}" if math.isfinite(value) else str(value)
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**BOUNDS.digits:
        return f"a number of more than {BOUNDS.digits} digits"
    return cut(str(value), most)


def cut(text: str, most: int = BOUNDS.shown_letters) -> str:
    """Cut what is shown of a long text."""
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _plain(text: str) -> str:
    """Cut a part of a message, and show letters that would move a terminal's cursor as "�"."""
    text = cut(text, BOUNDS.message_letters)
    return text if text.isprintable() else "".join(c if c.isprintable() else "�" for c in text)


def tell(where: str, found: str, remedy: str) -> str:
    """Make the one sentence of a refusal."""
    place = f"{where}: " if where else ""
    return f"{place}{found}; {remedy}" if remedy else f"{place}{found}"


def tell_meant(hint: tuple[str, ...]) -> str:
    """Ask whether one of these words was meant.

    Examples
    --------
    >>> tell_meant(("copper",))
    "did you mean 'copper'?"
    """
    words = [quote(word, BOUNDS.name_letters) for word in hint]
    return f"did you mean {' or '.join(words)}?"


def tell_known(known: Iterable[str]) -> str:
    """List what is known, as far as anybody reads.

    Examples
    --------
    >>> tell_known(["a1", "b2"])
    'known: a1, b2'
    """
    words = list(known)
    shown = [cut(word, BOUNDS.name_letters) for word in words[: BOUNDS.shown_words]]
    more = len(words) - len(shown)
    return f"known: {', '.join(shown)}" + (f" and {more} more" if more > 0 else "")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in an input: where it stands, what was found, what is allowed."""

    where: str
    found: str
    allowed: str
    hint: tuple[str, ...] = ()  # the words that may have been meant

    def __post_init__(self) -> None:
        for name in ("where", "found", "allowed"):
            object.__setattr__(self, name, _plain(getattr(self, name)))

    @property
    def remedy(self) -> str:
        """What to do: the word that was meant, else what is allowed."""
        return tell_meant(self.hint) if self.hint else self.allowed

    def __str__(self) -> str:
        return tell(self.where, self.found, self.remedy)

    def record(self) -> dict[str, object]:
        """Return the fields with the keys that people script against."""
        return {
            "where": self.where,
            "found": self.found,
            "allowed": self.allowed,
            "hint": list(self.hint),
        }


@dataclass(frozen=True, slots=True)
class Refusal:
    """What cannot be used and why, where its place is not known yet.

    Examples
    --------
    >>> refusal = Refusal("has no unit", "write it in mm", of="'18'")
    >>> str(refusal)
    "'18' has no unit; write it in mm"
    >>> str(refusal.at("C2", "wire"))
    "C2: wire is '18', which has no unit; write it in mm"
    """

    trouble: str = ""  # what is wrong with it: "is not a number"
    allowed: str = ""
    of: str = ""  # what was found, as it is shown: "'18'"
    what: str = ""  # what it is called where it arises: "metal"
    hint: tuple[str, ...] = ()

    @property
    def found(self) -> str:
        """What was found, under the name it has where it arises."""
        return " ".join(part for part in (self.what, self.of, self.trouble) if part)

    def told_of(self, name: str) -> str:
        """Say what was found of something that is called ``name`` where it stands."""
        if self.of and self.trouble:
            return f"{name} is {self.of}, which {self.trouble}"
        return f"{name} is {self.of}" if self.of else f"{name} {self.trouble}"

    def at(self, where: str, name: str = "", *, otherwise: str = "") -> Fault:
        """Make a fault of it at a place; ``otherwise`` is what is allowed if nothing is said."""
        found = self.told_of(name) if name else self.found
        return Fault(where, found, self.allowed or otherwise, self.hint)

    def __str__(self) -> str:
        return str(self.at(""))


class ChainplanError(Exception):
    """Base of every error chainplan raises on purpose; carries what is refused as data."""

    def __init__(self, said: str | Refusal | Fault = "") -> None:
        super().__init__(said)
        self.said = Refusal(said) if isinstance(said, str) else said

    def at(self, where: str, name: str = "", *, otherwise: str = "") -> Fault:
        """Make a fault of it at a place; one that has its place keeps it."""
        if isinstance(self.said, Fault):
            return self.said
        return self.said.at(where, name, otherwise=otherwise)


class InputError(ChainplanError, ValueError):
    """Something the user wrote cannot be used as written; may carry many faults at once."""

    def __init__(
        self, said: str | Refusal | Fault | None = None, *, faults: Iterable[Fault] = ()
    ) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        if said is None:
            said = "\n".join(str(fault) for fault in self.faults)
        super().__init__(said)


class WeaveError(ChainplanError, ValueError):
    """A weave cannot be solved for this ring: no number is better than a wrong one."""


class CannotBeWoven(WeaveError):
    """The ring is too small for the weave: its aspect ratio is below the smallest workable one."""


class NotConverged(WeaveError):
    """The solver did not reach an overlap-free state with the declared links."""


class JoinError(ChainplanError, ValueError):
    """The joins of a piece cannot be planned: two linked rings that nothing reaches, say."""


def near_words(word: str, known: Iterable[str]) -> tuple[str, ...]:
    """Find the known word that was meant: the same letters first, then the most alike.

    Examples
    --------
    >>> near_words("byzantin", ["byzantine", "box-chain"]), near_words("peice", ["price", "piece"])
    (('byzantine',), ('piece',))
    >>> near_words("qqq", ["a1", "b2"])
    ()
    """
    wanted = word.strip().casefold()
    if len(wanted) > BOUNDS.name_letters:
        return ()
    letters = sorted(wanted)
    # Words of quite another length cannot be alike, and comparing is dear.
    lowered = {
        choice.casefold(): choice
        for choice in known
        if 2 * min(len(choice), len(wanted)) >= LIKE * (len(choice) + len(wanted))
    }
    for low, choice in lowered.items():
        if sorted(low) == letters:
            return (choice,)
    close = difflib.get_close_matches(wanted, list(lowered), n=1, cutoff=LIKE)
    return tuple(lowered[low] for low in close)


def unknown(word: str, known: Iterable[str], *, what: str) -> Refusal:
    """Refuse a word that is none of the known ones, with the one that was meant.

    Examples
    --------
    >>> str(unknown("coper", ["copper", "brass"], what="metal"))
    "metal 'coper' is not known; did you mean 'copper'?"
    """
    choices = list(known)
    hint = near_words(word, choices)
    return Refusal("is not known", tell_known(choices), quote(word), what, hint)


class ExaminationError(ChainplanError):
    """A finished plan contradicts itself: a fault of ours, and nothing of it is put in place."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Write the hint for a sentence: the word that was meant, or the list of what is known.

    Examples
    --------
    >>> did_you_mean("byzantin", ["byzantine", "box-chain"])
    "did you mean 'byzantine'?"
    >>> did_you_mean("qqq", ["a1", "b2"])
    'known: a1, b2'
    """
    choices = list(known)
    hint = near_words(word, choices)
    return tell_meant(hint) if hint else tell_known(choices)
