"""How often what was heard is not what was read: the listener's measured error rates, and an ear's.

The numbers are data, in ``rates.json`` beside this module, with where each comes from. When a
better listener is released they change there and nowhere else.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FILE = Path(__file__).with_name("rates.json")


@dataclass(frozen=True)
class Rates:
    """What becomes of a reading, by how it truly was. Shares from 0 to 1.

    Attributes
    ----------
    right_as_written, right_slip, right_unsure : float
        Good readings called as written, called a slip (false slips), and left ``unsure``. They may
        come to less than 1: the rest was called something else and is no reading of the GPC.
    slip_as_written, slip_slip, slip_unsure : float
        The same for readings with the slip; ``slip_slip`` are the slips found.
    """

    right_as_written: float
    right_slip: float
    right_unsure: float
    slip_as_written: float
    slip_slip: float
    slip_unsure: float

    def __post_init__(self) -> None:
        for shares in (
            (self.right_as_written, self.right_slip, self.right_unsure),
            (self.slip_as_written, self.slip_slip, self.slip_unsure),
        ):
            if min(shares) < 0 or sum(shares) > 1 + 1e-9:
                raise ValueError(f"shares of one whole were expected, not {shares}")
        if self.right_slip >= self.slip_slip:
            raise ValueError("a listener that hears slips no oftener in slips tells nothing")


def load(name: str, path: Path = FILE) -> Rates:
    """Read one listener's rates: ``listener`` or ``ear``.

    Raises
    ------
    KeyError
        If the file lacks it or a number of it.
    ValueError
        Numbers that are no shares.
    """
    found = json.loads(path.read_text(encoding="utf-8"))[name]
    return _rates(found["right"], found["slip"])


@functools.cache
def listener() -> Rates:
    """The bundled listener's rates, read once."""
    return load("listener")


@functools.cache
def ear() -> Rates:
    """A teacher's ear, read once."""
    return load("ear")


def _rates(right: dict[str, Any], slip: dict[str, Any]) -> Rates:
    return Rates(
        *(float(right[name]) for name in ("as_written", "slip", "unsure")),
        *(float(slip[name]) for name in ("as_written", "slip", "unsure")),
    )
