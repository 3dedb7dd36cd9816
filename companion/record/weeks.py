"""Weeks as ISO 8601 counts them: Monday to Sunday, written 2026-W48."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

_WRITTEN = re.compile(r"(\d{4})-W(\d{2})")


@dataclass(frozen=True, order=True)
class Week:
    """One ISO week.

    Attributes
    ----------
    year : int
        The ISO year, which differs from the calendar's for a few days around New Year.
    number : int
        1 to 52 or 53.
    """

    year: int
    number: int

    def __post_init__(self) -> None:
        date.fromisocalendar(self.year, self.number, 1)

    @classmethod
    def of(cls, day: date) -> Week:
        """The week that holds `day`."""
        year, number, _ = day.isocalendar()
        return cls(year, number)

    @classmethod
    def parse(cls, text: str) -> Week:
        """Read ``"2026-W48"``.

        Raises
        ------
        ValueError
            Another shape, or a week that the year does not have.
        """
        match = _WRITTEN.fullmatch(text)
        if match is None:
            raise ValueError(f"{text!r} is not a week written like 2026-W48")
        return cls(int(match[1]), int(match[2]))

    @property
    def monday(self) -> date:
        """Its first day."""
        return date.fromisocalendar(self.year, self.number, 1)

    @property
    def sunday(self) -> date:
        """Its last day."""
        return self.monday + timedelta(days=6)

    def __str__(self) -> str:
        return f"{self.year:04d}-W{self.number:02d}"
