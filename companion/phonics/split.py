"""Words into graphemes: p · i-e · n, with what is regular and what is not."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources

from companion.phonics import lexicon
from companion.phonics.align import Piece, align, fit_one
from companion.phonics.british import britished
from companion.phonics.gpc import PHONES, VOWEL_PHONES, Gpc
from companion.phonics.rules import every_reading, graphemes_by_rule, values_by_rule

LONGEST = 30
"""Letters; longer than any English word of four syllables."""


class WordError(ValueError):
    """A word that cannot be split: what is wrong, why, and how to mend it."""

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(f"{what}: {why}. {mend}")
        self.what, self.why, self.mend = what, why, mend


@dataclass(frozen=True, slots=True)
class Unit:
    """One grapheme in a word.

    ``letters`` are places in the word from 0. ``phonemes`` are southern British. ``gpc`` is the
    correspondence the unit is evidence for: in a weak syllable the letter's own first value (the
    o of carrot counts as o /AA/). ``stress`` is 0, 1 or 2 for a vowel and ``None`` otherwise.
    An e shared by two graphemes is listed with the first (hoped: o-e 1 3, p 2, ed 4), and a split
    digraph whose e was dropped keeps its name (riding: i-e 1).
    """

    grapheme: str
    letters: tuple[int, ...]
    phonemes: tuple[str, ...]
    decodable: bool
    gpc: Gpc
    stress: int | None = None

    @property
    def vowel(self) -> str | None:
        """The first vowel phoneme, or ``None`` for a consonant."""
        return next((phone for phone in self.phonemes if phone in VOWEL_PHONES), None)


@dataclass(frozen=True, slots=True)
class Split:
    """A word, or one reading of it, in graphemes.

    ``regular`` is true when every unit is a taught GPC; ``exception_part`` is otherwise the
    letters that are not, several stretches joined by an ellipsis. ``said`` gives the phones of
    each unit as in the pronunciation that was split, with every r that it keeps.
    """

    word: str
    units: tuple[Unit, ...]
    regular: bool
    exception_part: str | None
    said: tuple[tuple[str, ...], ...] = ()

    @property
    def gpcs(self) -> tuple[Gpc, ...]:
        """The GPCs of the word in reading order."""
        return tuple(unit.gpc for unit in self.units)

    @property
    def phones(self) -> str:
        """The southern pronunciation, phones separated by spaces."""
        return " ".join(phone for unit in self.units for phone in unit.phonemes)

    @property
    def is_name(self) -> bool:
        """Whether the word is written with a capital."""
        return self.word[:1].isupper() and self.word != "I"

    def __str__(self) -> str:
        return " · ".join(unit.grapheme for unit in self.units)


def split(word: str, phones: str | None = None) -> tuple[Split, ...]:
    """Split a word into graphemes, once for each of its readings.

    Parameters
    ----------
    word : str
        One English word; hyphens and apostrophes inside it are allowed and stay unspelt.
    phones : str, optional
        How it is said, in ARPAbet; needed for a word that the dictionary does not know and that
        is not read by rule.

    Returns
    -------
    tuple of Split
        Homographs give several. A word that nobody knows is split by the first value of each
        grapheme, as a pseudo-word is.

    Raises
    ------
    WordError
        If the text is no word, is too long, or none of its letters matches a GPC.
    """
    bare = letters_of(word)
    if phones is None:
        return _known(word) or (_by_rule(word, bare),)
    return (_with_phones(word, bare, phones),)


def letters_of(word: str) -> str:
    """The small letters of a word without apostrophes and hyphens, or a `WordError`."""
    if not word or not word.strip():
        raise WordError("The word is empty", "there are no letters to split", "Type a word")
    bare = re.sub(r"(?<=\w)['’-](?=\w)|['’]$|^['’]", "", word)
    wrong = next((letter for letter in bare if not (letter.isascii() and letter.isalpha())), None)
    if wrong is not None:
        raise WordError(*_wrong_letter(word, wrong))
    if not bare:
        raise WordError(f"{word!r} has no letters", "only marks were given", "Type a word")
    if len(bare) > LONGEST:
        raise WordError(
            f"{word[:20]}… has {len(bare)} letters",
            f"words of up to {LONGEST} letters are split",
            "Check for a missing space",
        )
    return bare.lower()


def _wrong_letter(word: str, wrong: str) -> tuple[str, str, str]:
    if wrong.isdigit():
        return (f"{word!r} has the digit {wrong!r}", "digits are not spelt with graphemes",
                "Write the number as a word, like 'seven'")  # fmt: skip
    if wrong.isspace():
        return (f"{word!r} is more than one word", "one word at a time is split",
                "Give the words separately")  # fmt: skip
    if wrong.isalpha():
        return (f"{word!r} has the letter {wrong!r}", "it is not one of the letters a to z",
                "Write it with English letters, like 'cafe'")  # fmt: skip
    return (f"{word!r} has the mark {wrong!r}", "only letters, hyphens and apostrophes make words",
            "Take the mark away")  # fmt: skip


@lru_cache(maxsize=20_000)
def _known(word: str) -> tuple[Split, ...]:
    readings = [said for said in lexicon.said(word.lower().replace("’", "'")) if said.reading]
    splits = [_from_said(word, letters_of(word), said) for said in readings]
    return tuple({tuple(s.units): s for s in splits if s is not None}.values())


def variants(word: str) -> tuple[Split, ...]:
    """Splits for pronunciations that are variants of a word's readings, not readings."""
    others = [said for said in lexicon.said(word.lower().replace("’", "'")) if not said.reading]
    splits = [_from_said(word, letters_of(word), said) for said in others]
    return tuple(s for s in splits if s is not None)


