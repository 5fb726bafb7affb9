"""What the examiner found: findings, and what collects them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from chainplan.frozen import frozen

MOST_OF_A_CHECK = 20
"""Findings of one check that are listed; of more only the number is told."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing in a plan that contradicts the rest of it."""

    check: str
    file: str
    place: str
    found: str
    expected: str

    def __str__(self) -> str:
        return f"{self.file}, {self.place}: {self.found}; expected {self.expected} ({self.check})"


@frozen
class Examination:
    """All findings of one plan folder; none means that its files agree."""

    folder: str
    checks: tuple[str, ...]  # names of the checks that ran
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]  # what was looked at in a sample only
    passed_before: tuple[str, ...] = ()  # checks not run again: what they read had passed them

    @property
    def ok(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    def text(self) -> str:
        """Say in lines what was looked at and found."""
        lines = [f"{self.folder}: {len(self.checks)} checks", *(str(f) for f in self.findings)]
        lines += [f"in a sample: {note}" for note in self.notes]
        count = len(self.findings)
        found = f"{count} {'finding' if count == 1 else 'findings'}" if count else "nothing wrong"
        return "\n".join([*lines, found])

    def failure_text(self) -> str:
        """Say why a plan is not put in place."""
        count = len(self.findings)
        return "\n".join(
            [
                f"a fault of ours: the finished plan contradicts itself in {count} "
                f"{'place' if count == 1 else 'places'}, so nothing was written or replaced; "
                "please report this with the input",
                *(str(finding) for finding in self.findings[:MOST_OF_A_CHECK]),
            ]
        )


@dataclass(slots=True)
class Teller:
    """Collects the findings of one check."""

    check: str
    findings: list[Finding] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    more: int = 0

    def tell(self, file: str, place: str, found: object, expected: object) -> None:
        """Add a finding."""
        if len(self.findings) < MOST_OF_A_CHECK:
            self.findings.append(Finding(self.check, file, place, _say(found), _say(expected)))
        else:
            self.more += 1

    def same(self, file: str, place: str, found: object, expected: object) -> None:
        """Add a finding if two things are not the same."""
        if found != expected:
            self.tell(file, place, found, expected)

    def near(
        self, file: str, place: str, found: object, expected: float, *, off: float = 0.0
    ) -> None:
        """Add a finding if a number is not the expected one to five digits, or to ``off``."""
        number = as_number(found)
        if not math.isfinite(number) or abs(number - expected) > off + 1e-5 * abs(expected) + 1e-9:
            self.tell(file, place, found, expected)

    def true(self, file: str, place: str, good: object, found: object, expected: object) -> None:
        """Add a finding unless something holds."""
        if not good:
            self.tell(file, place, found, expected)

    def note(self, text: str) -> None:
        """Say what was looked at in a sample only."""
        self.notes.append(text)

    def close(self) -> tuple[Finding, ...]:
        """Return the findings, with the number of those that are not listed."""
        if self.more:
            text = f"{self.more} more like these"
            self.findings.append(Finding(self.check, "plan", "further places", text, "none"))
        return tuple(self.findings)


def as_number(value: object) -> float:
    """Turn a number, or money written as text, into a float; NaN for anything else.

    Examples
    --------
    >>> as_number("12.50"), as_number(3), as_number(None)
    (12.5, 3.0, nan)
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return math.nan
    try:
        return float(value)
    except ValueError:
        return math.nan


def _say(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.7g}"
    text = str(value)
    return text if len(text) <= 160 else f"{text[:157]}…"
