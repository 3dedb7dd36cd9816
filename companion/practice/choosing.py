"""Choosing the words of a sitting. Pure: the same history, teaching, day and seed choose the same.

The rule stands in `WHY`, for a parent. Repetition: spaced practice keeps better than massed,
though it looks worse while practising (28 first graders, letter sounds: 72% against 38% later,
56% against 74% meanwhile; abstract seen, authors not shown); widening waits keep as well as even
ones and are read with more success meanwhile (Kang and others, 2014; abstract seen). Four known
words of five: common practice, no source.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from random import Random

from rapidfuzz.distance import Levenshtein

from companion.phonics.candidates import Candidate, candidates, forms_of_one, misread_kindly
from companion.phonics.decodable import Splitter
from companion.phonics.gpc import Gpc
from companion.practice import contrast
from companion.practice.due import Standing
from companion.practice.needs import Need, known, meant, needs
from companion.practice.teaching import Teaching
from companion.record.turns import KeptTurn

WHY = (
    "The teacher's words come first, where the class has a list. Beside them come sounds that are "
    "due: a sound comes back after about 1, 2, 4, 7 and 14 days, and the next day if it slipped. "
    "Today's sound, or one that slipped again, may come with a look-alike (pin and pine), so that "
    "the child sees and hears what differs. A sound of which this week's readings do not yet say "
    "enough comes in further words: it takes eight readings, in four words, on three days. About "
    "four words of five hold only sounds that your child reads already, so that a sitting goes "
    "well. The same word seldom comes twice in a week: a sound is known when it is read in many "
    "words on several days, not in one word many times. Spaced like this, practice can look worse "
    "on the day, and lasts longer."
)
"""The rule, for a parent."""

WHY_WORDS = {
    "list": "from the teacher's list",
    "today": "has today's sound",
    "due": "a sound that is due again",
    "sure": "a sound not yet read often enough this week to be sure of",
    "slip": "a sound that slipped lately",
    "contrast": "a look-alike, to show what differs",
    "unheard": "a sound not heard here yet",
    "known": "sounds your child reads already",
    "exception": "an exception word",
}
"""Why a word was chosen, in words for a parent."""

REVISITED = ("due", "slip", "unheard")
"""What a word to revisit is for."""

PAIRS_MOST, PAIR_WORDS = 1, 2
"""Contrast pairs in a sitting, and words in each."""

TODAY_LEAST = 2
"""Words with today's GPC that every sitting has, where the teacher's list is not there."""

LIKELY_KINDS = ("short_for_split", "one_letter_of_digraph")
"""Slips that today's GPC is contrasted for before any was heard: on digraphs, beginners mostly
read one letter ('A phonological exploration of oral reading errors', Applied Psycholinguistics,
1980s; abstract seen, author and year not)."""

LATELY_DAYS = 7
"""Days in which a word that was read before is rather not read again."""

BAND, UNIT, AGAIN, ALSO, STRANGE = 0.5, 0.25, 2.0, 0.3, 2.0
"""Weights of a choice: against less known words, longer ones and, most, those read lately; for
each further GPC that is wanted; against a second sound that is not known. Our own; see
`tests/simulate_choosing.py`."""


@dataclass(frozen=True)
class Shown:
    """A word of a sitting.

    Attributes
    ----------
    word : str
        As it is shown.
    why : str
        One of `WHY_WORDS`.
    gpc : Gpc or None
        The GPC it was chosen for.
    pseudo : bool
        Whether it is made up.
    """

    word: str
    why: str
    gpc: Gpc | None = None
    pseudo: bool = False


@dataclass(frozen=True)
class Chosen:
    """The words chosen, the most wanted first, and the contrast pairs among them."""

    words: tuple[Shown, ...]
    pairs: tuple[tuple[str, str], ...]


def choose(
    teaching: Teaching,
    standings: Mapping[str, Standing],
    history: Sequence[KeptTurn],
    day: date,
    rng: Random,
    count: int,
    revisit: int,
    new_most: int,
    given: Sequence[Shown] = (),
) -> Chosen:
    """Choose `count` words beside those `given`.

    Parameters
    ----------
    teaching : Teaching
        What has been taught; every word chosen is decodable by it.
    standings : dict of str to Standing
        As `companion.practice.due.gpc_standings` makes them.
    history : sequence of KeptTurn
        For which words were read lately.
    day : date
        The sitting's.
    rng : Random
        Where chance comes from.
    count : int
        Words wanted; fewer come back where no more are decodable.
    revisit : int
        How many of them are for sounds that are due, before any other is chosen.
    new_most : int
        Most words that hold a GPC not yet known; more are chosen only where no word is left that
        holds none.
    given : sequence of Shown
        Words already in the sitting, not to be chosen again.
    """
    wanted = needs(teaching, standings, day, new_most)
    sure = known(teaching, standings)
    draft = _Draft(
        teaching,
        sure,
        [wanted.get(gpc, _UNWANTED) for gpc in teaching.gpcs],
        [gpc not in sure for gpc in teaching.gpcs],
        _times_read(history, day),
        rng,
        count,
        new_most,
        given=[each.word.lower() for each in given],
    )
    for each in given:
        if each.gpc in teaching.gpcs:
            draft.left[teaching.gpcs.index(each.gpc)] -= 1
    _add_todays(draft, given)
    _add_pairs(draft, standings)
    _add_due(draft, revisit)
    # what was read today comes again, and more new sounds at once, only where nothing else is left
    for again, new in ((False, False), (True, False), (False, True), (True, True)):
        _fill(draft, draft.count, again=again, new=new)
    return Chosen(tuple(draft.chosen), tuple(draft.pairs))


_UNWANTED = Need(0.0, 0, "known")


@dataclass(frozen=True, slots=True)
class _Word:
    """A word of the pool; ``places`` are those of its GPCs in `Teaching.gpcs`, each once."""

    known: Candidate
    small: str
    places: tuple[int, ...]


@dataclass
class _Draft:
    """A choice while it is being made; needs, strange and left are by place in the teaching."""

    teaching: Teaching
    sure: frozenset[Gpc]
    needs: list[Need]
    strange: list[bool]
    read: tuple[Counter[str], frozenset[str]]
    rng: Random
    count: int
    new_left: int
    given: list[str]
    chosen: list[Shown] = field(default_factory=list)
    picked: list[_Word] = field(default_factory=list)
    pairs: list[tuple[str, str]] = field(default_factory=list)
    left: list[int] = field(init=False)
    weights: list[float] = field(init=False)

    def __post_init__(self) -> None:
        self.weights = [need.weight for need in self.needs]
        self.left = [need.words for need in self.needs]

    def unknown(self, word: _Word) -> int:
        """How many of a word's GPCs are not known."""
        return sum(self.strange[place] for place in word.places)

    def take(self, word: _Word, why: str, gpc: Gpc | None) -> None:
        self.chosen.append(Shown(word.known.word, why, gpc))
        self.picked.append(word)
        self.new_left -= bool(self.unknown(word))
        for place in word.places:
            self.left[place] -= 1

    def fits(self, word: _Word, *, again: bool) -> bool:
        """Whether a word may be chosen beside those there are."""
        if word.small in self.read[1] and not again:
            return False
        return (
            not any(forms_of_one(word.small, other) for other in self.given)
            and not any(
                forms_of_one(word.small, other.small)
                or word.known.split.phones == other.known.split.phones
                for other in self.picked
            )
            and misread_kindly(word.known.word)
        )

    def worth(self, word: _Word) -> float:
        """How much a word serves what is wanted, less what speaks against it."""
        best = others = 0.0
        strange = -1
        for place in word.places:
            strange += self.strange[place]
            if self.left[place] > 0:
                weight = self.weights[place]
                others += weight
                if weight > best:
                    best = weight
        return (
            best
            + ALSO * (others - best)
            - BAND * word.known.band
            - UNIT * len(word.known.split.units)
            - AGAIN * self.read[0][word.small]
            - STRANGE * max(strange, 0)
        )

    def served(self, word: _Word) -> tuple[str, Gpc | None]:
        """Why a word is worth choosing, and the GPC that it serves most."""
        wanted = [n for n in word.places if self.left[n] > 0 and self.weights[n] > 0]
        best = max(wanted, key=lambda place: self.weights[place], default=None)
        return ("known", None) if best is None else (self.needs[best].why, self.teaching.gpcs[best])