def _from_said(word: str, bare: str, said: lexicon.Said) -> Split | None:
    phones = said.phones
    if not said.british:
        phones = britished(bare, phones)
    phones = _spread(bare, phones)
    british = said.british or bare in lexicon.bath_words()
    best = _stemmed(bare, phones) or align(bare, *_parts(phones), british=british)
    return _finish(word, bare, phones, best) if best else None


def _parts(phones: Sequence[str]) -> tuple[list[str], list[int | None]]:
    plain = [phone.rstrip("012") for phone in phones]
    stress = [int(phone[-1]) if phone[-1].isdigit() else None for phone in phones]
    return plain, stress


def _spread(bare: str, phones: tuple[str, ...]) -> tuple[str, ...]:
    """Write ER before a vowel as AH R where a vowel letter and rr spell it (hurry)."""
    for n, phone in enumerate(phones[:-1]):
        if phone[:2] == "ER" and phones[n + 1].rstrip("012") in VOWEL_PHONES and "rr" in bare:
            spread = (*phones[:n], "AH" + phone[2:], "R", *phones[n + 1 :])
            found = align(bare, *_parts(spread))
            if found and all(piece.gpc for piece in found):
                return spread
    return phones


_DROPPED = (("ings", "ing"), ("ing", "ing"), ("ers", "er"), ("er", "er"), ("est", "est"))


def _stemmed(bare: str, phones: tuple[str, ...]) -> tuple[Piece, ...]:
    """Split riding and rider as ride with an ending, keeping the stem's split digraph."""
    for ending, _ in _DROPPED:
        if not bare.endswith(ending) or len(bare) - len(ending) < 2:
            continue
        stem = bare[: -len(ending)] + "e"
        for said in lexicon.said_exactly(stem):
            plain, stress = _parts(phones)
            own, _ = _parts(said.phones)
            while own and own[-1] == "ER" and plain[: len(own)] != own:
                own = own[:-1]
            if not own or plain[: len(own)] != own or len(plain) == len(own):
                continue
            head = align(stem, plain[: len(own)], stress[: len(own)])
            if not head or not any(_holds(piece, len(stem) - 1) for piece in head):
                continue
            tail = align(ending, plain[len(own) :], stress[len(own) :])
            if tail and all(piece.gpc for piece in tail):
                return _attach(head, tail, len(stem) - 1, len(own))
    return ()


def _holds(piece: Piece, last: int) -> bool:
    joined = "-" in piece.grapheme or piece.grapheme in ("are", "ore", "ire", "ure")
    return joined and last in piece.letters


def _attach(
    head: tuple[Piece, ...], tail: tuple[Piece, ...], cut: int, spoken: int
) -> tuple[Piece, ...]:
    shared = tail[0].grapheme.startswith("e")
    first = [
        piece if shared else replace(piece, letters=tuple(x for x in piece.letters if x < cut))
        for piece in head
    ]
    if first[-1].grapheme[-2:] == "re" and first[-1].phonemes[-1] != "R":
        first[-1] = replace(first[-1], phonemes=(*first[-1].phonemes, "R"))
    rest = [
        replace(
            piece,
            letters=tuple(x + cut for x in piece.letters if not (shared and x == 0)),
            first_phone=piece.first_phone + spoken,
        )
        for piece in tail
    ]
    if any(not piece.letters for piece in rest):
        return ()
    return tuple(first + rest)


