"""A teacher's own words: split, warned about, and split again as the teacher decides.

Corrected splits live in a small file, ``splits.csv``: a word, its pronunciation in ARPAbet and
its graphemes, such as ``chef,SH EH F,ch e f``. They stand until the teacher takes them back.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from companion.phonics import lexicon
from companion.phonics.decodable import Taught
from companion.phonics.gpc import PHONES, Gpc, table
from companion.phonics.split import Split, WordError, by_graphemes, letters_of, split
from companion.phonics.wordlists import WordListError, read_text

_HEADER = ("word", "phones", "graphemes")
_BETWEEN = re.compile(r"[\s,;|•]+")
_ROUND = '.!?:"“”()[]*_…'
_MARKER = re.compile(r"^\s*\d+[.)]\s+", re.MULTILINE)
_GRAPHEME = re.compile(r"([a-z]+(?:-e)?)(?:\s*/\s*([A-Z][A-Z ]*?)\s*/)?\s*")


@dataclass(frozen=True)
class Correction:
    """A split a teacher has decided on: the word, its phones and its graphemes in order."""

    word: str
    phones: str
    graphemes: tuple[str, ...]


@dataclass(frozen=True)
class Corrections:
    """Corrected splits; each stands in place of the word's own."""

    rows: tuple[Correction, ...] = ()

    def find(self, word: str) -> Correction | None:
        """The correction of a word, whatever its capitals; None if there is none."""
        return next((row for row in self.rows if row.word.lower() == word.lower()), None)

    def split(self, word: str) -> tuple[Split, ...]:
        """The word's corrected split, or else its own (see `companion.phonics.split.split`)."""
        found = self.find(word)
        if found is None:
            return split(word)
        return (by_graphemes(word, found.phones, found.graphemes),)

    def plus(self, correction: Correction) -> Corrections:
        """These with one more, in place of an earlier one of the same word."""
        return replace(self, rows=(*self.minus(correction.word).rows, correction))

    def minus(self, word: str) -> Corrections:
        """These without a word's correction."""
        return Corrections(tuple(row for row in self.rows if row.word.lower() != word.lower()))