def pool(teaching: Teaching) -> tuple[Candidate, ...]:
    """Every known word that may be chosen for what has been taught, exception words left out."""
    return tuple(word.known for word in _pool_of(teaching))


def _pool_of(teaching: Teaching) -> tuple[_Word, ...]:
    return _pool(teaching.gpcs, teaching.sight, teaching.splitter)


@lru_cache(maxsize=64)
def _pool(gpcs: tuple[Gpc, ...], sight: frozenset[str], splitter: Splitter) -> tuple[_Word, ...]:
    places = {gpc: place for place, gpc in enumerate(gpcs)}
    return tuple(
        _Word(word, word.word.lower(), tuple(places[gpc] for gpc in dict.fromkeys(word.split.gpcs)))
        for word in candidates(splitter)
        if word.gpcs <= places.keys() and word.word.lower() not in sight
    )


def _times_read(history: Iterable[KeptTurn], day: date) -> tuple[Counter[str], frozenset[str]]:
    """How often each word was read lately, and the words read on the day itself."""
    first = day - timedelta(days=LATELY_DAYS)
    lately: Counter[str] = Counter()
    today = set()
    for each in history:
        if first < each.day <= day:
            lately[each.turn.word.lower()] += 1
            if each.day == day:
                today.add(each.turn.word.lower())
    return lately, frozenset(today)


