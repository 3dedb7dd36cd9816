"""Places on a page: rectangles that can be cut into strips, rows and columns."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Box:
    """A rectangle of the page, in points from its lower left corner."""

    left: float
    bottom: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.left + self.width

    @property
    def top(self) -> float:
        """The upper edge."""
        return self.bottom + self.height

    def inside(self, margin: float) -> Box:
        """The box without a margin on its four sides."""
        return Box(
            self.left + margin,
            self.bottom + margin,
            max(self.width - 2 * margin, 0.0),
            max(self.height - 2 * margin, 0.0),
        )

    def split_top(self, height: float) -> tuple[Box, Box]:
        """A strip of `height` at the top, and what is left below it."""
        height = min(height, self.height)
        rest = self.height - height
        return (
            Box(self.left, self.bottom + rest, self.width, height),
            Box(self.left, self.bottom, self.width, rest),
        )

    def split_bottom(self, height: float) -> tuple[Box, Box]:
        """What is left above, and a strip of `height` at the bottom."""
        return self.split_top(max(self.height - height, 0.0))

    def columns(self, number: int, gap: float = 0.0) -> tuple[Box, ...]:
        """`number` columns of one width, from left to right."""
        width = (self.width - gap * (number - 1)) / number
        return tuple(
            Box(self.left + n * (width + gap), self.bottom, width, self.height)
            for n in range(number)
        )

    def rows(self, number: int, gap: float = 0.0) -> tuple[Box, ...]:
        """`number` rows of one height, from top to bottom."""
        height = (self.height - gap * (number - 1)) / number
        return tuple(
            Box(self.left, self.top - height - n * (height + gap), self.width, height)
            for n in range(number)
        )
