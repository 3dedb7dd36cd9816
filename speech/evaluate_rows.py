"""Rows of a manifest, and of what `wordhearth judge --json` makes of it: read and checked."""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from speech.phones import PAUSE, encode
from speech.trouble import Trouble

AS_WRITTEN: Final = "as_written"
SLIP: Final = "slip"
SILENT: Final = "silent"
UNSURE: Final = "unsure"
TRUTHS: Final = (AS_WRITTEN, SLIP, "other_word", "sounded_out", SILENT)
"""What a try can truly be; a verdict may also be `UNSURE`."""
VERDICTS: Final = (*TRUTHS, UNSURE)
BANDS: Final = (
    "under 5 years", "5 to 7 years", "8 to 9 years", "10 to 11 years", "12 years and over",
    "no age told",
)  # fmt: skip
"""Ages together; synthetic voices have none. Children read words one by one mostly at 5 to 7."""
_CHILD: Final = re.compile(r"child of (\d+)")


class RowTrouble(Trouble):
    """A line of the manifest that cannot be used."""


@dataclass(frozen=True)
class Judged:
    """What the program said of a row.

    Attributes
    ----------
    verdict : str
        One of `VERDICTS`.
    slip : str or None
        Kind, when the verdict is "slip".
    p : mapping of str to float
        Probability of each verdict.
    """

    verdict: str
    slip: str | None
    p: Mapping[str, float]

    @property
    def sure(self) -> dict[str, float]:
        """Probability of each truth, 'could not tell' left out; sums to 1."""
        total = sum(self.p.get(truth, 0.0) for truth in TRUTHS)
        return {truth: self.p.get(truth, 0.0) / total for truth in TRUTHS} if total else {}


@dataclass(frozen=True)
class Row:
    """One recording of one word, with what is true of it.

    Attributes
    ----------
    audio : str
        Path from the manifest's folder.
    start_s, end_s : float or None
        Part of the file; None for its own start and end.
    word : str
        The word shown.
    truth : str
        One of `TRUTHS`.
    truth_slip : str or None
        Kind, when `truth` is "slip".
    also_right : tuple of str
        Verdicts that are as right as `truth`.
    said : str
        ARPAbet of what is heard, tries and lone sounds separated by `` / ``; empty for silence.
    age : int or None
        Years; None of a synthetic voice.
    about : mapping of str to str
        Every other key with a text: condition, voice, source, accent.
    candidates : mapping of str to str
        Phone strings that the word may be said as, each "as_written" or the kind of slip it is;
        empty where none are given.
    judged : Judged or None
    """

    audio: str
    start_s: float | None
    end_s: float | None
    word: str
    truth: str
    truth_slip: str | None
    also_right: tuple[str, ...]
    said: str
    age: int | None
    about: Mapping[str, str]
    candidates: Mapping[str, str]
    judged: Judged | None

    @property
    def clip(self) -> tuple[str, float | None, float | None]:
        """What is listened to: two rows may share it."""
        return self.audio, self.start_s, self.end_s

    @property
    def phones(self) -> tuple[str, ...]:
        """Everything that was said, as phones."""
        return tuple(phone for phone in self.said.split() if phone not in ("/", PAUSE))

    @property
    def age_band(self) -> str:
        """The row's band of `BANDS`."""
        if self.age is None:
            return BANDS[-1]
        return BANDS[bisect_right((5, 8, 10, 12), self.age)]


def parse(lines: Iterable[str]) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """Read the rows of a manifest.

    Returns
    -------
    tuple of Row
        The rows that can be used, in order.
    tuple of str
        What `wordhearth judge` said of the lines that it could not judge.

    Raises
    ------
    RowTrouble
        A line is not JSON, or lacks what an evaluation needs: the truth above all.
    """
    rows: list[Row] = []
    errors: list[str] = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            data = json.loads(line)
        except ValueError as error:
            raise _trouble(number, f"it is not JSON ({error})") from error
        if not isinstance(data, dict):
            raise _trouble(number, "it is not a JSON object")
        if "error" in data:
            errors.append(f"{data.get('audio', 'line')}: {data['error']}")
            continue
        try:
            rows.append(_row(data))
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            reason = f"the key {error} is missing" if isinstance(error, KeyError) else str(error)
            raise _trouble(number, reason) from error
    return tuple(rows), tuple(errors)


def _row(data: dict[str, Any]) -> Row:
    truth, kind = data["truth"], data.get("truth_slip")
    if truth not in TRUTHS:
        raise ValueError(f"truth is {truth!r}, which is none of {', '.join(TRUTHS)}")
    if (truth == SLIP) != (kind is not None):
        raise ValueError("truth_slip names the kind where truth is 'slip', and is null elsewhere")
    said = data["said"]
    candidates = data.get("candidates") or {}
    for string in (said.replace("/", " "), *candidates):
        encode(string)
    return Row(
        audio=data["audio"],
        start_s=_number(data, "start"),
        end_s=_number(data, "end"),
        word=data["word"],
        truth=truth,
        truth_slip=kind,
        also_right=tuple(data.get("also_right", ())),
        said=said,
        age=_age(data),
        about={key: value for key, value in data.items() if isinstance(value, str)},
        candidates=dict(candidates),
        judged=_judged(data) if "verdict" in data else None,
    )


def _judged(data: dict[str, Any]) -> Judged:
    verdict = data["verdict"]
    if verdict not in VERDICTS:
        raise ValueError(f"verdict is {verdict!r}, which is none of {', '.join(VERDICTS)}")
    return Judged(verdict, data["slip"], {name: float(p) for name, p in data["p"].items()})


def _number(data: dict[str, Any], key: str) -> float | None:
    return None if data.get(key) is None else float(data[key])


def _age(data: dict[str, Any]) -> int | None:
    if "age" in data:
        return int(data["age"])
    told = _CHILD.fullmatch(data.get("voice", ""))
    return int(told[1]) if told else None


def _trouble(number: int, why: str) -> RowTrouble:
    return RowTrouble(
        f"Line {number} cannot be evaluated",
        why,
        "Each line is a JSON object with audio, word, truth, truth_slip and said, as in "
        "fixtures_audio/manifest.jsonl; fixtures_audio/README.md says what they mean.",
    )
