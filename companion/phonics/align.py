"""Letters against phones: the cheapest way to spell a pronunciation with the GPC table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from companion.phonics.gpc import VOWEL_PHONES, Gpc, Row, Table, table

VOWELS = frozenset("aeiou")
CONSONANTS = frozenset("bcdfghjklmnpqrstvwxyz")

# Costs order the ways to spell a word; only their order matters. A taught GPC beats one that is
# not, one grapheme beats two, a joined split digraph beats an open vowel with a silent e.
_TAUGHT, _BEYOND, _SPLIT = 1.0, 2.2, 0.75
_RANK, _WEAK, _MISPLACED, _AMERICAN_COST, _UNSTRESSED = 0.1, 0.25, 1.5, 0.4, 0.6
_SILENT, _SAME_CLASS, _OTHER_CLASS, _NO_LETTER = 5.0, 4.0, 7.0, 4.5

_R_COLOURED: dict[tuple[str, ...], tuple[tuple[str, ...], ...]] = {
    ("AA",): (("AA", "R"),),
    ("AO",): (("AO", "R"), ("UH", "R"), ("OW", "R")),
    ("ER",): (("ER",),),
    ("AH",): (("ER",), ("AH", "R")),
    ("EH", "AH"): (("EH", "R"), ("AE", "R"), ("EH", "AH", "R"), ("EH",)),
    ("IH", "AH"): (("IH", "R"), ("IY", "R"), ("IY", "ER"), ("IH", "AH", "R"), ("IY", "AH")),
    ("UH", "AH"): (("UH", "R"), ("UH", "AH", "R")),
    ("Y", "UH", "AH"): (("Y", "UH", "R"), ("Y", "ER"), ("Y", "UH", "AH", "R")),
    ("AY", "AH"): (("AY", "ER"), ("AY", "R"), ("AY", "AH", "R")),
    ("AW", "AH"): (("AW", "ER"), ("AW", "R"), ("AW", "AH", "R")),
}
"""Southern value of a grapheme with r to the same vowel where r is kept."""

_AMERICAN: dict[tuple[str, tuple[str, ...]], tuple[tuple[str, ...], ...]] = {
    ("o", ("AA",)): (("AO",),),
    ("a", ("AA",)): (("AO",),),
    ("a", ("AO",)): (("AA",),),
    ("al", ("AO",)): (("AA",),),
    ("au", ("AO",)): (("AA",),),
    ("au", ("AA",)): (("AE",), ("AO",)),
    ("aw", ("AO",)): (("AA",),),
    ("augh", ("AO",)): (("AA",),),
    ("ough", ("AO",)): (("AA",),),
    ("ou", ("AA",)): (("AO",),),
    ("al", ("AA",)): (("AE",),),
    ("u", ("Y", "UW")): (("Y", "UH"), ("Y", "AH"), ("Y", "IH")),
    ("wh", ("W",)): (("HH", "W"),),
}
"""Other phones the American dictionary writes for a value."""

_WEAK_PHONES = ("AH", "IH")
_WEAK_R = frozenset({"ar", "or", "ur"})


@dataclass(frozen=True, slots=True)
class Choice:
    """One row matched to one phone pattern, ready for the search."""

    row: Row
    pattern: tuple[str, ...]
    phonemes: tuple[str, ...]
    cost: float
    weak: bool = False
    yod: bool = False
    strong: bool = False
    before_r: bool = False
    american: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """A grapheme found in a word: its letters, southern phonemes and the row that fits, if any."""

    grapheme: str
    letters: tuple[int, ...]
    phonemes: tuple[str, ...]
    first_phone: int
    gpc: Gpc | None
    taught: bool
    weak: bool = False


def _choices(row: Row) -> list[Choice]:
    grapheme, phonemes = row.gpc.grapheme, row.gpc.phonemes
    base = _SPLIT if "-" in grapheme else _TAUGHT
    cost = (base if row.place is not None else _BEYOND) + _RANK * (row.reading - 1)
    found = [Choice(row, phonemes, phonemes, cost, strong=phonemes == ("ER",))]
    if "r" in grapheme and phonemes[-1] in VOWEL_PHONES:
        weak = phonemes == ("AH",)
        for pattern in _R_COLOURED.get(phonemes, ()):
            strong = pattern == ("ER",) and not weak
            found.append(Choice(row, pattern, phonemes, cost, weak=weak, strong=strong))
    for pattern in _AMERICAN.get((grapheme, phonemes), ()):
        found.append(Choice(row, pattern, phonemes, cost + _AMERICAN_COST, american=True))
    if grapheme == "a" and phonemes == ("AE",):
        found.append(Choice(row, ("EH",), phonemes, cost + _UNSTRESSED, before_r=True))
    if phonemes == ("Y", "UW"):
        found.append(Choice(row, ("UW",), phonemes, cost - 0.3, yod=True))
    if row.reading == 1 and grapheme in ("a", "e", "i", "o", "u"):
        for phone in _WEAK_PHONES:
            if (phone,) != phonemes:
                found.append(Choice(row, (phone,), (phone,), cost + _WEAK, weak=True))
    if row.reading == 1 and grapheme in _WEAK_R:
        for pattern in (("ER",), ("AH",), ("AH", "R")):
            found.append(Choice(row, pattern, ("AH",), cost + _WEAK, weak=True))
    return found


Index = dict[str, dict[tuple[str, ...], list[Choice]]]


@lru_cache(maxsize=None)
def _index(british: bool = False) -> Index:
    index: Index = {}
    for row in table().rows:
        for choice in _choices(row):
            if choice.american and british:
                choice = replace(choice, cost=choice.cost + _MISPLACED)
            index.setdefault(row.gpc.grapheme, {}).setdefault(choice.pattern, []).append(choice)
    return index


_END = frozenset({"", "s", "d", "r", "rs", "st", "ly", "less", "ful", "ness", "ment", "n"})


@lru_cache(maxsize=50_000)
def fits(position: str, word: str, start: int, stop: int) -> bool:
    """Whether a grapheme at ``word[start:stop]`` stands where the table's rule lets it.

    ``open`` means that the vowel ends its syllable: nothing, another vowel letter, or one
    consonant and a vowel letter follow.
    """
    if position == "any":
        return True
    return any(_fits_one(rule, word, start, stop) for rule in position.split(" or "))


def _fits_one(rule: str, word: str, start: int, stop: int) -> bool:
    after = word[stop:]
    if rule == "start":
        return start == 0
    if rule == "end":
        return after in _END
    if rule == "not start":
        return start > 0
    if rule == "not end":
        return after not in _END
    if rule == "open":
        return _open(after)
    name, *parts = rule.split()
    if name == "before":
        return after.startswith(tuple(parts))
    return word[:start].endswith(tuple(parts))


def _open(after: str) -> bool:
    if not after or after[0] in VOWELS or after == "s":
        return True
    if after[0] not in CONSONANTS:
        return False
    rest = after[1:]
    blend = rest[:1] in ("l", "r") and after[0] in "bcdfgkpt"
    digraph = after[:2] in ("ch", "sh", "th", "ph")
    tail = rest[1:] if blend or digraph else rest
    return bool(tail) and (tail[0] in VOWELS or (tail[0] == "y"))


_TUCKED = ("st", "ng", "th", "ch", "gu", "qu", "tch")


def _split_stops(word: str, start: int) -> list[int]:
    """Places of the e that can pair with the vowel letter at `start`."""
    stops = []
    for inside in (1, 2):
        at = start + 1 + inside
        if at < len(word) and word[at] == "e":
            tucked = word[start + 1 : at]
            if (inside == 1 and tucked in CONSONANTS and tucked not in "wxy") or (
                inside > 1 and tucked in _TUCKED
            ):
                stops.append(at)
    return stops


Key = tuple[int, int, int]  # letters used, phones used, place of a split digraph's waiting e
Step = tuple[float, Key | None, Choice | None]


def align(
    word: str,
    phones: Sequence[str],
    stress: Sequence[int | None],
    *,
    british: bool = False,
) -> tuple[Piece, ...]:
    """The cheapest spelling of `phones` by the letters of `word`.

    Parameters
    ----------
    word : str
        Small letters a to z only.
    phones : sequence of str
        ARPAbet without stress digits, with or without r after vowels.
    stress : sequence of int or None
        Stress digit of each phone; ``None`` where unknown or for consonants.
    british : bool
        Whether the phones are southern already, so that American values cost more.

    Returns
    -------
    tuple of Piece
        In reading order, every letter in exactly one piece. First the table alone is tried; if
        it cannot spell the phones, letters may be silent and phones unspelt, at a cost.
    """
    for loose in (False, True):
        index = _index(british)
        path = _search(word, tuple(phones), tuple(stress), index, loose=loose)
        if path:
            return _pieces(word, tuple(phones), path)
    return ()


def _search(
    word: str,
    phones: tuple[str, ...],
    stress: tuple[int | None, ...],
    index: Index,
    *,
    loose: bool,
) -> list[tuple[Key, Key, Choice | None]]:
    n, m = len(word), len(phones)
    levels: list[dict[Key, Step]] = [{} for _ in range(n + 1)]
    levels[0][(0, 0, 0)] = (0.0, None, None)

    def offer(key: Key, cost: float, origin: Key, choice: Choice | None) -> None:
        old = levels[key[0]].get(key)
        if old is None or cost < old[0]:
            levels[key[0]][key] = (cost, origin, choice)

    for i in range(n + 1):
        if loose:
            _unspelt(levels[i], i, m)
        if i == n:
            break
        stops = _split_stops(word, i) if word[i] in VOWELS or word[i] == "y" else []
        for key, (cost, _, _) in list(levels[i].items()):
            _, j, waiting = key
            if waiting == i and i:
                offer((i + 1, j, 0), cost, key, None)
                continue
            limit = (waiting or n) - i
            for length in range(1, min(4, limit) + 1):
                by_pattern = index.get(word[i : i + length])
                if by_pattern:
                    stop = i + length
                    for choice, after in _matches(by_pattern, phones, stress, j):
                        price = cost + choice.cost
                        if not fits(choice.row.position, word, i, stop):
                            if choice.row.kind == "ending":
                                continue
                            price += _MISPLACED
                        offer((stop, after, waiting), price, key, choice)
            if not waiting:
                for e in stops:
                    by_pattern = index.get(word[i] + "-e", {})
                    for choice, after in _matches(by_pattern, phones, stress, j):
                        offer((i + 1, after, e), cost + choice.cost, key, choice)
            for choice, after, extra in _endings(word, phones, i, j, index):
                offer((n, after, 0), cost + extra, key, choice)
            if loose:
                offer((i + 1, j, waiting), cost + _SILENT, key, None)
                if j < m:
                    same = (word[i] in VOWELS) == (phones[j] in VOWEL_PHONES)
                    step = _SAME_CLASS if same else _OTHER_CLASS
                    offer((i + 1, j + 1, waiting), cost + step, key, None)
    return _trace(levels, (n, m, 0))


def _matches(
    by_pattern: dict[tuple[str, ...], list[Choice]],
    phones: tuple[str, ...],
    stress: tuple[int | None, ...],
    j: int,
) -> list[tuple[Choice, int]]:
    found = []
    for length in (1, 2, 3):
        if j + length > len(phones):
            break
        for choice in by_pattern.get(phones[j : j + length], ()):
            if choice.weak and stress[j]:
                continue
            if choice.yod and (j == 0 or phones[j - 1] not in ("T", "D", "N")):
                continue
            if choice.before_r and phones[j + 1 : j + 2] != ("R",):
                continue
            if choice.strong and stress[j] == 0:
                choice = replace(choice, cost=choice.cost + _UNSTRESSED)
            found.append((choice, j + length))
    return found


def fit_one(
    word: str,
    grapheme: str,
    letters: tuple[int, ...],
    phones: tuple[str, ...],
    stress: tuple[int | None, ...],
    span: tuple[int, int],
) -> tuple[float, Piece]:
    """Cost and piece of a grapheme somebody has decided on, said as ``phones[slice(*span)]``."""
    j, after = span
    best: tuple[float, Choice] | None = None
    for choice, end in _matches(_index().get(grapheme, {}), phones, stress, j):
        placed = "-" in grapheme or fits(choice.row.position, word, letters[0], letters[-1] + 1)
        cost = choice.cost + (0.0 if placed else _MISPLACED)
        if end == after and (best is None or cost < best[0]):
            best = (cost, choice)
    if best is None:
        spoken = phones[j:after]
        same = bool(spoken) and (grapheme[0] in "aeiouy") == (spoken[0] in VOWEL_PHONES)
        cost = 3.0 + 2.0 * abs(len(spoken) - 1) + (0.0 if same else 2.0)
        return cost, Piece(grapheme, letters, spoken, j, None, False)
    cost, choice = best
    tail = ("R",) if _links(choice, phones, j, after) else ()
    taught = choice.row.place is not None
    phonemes = (*choice.phonemes, *tail)
    return cost, Piece(grapheme, letters, phonemes, j, choice.row.gpc, taught, choice.weak)


def _endings(
    word: str, phones: tuple[str, ...], i: int, j: int, index: Index
) -> list[tuple[Choice, int, float]]:
    """Endings whose e is shared with a grapheme before them: hope·d, race·s, ride·r."""
    if i < 2 or word[i - 1] != "e" or i + 1 != len(word):
        return []
    rest = phones[j:]
    found = []
    for letter, grapheme, pattern in (
        ("d", "ed", ("T",)),
        ("d", "ed", ("D",)),
        ("s", "es", ("IH", "Z")),
        ("r", "er", ("ER",)),
        ("r", "er", ("AH",)),
    ):
        if word[i] == letter and rest in (
            pattern,
            tuple("AH" if p == "IH" else p for p in pattern),
        ):
            for choices in index.get(grapheme, {}).values():
                found += [
                    (choice, len(phones), choice.cost + _WEAK)
                    for choice in choices
                    if choice.pattern == pattern
                ]
    return found


def _unspelt(level: dict[Key, Step], i: int, m: int) -> None:
    """Let phones stand that no letter spells."""
    for j in range(m):
        for key, (cost, _, _) in list(level.items()):
            if key[1] == j:
                onward = (i, j + 1, key[2])
                old = level.get(onward)
                if old is None or cost + _NO_LETTER < old[0]:
                    level[onward] = (cost + _NO_LETTER, key, None)


def _trace(levels: list[dict[Key, Step]], last: Key) -> list[tuple[Key, Key, Choice | None]]:
    if last not in levels[-1]:
        return []
    path = []
    key = last
    while True:
        _, origin, choice = levels[key[0]][key]
        if origin is None:
            break
        path.append((origin, key, choice))
        key = origin
    return path[::-1]


def _pieces(
    word: str, phones: tuple[str, ...], path: list[tuple[Key, Key, Choice | None]]
) -> tuple[Piece, ...]:
    pieces: list[Piece] = []
    for (i, j, waiting), (stop, after, e), choice in path:
        if choice is None:
            if waiting == i and i and stop == i + 1:
                continue
            pieces.append(
                Piece(word[i:stop], tuple(range(i, stop)), phones[j:after], j, None, False)
            )
            continue
        letters = tuple(range(i, stop)) if waiting == e or not e else (i, e)
        phonemes = choice.phonemes
        if _links(choice, phones, j, after):
            phonemes = (*phonemes, "R")
        placed = fits(choice.row.position, word, i, stop) or "-" in choice.row.gpc.grapheme
        taught = choice.row.place is not None and (placed or choice.weak)
        pieces.append(
            Piece(
                choice.row.gpc.grapheme, letters, phonemes, j, choice.row.gpc, taught, choice.weak
            )
        )
    return _share_ge(word, _join_loose(pieces))


def _links(choice: Choice, phones: tuple[str, ...], j: int, after: int) -> bool:
    """An r grapheme before a vowel keeps its r in every accent (story, sharing)."""
    coloured = phones[after - 1] in ("R", "ER") and choice.phonemes[-1] != "R"
    return (
        coloured
        and "r" in choice.row.gpc.grapheme
        and after < len(phones)
        and phones[after] in VOWEL_PHONES
    )


def _join_loose(pieces: list[Piece]) -> list[Piece]:
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
    if carried is not None and not joined:
        joined.append(carried)
    return joined


def _merge(first: Piece, second: Piece) -> Piece:
    letters = tuple(sorted(first.letters + second.letters))
    main = first if first.letters else second
    grapheme = main.grapheme if "-" in main.grapheme else first.grapheme + second.grapheme
    start = min(first.first_phone, second.first_phone)
    gpc = first.gpc or second.gpc
    return Piece(grapheme, letters, first.phonemes + second.phonemes, start, gpc, False)


def _share_ge(word: str, pieces: list[Piece]) -> tuple[Piece, ...]:
    """Name the ge of age and huge, and the ed of saved, whose e a grapheme before them holds."""
    held = {
        letter for p in pieces if len(p.letters) > 1 and p.grapheme != "ee" for letter in p.letters
    }
    out = []
    for piece in pieces:
        after = piece.letters[-1] + 1
        if (
            piece.grapheme == "g"
            and piece.phonemes == ("JH",)
            and after in held
            and word[after] == "e"
        ):
            gpc = Gpc("ge", ("JH",))
            piece = Piece("ge", piece.letters, piece.phonemes, piece.first_phone, gpc, piece.taught)
        elif (
            piece.grapheme == "d"
            and piece.phonemes == ("D",)
            and after == len(word)
            and after - 2 in held
            and word[after - 2] == "e"
        ):
            gpc = Gpc("ed", ("D",))
            piece = Piece("ed", piece.letters, piece.phonemes, piece.first_phone, gpc, piece.taught)
        out.append(piece)
    return tuple(out)