def _finish(word: str, bare: str, phones: Sequence[str], pieces: tuple[Piece, ...]) -> Split:
    marked = exception_marks().get(bare)
    if marked is not None:
        pieces = _regroup(bare, phones, marked[0]) or pieces
    _, stress = _parts(phones)
    places = [n for n, letter in enumerate(word) if letter.isalpha()]
    units = []
    for number, piece in enumerate(pieces):
        strong = next(
            (
                stress[n]
                for n in range(piece.first_phone, len(stress))
                if stress[n] is not None
            ),
            None,
        ) if any(p in VOWEL_PHONES for p in piece.phonemes) else None  # fmt: skip
        if piece.grapheme in ("y", "ey", "ie") and piece.phonemes == ("IY",) and strong == 2:
            strong = 0
        gpc = piece.gpc or Gpc(piece.grapheme, piece.phonemes)
        fair = piece.taught and not (marked and number in marked[1])
        letters = tuple(places[x] for x in piece.letters)
        units.append(Unit(piece.grapheme, letters, piece.phonemes, fair, gpc, strong))
    part = _exception_part(word, units)
    return Split(word, tuple(units), part is None, part, _spans(phones, pieces))


def _spans(phones: Sequence[str], pieces: Sequence[Piece]) -> tuple[tuple[str, ...], ...]:
    plain = tuple(phone.rstrip("012") for phone in phones)
    starts = [0, *(piece.first_phone for piece in pieces[1:]), len(plain)]
    return tuple(plain[start:stop] for start, stop in zip(starts, starts[1:], strict=False))


def _exception_part(word: str, units: Sequence[Unit]) -> str | None:
    odd = sorted(x for unit in units if not unit.decodable for x in unit.letters)
    if not odd:
        return None
    stretches = [word[odd[0]]]
    for before, here in zip(odd, odd[1:], strict=False):
        if here == before + 1:
            stretches[-1] += word[here]
        else:
            stretches.append(word[here])
    return "…".join(stretches)


@lru_cache(maxsize=1)
def exception_marks() -> dict[str, tuple[tuple[str, ...], frozenset[int]]]:
    """Common exception words: their graphemes and which of them are not decodable."""
    text = resources.files("wordsets").joinpath("exception_words.csv").read_text("utf-8")
    marks = {}
    for word, _, graphemes in list(csv.reader(io.StringIO(text)))[1:]:
        parts = graphemes.split()
        odd = frozenset(n for n, part in enumerate(parts) if part.startswith("("))
        marks[word.lower()] = (tuple(part.strip("()") for part in parts), odd)
    return marks


def _regroup(bare: str, phones: Sequence[str], graphemes: Sequence[str]) -> tuple[Piece, ...]:
    """Share the phones out over graphemes that somebody has decided on."""
    letters = _letters_of_graphemes(bare, graphemes)
    if letters is None:
        return ()
    plain, stress = _parts(phones)
    best: dict[int, tuple[float, tuple[Piece, ...]]] = {0: (0.0, ())}
    for grapheme, places in zip(graphemes, letters, strict=True):
        onward: dict[int, tuple[float, tuple[Piece, ...]]] = {}
        for j, (cost, done) in best.items():
            for after in range(j, min(j + 6, len(plain)) + 1):
                found = fit_one(bare, grapheme, places, tuple(plain), tuple(stress), (j, after))
                total = cost + found[0]
                if after not in onward or total < onward[after][0]:
                    onward[after] = (total, (*done, found[1]))
        best = onward
    return best.get(len(plain), (0.0, ()))[1]


def _letters_of_graphemes(bare: str, graphemes: Sequence[str]) -> list[tuple[int, ...]] | None:
    places: list[tuple[int, ...]] = []
    free = list(range(len(bare)))
    for grapheme in graphemes:
        want = grapheme.replace("-", "")
        if "-" in grapheme:
            e = next((x for x in free[1:] if bare[x] == "e" and x > free[0] + 1), None)
            chosen = [free[0], e] if free and e is not None else []
        else:
            chosen = free[: len(want)]
        if "".join(bare[x] for x in chosen if x is not None) != want:
            return None
        places.append(tuple(x for x in chosen if x is not None))
        free = [x for x in free if x not in chosen]
    return None if free else places


