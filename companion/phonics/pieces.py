"""What an alignment found: graphemes with their letters and phonemes, tidied up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from companion.phonics.gpc import VOWEL_PHONES, Gpc
from companion.phonics.patterns import MISPLACED, Choice, Entry, Phones, index
from companion.phonics.positions import fits


class Piece(NamedTuple):
    """A grapheme found in a word: its letters, southern phonemes and the row that fits, if any.

    ``said`` are the phones that it was aligned with, before they were made southern.
    """

    grapheme: str
    letters: tuple[int, ...]
    phonemes: Phones
    said: Phones
    gpc: Gpc | None
    taught: bool
    stress: int | None = None


class Step(NamedTuple):
    """One step of the search: letters ``[i, stop)`` say phones ``[j, after)``.

    ``e`` is the place of the e of a split digraph, else 0; ``choice`` is missing where letters
    are silent or say something the table does not know.
    """

    i: int
    j: int
    stop: int
    after: int
    e: int
    choice: Choice | None


def assemble(
    word: str, phones: Phones, stress: Sequence[int | None], steps: Sequence[Step]
) -> tuple[Piece, ...]:
    """Turn the steps of the cheapest path into pieces that hold every letter once."""
    pieces = []
    loose = False
    for step in steps:
        choice = step.choice
        if choice is None:
            loose = True
            letters = tuple(range(step.i, step.stop))
            said = phones[step.j : step.after]
            pieces.append(_loose(word[step.i : step.stop], letters, said, stress, step.j))
        else:
            pieces.append(_piece(word, phones, stress, step, choice))
    return _shared_e(word, _joined(pieces) if loose else pieces)


def _piece(
    word: str,
    phones: Phones,
    stress: Sequence[int | None],
    step: Step,
    choice: Choice,
) -> Piece:
    letters = (step.i, step.e) if step.e else tuple(range(step.i, step.stop))
    phonemes = choice.phonemes
    if _links(choice, phones, step.after):
        phonemes = (*phonemes, "R")
    row = choice.row
    placed = choice.anywhere or choice.weak or fits(row.position, word, step.i, step.stop)
    taught = row.place is not None and placed
    strength = None if choice.vowel_at is None else stress[step.j + choice.vowel_at]
    said = phones[step.j : step.after]
    return Piece(choice.grapheme, letters, phonemes, said, row.gpc, taught, strength)


def _loose(
    grapheme: str,
    letters: tuple[int, ...],
    said: Phones,
    stress: Sequence[int | None],
    first_phone: int,
) -> Piece:
    """A piece that no row of the table describes."""
    strengths = [stress[first_phone + n] for n, p in enumerate(said) if p in VOWEL_PHONES]
    strength = strengths[0] if strengths else None
    southern = tuple(
        "AH" if phone == "ER" and stress[first_phone + n] == 0 else phone
        for n, phone in enumerate(said)
    )
    return Piece(grapheme, letters, southern, said, None, False, strength)


def _links(choice: Choice, phones: Phones, after: int) -> bool:
    """An r grapheme before a vowel keeps its r in every accent (story, sharing)."""
    return (
        choice.coloured
        and after < len(phones)
        and phones[after] in VOWEL_PHONES
        and phones[after - 1] in ("R", "ER")
    )


def _joined(pieces: Sequence[Piece]) -> list[Piece]:
    """Give silent letters and unspelt phones to a neighbour, so that no piece is empty."""
    joined: list[Piece] = []
    carried: Piece | None = None
    for piece in pieces:
        current = piece if carried is None else _merge(carried, piece)
        carried = None
        if current.letters and current.phonemes:
            joined.append(current)
        elif joined:
            joined[-1] = _merge(joined[-1], current)
        else:
            carried = current
    if carried is not None:
        joined.append(carried)
    return joined


def _merge(first: Piece, second: Piece) -> Piece:
    letters = tuple(sorted(first.letters + second.letters))
    main = first if first.letters else second
    grapheme = main.grapheme if "-" in main.grapheme else first.grapheme + second.grapheme
    gpc = first.gpc or second.gpc
    strength = second.stress if first.stress is None else first.stress
    phonemes = first.phonemes + second.phonemes
    said = first.said + second.said
    return Piece(grapheme, letters, phonemes, said, gpc, False, strength)


def _shared_e(word: str, pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Name the ge of age and huge, and the ed of saved, whose e a grapheme before them holds."""
    if not any(
        piece.grapheme == "d" or (piece.grapheme == "g" and piece.phonemes == ("JH",))
        for piece in pieces
    ):
        return tuple(pieces)
    held = {x for p in pieces if len(p.letters) > 1 and p.grapheme != "ee" for x in p.letters}
    return tuple(_renamed(word, piece, held) for piece in pieces)