def _add_todays(draft: _Draft, given: Sequence[Shown]) -> None:
    """A few words with today's GPC, whatever else is wanted."""
    today = draft.teaching.today
    most = min(TODAY_LEAST - sum(each.gpc in today for each in given), draft.count)
    words = [word for word in _pool_of(draft.teaching) if not word.known.gpcs.isdisjoint(today)]
    chance = {word.small: draft.rng.random() for word in words}
    while len(draft.chosen) < most:
        fit = [
            word
            for word in words
            if (draft.new_left > 0 or not draft.unknown(word)) and draft.fits(word, again=False)
        ]
        if not fit:
            return
        best = max(fit, key=lambda word: draft.worth(word) + chance[word.small])
        draft.take(best, "today", next(gpc for gpc in today if gpc in best.known.gpcs))


def _add_pairs(draft: _Draft, standings: Mapping[str, Standing]) -> None:
    """Contrast pairs: for the GPCs most in need that have a live slip, then one for today's."""
    wanted = []
    for gpc, need, left in zip(draft.teaching.gpcs, draft.needs, draft.left, strict=True):
        standing = standings.get(str(gpc))
        if standing is not None and meant(gpc, standing, draft.sure):
            wanted.append((need.weight, gpc, standing.live, "slip"))
        elif gpc in draft.teaching.today and len(gpc.grapheme) > 1 and left > 0:
            wanted.append((0.0, gpc, LIKELY_KINDS, "today"))
    for _, gpc, kinds, why in sorted(wanted, key=lambda each: -each[0]):
        if len(draft.pairs) >= PAIRS_MOST or draft.count - len(draft.chosen) < PAIR_WORDS:
            return
        pair = _pair(draft, gpc, kinds)
        if pair is not None:
            draft.take(pair[0], why, gpc)
            draft.take(pair[1], "contrast", gpc)
            draft.pairs.append((pair[1].known.word, pair[0].known.word))


def _pair(draft: _Draft, gpc: Gpc, kinds: Sequence[str]) -> tuple[_Word, _Word] | None:
    """The pair for a live slip whose spellings are nearest and that was not read lately."""
    by_word = {each.known.word: each for each in _pool_of(draft.teaching)}
    lately = draft.read[0]
    for kind in kinds:
        found = []
        for pair in contrast.pairs(gpc, kind, draft.teaching.splitter):
            distance = Levenshtein.distance(pair[0].word, pair[1].word) + draft.rng.random()
            if all(each.word in by_word for each in pair):
                word, other = (by_word[each.word] for each in pair)
                distance += BAND * (word.known.band + other.known.band)
                distance += AGAIN * (lately[word.small] + lately[other.small])
                found.append((distance, word, other))
        for _, word, other in sorted(found, key=lambda each: each[0]):
            new = bool(draft.unknown(word)) + bool(draft.unknown(other))
            fit = draft.fits(word, again=False) and draft.fits(other, again=False)
            if fit and new <= draft.new_left and not forms_of_one(word.small, other.small):
                return word, other
    return None


def _add_due(draft: _Draft, revisit: int) -> None:
    """Words for sounds that are due, the pair for a slip counted among them."""
    pairs = sum(each.why in ("slip", "contrast") for each in draft.chosen)
    draft.weights = [need.weight if need.why in REVISITED else 0.0 for need in draft.needs]
    _fill(draft, len(draft.chosen) + max(revisit - pairs, 0), again=False, new=False)
    draft.weights = [need.weight for need in draft.needs]


def _fill(draft: _Draft, until: int, *, again: bool, new: bool) -> None:
    """Choose the word that serves most, again and again, until there are so many.

    A word's worth only falls while others are chosen, so the best by an old count is the best if
    its new count still beats the next.
    """
    until = min(until, draft.count)
    if len(draft.chosen) >= until:
        return
    words = _pool_of(draft.teaching)
    chance = [draft.rng.random() for _ in words]
    worth = [(-draft.worth(word) - chance[place], place) for place, word in enumerate(words)]
    heapq.heapify(worth)
    while worth and len(draft.chosen) < until:
        before, place = worth[0]
        word = words[place]
        now = -draft.worth(word) - chance[place]
        if now > before + 1e-9:
            heapq.heapreplace(worth, (now, place))
            continue
        heapq.heappop(worth)
        strange = draft.new_left <= 0 and draft.unknown(word) > 0
        if (new or not strange) and draft.fits(word, again=again):
            draft.take(word, *draft.served(word))
