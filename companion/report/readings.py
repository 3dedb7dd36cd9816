"""Every single reading that is kept, for the adult's eyes: to see it, and to correct it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from companion.record.turns import KeptTurn
from companion.report.wording import VERDICT_WORDS

_CORRECTED = {
    "as_written": "you: as written",
    "not": "you: not",
    "skip": "you: left out",
}


def to_text(turns: Iterable[KeptTurn], clips: Mapping[tuple[int, int], Path] | None = None) -> str:
    """One line a reading, at most 80 columns: number, when, word, how it was marked.

    Parameters
    ----------
    turns : iterable of KeptTurn
        The readings.
    clips : mapping of (int, int) to Path, optional
        Sound by the numbers of its turn and try, each named below its reading.
    """
    sounds = clips or {}
    lines = [f"{'No.':>6}  {'When':16}  {'Word':16}  Marked"]
    for kept in turns:
        lines.append(_line(kept))
        for number in range(1, len(kept.turn.tries) + 1):
            if (kept.id, number) in sounds:
                lines.append(f"{'':8}its sound, try {number}: {sounds[kept.id, number]}")
    if len(lines) == 1:
        return "No single reading is kept of this week.\n"
    lines.append("To correct one: wordhearth week --correct NUMBER as_written (or not, skip, undo)")
    return "\n".join(lines) + "\n"


def to_json(turns: Iterable[KeptTurn]) -> list[dict[str, Any]]:
    """All that is kept of each reading, as what ``json.dumps`` takes."""
    return [
        {
            "number": kept.id,
            "sitting": kept.sitting,
            "at": kept.at.isoformat(),
            "day": kept.day.isoformat(),
            **asdict(kept.turn),
        }
        for kept in turns
    ]


def _line(kept: KeptTurn) -> str:
    last = kept.turn.tries[-1]
    mark = VERDICT_WORDS[last.verdict]
    if last.slip is not None:
        mark = f"{mark} in {(last.gpc or last.slip).partition(' ')[0]}"
    if kept.turn.overrule is not None:
        mark = f"{mark} ({_CORRECTED[kept.turn.overrule]})"
    at = kept.at.strftime("%a %d %b %H:%M")
    return f"{kept.id:>6}  {at:16}  {kept.turn.word:16}  {mark}".rstrip()