def _renamed(word: str, piece: Piece, held: set[int]) -> Piece:
    after = piece.letters[-1] + 1
    shown = piece.grapheme, piece.phonemes
    if shown == ("g", ("JH",)) and after in held and word[after : after + 1] == "e":
        return piece._replace(grapheme="ge", gpc=Gpc("ge", ("JH",)))
    past = shown == ("d", ("D",)) and after == len(word)
    if past and after - 2 in held and word[after - 2] == "e":
        return piece._replace(grapheme="ed", gpc=Gpc("ed", ("D",)))
    return piece


def share_out(
    word: str,
    graphemes: Sequence[tuple[str, tuple[int, ...]]],
    phones: Phones,
    stress: Sequence[int | None],
    british: bool,
) -> tuple[Piece, ...]:
    """Share the phones of a word out over graphemes that somebody has decided on."""
    best: dict[int, tuple[float, tuple[Piece, ...]]] = {0: (0.0, ())}
    for grapheme, letters in graphemes:
        onward: dict[int, tuple[float, tuple[Piece, ...]]] = {}
        for j, (cost, done) in best.items():
            for after in range(j, min(j + 6, len(phones)) + 1):
                entry = index(british).get(grapheme)
                price, piece = _decided(
                    word, (grapheme, letters, entry), phones, stress, (j, after)
                )
                if after not in onward or cost + price < onward[after][0]:
                    onward[after] = (cost + price, (*done, piece))
        best = onward
    return best.get(len(phones), (0.0, ()))[1]


def _decided(
    word: str,
    decided: tuple[str, tuple[int, ...], Entry | None],
    phones: Phones,
    stress: Sequence[int | None],
    span: tuple[int, int],
) -> tuple[float, Piece]:
    """Cost and piece of one decided grapheme said as ``phones[slice(*span)]``."""
    grapheme, letters, entry = decided
    j, after = span
    best: tuple[float, Choice] | None = None
    for choice in entry.get(phones[j], ()) if entry and j < len(phones) else ():
        if choice.length == after - j and choice.allowed(phones, stress, j):
            placed = choice.anywhere or fits(choice.row.position, word, letters[0], letters[-1] + 1)
            cost = choice.price(stress, j) + (0.0 if placed else MISPLACED)
            if best is None or cost < best[0]:
                best = (cost, choice)
    if best is None:
        said = phones[j:after]
        same = bool(said) and (grapheme[0] in "aeiouy") == (said[0] in VOWEL_PHONES)
        cost = 3.0 + 2.0 * abs(len(said) - 1) + (0.0 if same else 2.0)
        return cost, _loose(grapheme, letters, said, stress, j)
    cost, choice = best
    phonemes = (*choice.phonemes, "R") if _links(choice, phones, after) else choice.phonemes
    taught = choice.row.place is not None
    strength = None if choice.vowel_at is None else stress[j + choice.vowel_at]
    said = phones[j:after]
    return cost, Piece(grapheme, letters, phonemes, said, choice.row.gpc, taught, strength)
