"""Words into graphemes: p · i-e · n, with what is regular and what is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from companion.phonics import lexicon
from companion.phonics.align import align
from companion.phonics.assemble import share_out
from companion.phonics.british import britished
from companion.phonics.exceptions import exception_words, places_of
from companion.phonics.gpc import PHONES, VOWEL_PHONES, Table, use
from companion.phonics.letters import WordError, letters_of
from companion.phonics.patterns import graphemes_at, index
from companion.phonics.rules import every_reading, graphemes_by_rule, values_by_rule
from companion.phonics.units import Split, Unit

__all__ = [
    "Split",
    "Unit",
    "WordError",
    "by_graphemes",
    "letters_of",
    "plausible_phones",
    "split",
    "use_table",
    "variants",
]


_PLAIN = {phone + digit: phone for phone in PHONES for digit in ("", "0", "1", "2")}
_STRESS = {phone: int(phone[-1]) if phone[-1].isdigit() else None for phone in _PLAIN}


def use_table(own: Table | None) -> None:
    """Split by a school's own table from now on; ``None`` goes back to the bundled one."""
    use(own)
    for kept in (index, graphemes_at, _known):
        kept.cache_clear()


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


@lru_cache(maxsize=20_000)
def _known(word: str) -> tuple[Split, ...]:
    readings = [said for said in lexicon.said(word.lower().replace("’", "'")) if said.reading]
    splits = [_from_said(word, letters_of(word), said) for said in readings]
    found = [s for s in splits if s is not None]
    return tuple(found) if len(found) < 2 else tuple({s.units: s for s in found}.values())


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
    return _finish(word, bare, phones, best, british=british) if best else None


def _parts(phones: Sequence[str]) -> tuple[list[str], list[int | None]]:
    plain = [_PLAIN[phone] for phone in phones]
    stress = [_STRESS[phone] for phone in phones]
    return plain, stress


def _spread(bare: str, phones: tuple[str, ...]) -> tuple[str, ...]:
    """Write ER before a vowel as AH R where rr spells it (hurry) or stress follows (around)."""
    for n, phone in enumerate(phones[:-1]):
        following = phones[n + 1]
        if (
            phone[:2] == "ER"
            and _PLAIN[following] in VOWEL_PHONES
            and ("rr" in bare or (phone == "ER0" and following[-1] == "1"))
        ):
            spread = (*phones[:n], "AH" + phone[2:], "R", *phones[n + 1 :])
            found = align(bare, *_parts(spread))
            if found and all(unit.listed for unit in found):
                return spread
    return phones


def _stemmed(bare: str, phones: tuple[str, ...]) -> tuple[Unit, ...]:
    """Split riding and rider as ride with an ending, keeping the stem's split digraph."""
    if bare in lexicon.whole_words():
        return ()
    for ending in ("ings", "ing", "ers", "er", "est"):
        if not bare.endswith(ending) or len(bare) - len(ending) < 2:
            continue
        stem = bare[: -len(ending)] + "e"
        if stem in lexicon.names():
            continue
        for said in lexicon.said_exactly(stem):
            plain, stress = _parts(phones)
            own, _ = _parts(said.phones)
            while own and own[-1] == "ER" and plain[: len(own)] != own:
                own = own[:-1]
            if not own or plain[: len(own)] != own or len(plain) == len(own):
                continue
            head = align(stem, plain[: len(own)], stress[: len(own)])
            if not head or not any(_holds(unit, len(stem) - 1) for unit in head):
                continue
            tail = align(ending, plain[len(own) :], stress[len(own) :])
            if tail and all(unit.listed for unit in tail):
                return _attach(head, tail, len(stem) - 1)
    return ()


def _holds(unit: Unit, last: int) -> bool:
    joined = "-" in unit.grapheme or unit.grapheme in ("are", "ore", "ire", "ure")
    return joined and last in unit.letters