@dataclass(frozen=True)
class OwnWord:
    """A teacher's word looked at.

    Attributes
    ----------
    word : str
        As pasted.
    readings : tuple of Split
        Several for a homograph; none when the word cannot be split.
    corrected : bool
        Whether the split is the teacher's.
    untaught : tuple of Gpc
        GPCs of the first reading that have not been taught.
    listed : bool
        Whether the dictionary has the word; if not it is read by rule, as a made-up word is.
    sight : bool
        Whether it is an exception word that has been taught.
    fault : WordError or None
        Why the word cannot be split.
    """

    word: str
    readings: tuple[Split, ...] = ()
    corrected: bool = False
    untaught: tuple[Gpc, ...] = ()
    listed: bool = True
    sight: bool = False
    fault: WordError | None = None

    @property
    def exception_part(self) -> str | None:
        """Letters of the first reading that no taught value spells."""
        return self.readings[0].exception_part if self.readings else None

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the teacher should know before using the word, in sentences."""
        if self.fault is not None:
            return (str(self.fault),)
        said = []
        if self.untaught and not self.sight:
            said.append(f"not taught yet: {', '.join(map(str, self.untaught))}")
        if len(self.readings) > 1:
            ways = " or ".join(reading.phones for reading in self.readings)
            said.append(f"it can be read in {len(self.readings)} ways ({ways}): a sentence decides")
        if self.exception_part is not None:
            taught = "taught" if self.sight else "not decodable"
            said.append(f"exception word ({taught}): the part is {self.exception_part}")
        if not self.listed and not self.corrected:
            said.append("not in the dictionary: check the spelling; it is split by rule")
        return tuple(said)


def words_in(pasted: str) -> tuple[str, ...]:
    """The words of a pasted text, without repeats, list numbers and the marks around words."""
    pieces = _BETWEEN.split(_MARKER.sub("", pasted))
    return tuple(dict.fromkeys(word for piece in pieces if (word := piece.strip(_ROUND))))


def look_at(
    pasted: str, taught: Taught, corrections: Corrections | None = None
) -> tuple[OwnWord, ...]:
    """Split each word of a pasted text and say what to watch for.

    Parameters
    ----------
    pasted : str
        Words apart by spaces, commas, semicolons or lines, in any order and case.
    taught : Taught
        What the class has been taught.
    corrections : Corrections, optional
        Splits the teacher has decided on.
    """
    chosen = corrections or Corrections()
    return tuple(_look(word, taught, chosen) for word in words_in(pasted))


def _look(word: str, taught: Taught, corrections: Corrections) -> OwnWord:
    try:
        readings = corrections.split(word)
    except WordError as error:
        return OwnWord(word, fault=error)
    missing = (gpc for gpc in readings[0].gpcs if gpc not in taught.gpcs)
    return OwnWord(
        word,
        readings,
        corrected=corrections.find(word) is not None,
        untaught=tuple(dict.fromkeys(missing)),
        listed=bool(lexicon.said(word.lower())),
        sight=word.lower() in taught.words,
    )


def correct(word: str, graphemes: str) -> Correction:
    """A correction from what a teacher types.

    Parameters
    ----------
    word : str
        The word.
    graphemes : str
        Its graphemes in reading order, such as ``ch e f``; a sound may follow any of them
        between slashes, ``ch /SH/ e f``. Without sounds the dictionary's pronunciation is kept;
        for a word it does not have, each grapheme has the value it is first taught with.

    Raises
    ------
    WordError
        The graphemes do not use each letter once in order, or a sound is not an ARPAbet phone.
    """
    typed = graphemes.strip()
    if not typed or _GRAPHEME.sub("", typed):
        raise WordError(
            f"{graphemes!r} are not graphemes",
            "small letters with spaces between were expected",
            "Write them like 'ch e f' or 'ch /SH/ e f'",
        )
    parts = _GRAPHEME.findall(typed)
    spelled = tuple(grapheme for grapheme, _ in parts)
    listed = lexicon.said(word.lower())
    if listed and not any(sounds for _, sounds in parts):
        phones = " ".join(listed[0].phones)
    else:
        phones = " ".join(sounds or _first_value(grapheme) for grapheme, sounds in parts)
    made = _checked(Correction(word, phones, spelled))
    for unit, (_, sounds) in zip(made.units, parts, strict=True):
        if sounds and list(unit.phonemes) != sounds.split():
            raise WordError(
                f"{unit.grapheme} /{sounds}/ does not fit in {word!r}",
                f"the sounds fall so: {', '.join(map(str, made.gpcs))}",
                "Give a sound for each grapheme",
            )
    return Correction(word, phones, spelled)


def _checked(correction: Correction) -> Split:
    """The split a correction gives; a `WordError` if it gives none."""
    for phone in correction.phones.translate(lexicon.STRESSLESS).split():
        if phone not in PHONES:
            raise WordError(
                f"{correction.word!r} is given the sound {phone!r}",
                "it is not one of the 39 ARPAbet phones",
                f"Use some of: {' '.join(PHONES)}",
            )
    try:
        return by_graphemes(correction.word, correction.phones, correction.graphemes)
    except WordError:
        letters = "".join(correction.graphemes).replace("-", "")
        if sorted(letters) != sorted(letters_of(correction.word)):
            raise
        raise WordError(
            f"{' · '.join(correction.graphemes)} leaves a letter of {correction.word!r} silent",
            f"the word is said {correction.phones.translate(lexicon.STRESSLESS)}",
            "Join a silent letter to its neighbour, like 'kn o t', or give the sounds",
        ) from None


def _first_value(grapheme: str) -> str:
    first = table().first(grapheme)
    if first is None:
        raise WordError(
            f"{grapheme!r} has no sound of its own",
            "the GPC table has no such grapheme",
            f"Write its sound after it, like '{grapheme} /SH/'",
        )
    return " ".join(first.phonemes)


def load_corrections(path: Path) -> Corrections:
    """Read a corrections file; one that does not exist holds none.

    Raises
    ------
    WordListError
        The file cannot be read, or a line is no correction (it is named, with the mend).
    """
    if not path.exists():
        return Corrections()
    reader = csv.reader(io.StringIO(read_text(path, path.name)))
    rows: list[Correction] = []
    for cells in reader:
        at = f"{path.name}, line {reader.line_num}"
        if not cells or tuple(cells) == _HEADER:
            continue
        if len(cells) != len(_HEADER):
            raise WordListError(
                at, f"{','.join(cells)!r} has not three parts", "Write: chef,SH EH F,ch e f"
            )
        word, phones, graphemes = (cell.strip() for cell in cells)
        row = Correction(word, phones, tuple(graphemes.split()))
        try:
            _checked(row)
        except WordError as error:
            raise WordListError(f"{at}: {error.what}", error.why, error.mend) from None
        rows.append(row)
    return Corrections(tuple(rows))


def save_corrections(path: Path, corrections: Corrections) -> None:
    """Write a corrections file whole or not at all.

    Raises
    ------
    WordListError
        The folder cannot be written.
    """
    fresh = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(_as_csv(corrections.rows), encoding="utf-8")
        fresh.replace(path)
    except OSError as error:
        raise WordListError(
            f"{path.name} was not saved",
            error.strerror or str(error),
            "Check that the folder may be written, then correct the word again.",
        ) from error


def _as_csv(rows: Iterable[Correction]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_HEADER)
    writer.writerows((row.word, row.phones, " ".join(row.graphemes)) for row in rows)
    return text.getvalue()