def _with_phones(word: str, bare: str, phones: str) -> Split:
    given = tuple(phones.split())
    plain = tuple(phone.rstrip("012") for phone in given)
    wrong = next((phone for phone in plain if phone not in PHONES), None)
    if not plain or wrong is not None:
        raise WordError(
            f"{phones!r} is not a pronunciation",
            "it is empty" if wrong is None else f"{wrong!r} is not one of the 39 ARPAbet phones",
            "Write phones with spaces between, like 'P AY N'",
        )
    marked = _stressed(word, given, plain)
    marked = _spread(bare, britished(bare, marked))
    british = bare in lexicon.bath_words()
    best = _stemmed(bare, marked) or align(bare, *_parts(marked), british=british)
    if not any(piece.gpc for piece in best):
        raise WordError(
            f"{word!r} cannot be said {phones!r}",
            "none of its letters matches a GPC of the table",
            "Check the spelling and the phones, or add the GPC to the table",
        )
    return _finish(word, bare, marked, best)


def _stressed(word: str, given: tuple[str, ...], plain: tuple[str, ...]) -> tuple[str, ...]:
    """Add stress digits: the dictionary's if it has these phones, else by the commonest pattern."""
    if any(phone[-1].isdigit() for phone in given):
        return given
    for said in lexicon.said(word.lower().replace("’", "'")):
        if tuple(phone.rstrip("012") for phone in said.phones) == plain:
            return said.phones
    vowels = [n for n, phone in enumerate(plain) if phone in VOWEL_PHONES]
    full = [n for n in vowels if plain[n] not in ("AH", "ER")]
    main = (full or vowels or [-1])[0]
    weak = ("AH", "ER", "IH", "IY")
    return tuple(
        phone if n not in vowels else phone + ("1" if n == main else "0" if phone in weak else "2")
        for n, phone in enumerate(plain)
    )


def by_graphemes(word: str, phones: str, graphemes: Sequence[str]) -> Split:
    """Split a word into graphemes that a teacher has decided on.

    Raises `WordError` if the graphemes do not use the letters of the word exactly once.
    """
    bare = letters_of(word)
    marked = _stressed(word, tuple(phones.split()), tuple(p.rstrip("012") for p in phones.split()))
    pieces = _regroup(bare, marked, graphemes)
    if not pieces:
        raise WordError(
            f"{' · '.join(graphemes)} does not spell {word!r}",
            "each letter of the word must be used once, in order",
            "Write the graphemes with spaces between, like 'p i-e n'",
        )
    return _finish(word, bare, marked, pieces)


def _by_rule(word: str, bare: str) -> Split:
    """Split an unknown word as a pseudo-word, by the first plausible value of each grapheme."""
    units = graphemes_by_rule(bare)
    values = values_by_rule(bare, units)
    if not units:
        raise WordError(
            f"{word!r} cannot be split",
            "it is not in the dictionary and some of its letters match no taught GPC",
            "Check the spelling, or give its phones, like 'P AY N'",
        )
    if not any(phone in VOWEL_PHONES for gpcs in values for phone in gpcs[0].phonemes):
        raise WordError(
            f"{word!r} cannot be read",
            "it is not in the dictionary and has no vowel",
            "Check the spelling, or give its phones, like 'P AY N'",
        )
    places = [n for n, letter in enumerate(word) if letter.isalpha()]
    strong = 1
    made = []
    for (grapheme, letters), gpcs in zip(units, values, strict=True):
        vowel = any(phone in VOWEL_PHONES for phone in gpcs[0].phonemes)
        stress, strong = (strong, 0) if vowel else (None, strong)
        at = tuple(places[x] for x in letters)
        made.append(Unit(grapheme, at, gpcs[0].phonemes, True, gpcs[0], stress))
    return Split(word, tuple(made), True, None, tuple(unit.phonemes for unit in made))


def plausible_phones(word: str) -> tuple[str, ...]:
    """Every plausible pronunciation of a pseudo-word, likeliest first."""
    bare = letters_of(word)
    return every_reading(values_by_rule(bare, graphemes_by_rule(bare)))