def _attach(head: tuple[Unit, ...], tail: tuple[Unit, ...], cut: int) -> tuple[Unit, ...]:
    shared = tail[0].grapheme.startswith("e")
    first = [
        unit if shared else replace(unit, letters=tuple(x for x in unit.letters if x < cut))
        for unit in head
    ]
    if first[-1].grapheme[-2:] == "re" and first[-1].phonemes[-1] != "R":
        first[-1] = replace(first[-1], phonemes=(*first[-1].phonemes, "R"))
    rest = [
        replace(unit, letters=tuple(x + cut for x in unit.letters if not (shared and x == 0)))
        for unit in tail
    ]
    if any(not unit.letters for unit in rest):
        return ()
    return tuple(first + rest)


def _finish(
    word: str,
    bare: str,
    phones: Sequence[str],
    units: tuple[Unit, ...],
    *,
    british: bool,
    decided: bool = False,
) -> Split:
    marked = None if decided else exception_words().get(bare)
    if marked is not None:
        units = _regroup(bare, phones, marked.graphemes, british=british) or units
        odd = marked.odd_letters
        units = tuple(
            unit if odd.isdisjoint(unit.letters) else replace(unit, decodable=False)
            for unit in units
        )
    for n in (-1, -2):
        last = units[max(n, -len(units))]
        if last.stress == 2 and last.phonemes == ("IY",) and last.grapheme in ("y", "ey", "ie"):
            units = tuple(replace(u, stress=0) if u is last else u for u in units)
    if not word.isalpha():
        places = _letter_places(word)
        units = tuple(replace(u, letters=tuple(places[x] for x in u.letters)) for u in units)
    part = _exception_part(word, units)
    return Split(word, units, part is None, part)


def _letter_places(word: str) -> list[int]:
    return [n for n, letter in enumerate(word) if letter.isalpha()]


def _exception_part(word: str, units: Sequence[Unit]) -> str | None:
    if all(unit.decodable for unit in units):
        return None
    odd = sorted(x for unit in units if not unit.decodable for x in unit.letters)
    stretches = [word[odd[0]]]
    for before, here in pairwise(odd):
        if here == before + 1:
            stretches[-1] += word[here]
        else:
            stretches.append(word[here])
    return "…".join(stretches)


def _regroup(
    bare: str, phones: Sequence[str], graphemes: Sequence[str], *, british: bool
) -> tuple[Unit, ...]:
    """Split by graphemes that somebody has decided on; empty if they do not spell the word."""
    letters = places_of(bare, graphemes)
    if letters is None:
        return ()
    plain, stress = _parts(phones)
    decided = tuple(zip(graphemes, letters, strict=True))
    units = share_out(bare, decided, tuple(plain), stress, british)
    return units if all(unit.phonemes for unit in units) else ()


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
    if not any(unit.listed for unit in best):
        raise WordError(
            f"{word!r} cannot be said {phones!r}",
            "none of its letters matches a GPC of the table",
            "Check the spelling and the phones, or add the GPC to the table",
        )
    return _finish(word, bare, marked, best, british=british)


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
    units = _regroup(bare, marked, graphemes, british=True)
    if not units:
        raise WordError(
            f"{' · '.join(graphemes)} does not spell {word!r}",
            "each letter of the word must be used once, in order",
            "Write the graphemes with spaces between, like 'p i-e n'",
        )
    return _finish(word, bare, marked, units, british=True, decided=True)


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
    places = _letter_places(word)
    strong = 1
    made = []
    for (grapheme, letters), gpcs in zip(units, values, strict=True):
        vowel = any(phone in VOWEL_PHONES for phone in gpcs[0].phonemes)
        stress, strong = (strong, 0) if vowel else (None, strong)
        at = tuple(places[x] for x in letters)
        said = gpcs[0].phonemes
        made.append(Unit(grapheme, at, said, True, gpcs[0], stress, said))
    return Split(word, tuple(made), True, None)


def plausible_phones(word: str) -> tuple[str, ...]:
    """Every plausible pronunciation of a pseudo-word, likeliest first."""
    bare = letters_of(word)
    return every_reading(values_by_rule(bare, graphemes_by_rule(bare)))
