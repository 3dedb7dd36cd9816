"""Balanced word lists for one GPC, out of words children know and sounds they have been taught.

A list holds words with the target, words with older GPCs taught 1, 2, 4, 7 and 14 places before
it (widening steps: common practice), a contrast pair, made-up words, a taught exception word and
a caption. The same seed and the same data make the same list again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from random import Random

from companion.phonics import lexicon, pseudowords
from companion.phonics.candidates import Candidate, candidates, forms_of_one, misread_kindly
from companion.phonics.captions import best_for, decodable_captions
from companion.phonics.decodable import Splitter, Taught, gap
from companion.phonics.gpc import Gpc, Order, table
from companion.phonics.split import split
from companion.phonics.suitable import is_blocked
from companion.phonics.wordlists import WordList

ROLES = ("target", "pair", "older", "exception", "made-up")
"""What a word is in a list for."""

COUNTS = (6, 40)
"""Fewest and most words in a list."""

STEPS_BACK = (1, 2, 4, 7, 14)
"""How many places before the target the older GPCs were taught."""

BLENDS_FROM = 54
"""GPCs taught before made-up words have consonants side by side: those of phases 2 and 3 come
first (Letters and Sounds, DfES, 2007), which is the default order up to its 53rd GPC."""


OLDER_SHARE, MADE_UP_SHARE = 1 / 4, 1 / 6
"""Shares of a list for words with older GPCs and for made-up words."""

TWO_FROM = 16
"""Words in the shortest list that has two exception words and two contrast pairs."""

SHUFFLES = 50
"""Goes at an order in which no contrast pair stands together."""


class ListMakerError(ValueError):
    """A list that cannot be made: what is wrong, why, and what to do about it."""

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(f"{what}: {why}. {mend}")
        self.what, self.why, self.mend = what, why, mend


@dataclass(frozen=True)
class ListWord:
    """A word of a made list, what it is there for, and the GPC it practises (if one)."""

    word: str
    role: str
    gpc: Gpc | None


@dataclass(frozen=True)
class MadeList:
    """A made list, why each word is in it, and what could not be had, in sentences."""

    words: WordList
    why: tuple[ListWord, ...]
    notes: tuple[str, ...]


def make(
    targets: Sequence[Gpc],
    taught: Taught,
    order: Order | None = None,
    *,
    count: int = 12,
    seed: int = 0,
    recent: Collection[str] = (),
    splitter: Splitter = split,
) -> MadeList:
    """Make a list.

    Parameters
    ----------
    targets : sequence of Gpc
        What the list is for: one GPC, or the values of a grapheme that are taught together
        (u-e as in June and as in cube).
    taught : Taught
        Everything its words may use; must hold `targets`.
    order : Order, optional
        The teaching order, for spacing older GPCs; the default order when omitted.
    count : int
        Words in the list, 6 to 40, made-up ones included.
    seed : int
        Chooses among the lists possible.
    recent : collection of str
        Words and captions of recent lists, not to be used again.
    splitter : callable
        Gives a word's readings: `split`, or one that knows a teacher's corrections.

    Raises
    ------
    ListMakerError
        The count is out of range, the target is not taught, or too few words are decodable.
    """
    if not COUNTS[0] <= count <= COUNTS[1]:
        raise ListMakerError(
            f"a list of {count}", f"lists hold {COUNTS[0]} to {COUNTS[1]} words", "Choose between."
        )
    if not targets or not set(targets) <= taught.gpcs:
        raise ListMakerError(
            f"a list for {', '.join(map(str, targets)) or 'nothing'}",
            "it is not among the sounds taught",
            "Teach up to it, or later.",
        )
    order = order or table().order()
    used = frozenset(map(str.lower, recent))
    draft = _Draft(tuple(targets), taught, count, Random(seed), used, splitter)
    _fill(draft, order)
    if len(draft.chosen) < count:
        raise ListMakerError(
            f"a list of {count} for {draft.target}",
            f"only {len(draft.chosen)} words fit what is taught and were not in recent lists",
            "Ask for fewer words, give fewer recent lists, or teach more sounds first.",
        )
    return _finished(draft, seed)


@dataclass
class _Draft:
    """A list while it is being made."""

    targets: tuple[Gpc, ...]
    taught: Taught
    count: int
    rng: Random
    recent: frozenset[str]
    splitter: Splitter
    chosen: list[ListWord] = field(default_factory=list)
    pairs: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def target(self) -> Gpc:
        """The value taught first of those the list is for."""
        return self.targets[0]

    def holds(self, entry: Candidate) -> bool:
        """Whether a word has what the list is for."""
        return not entry.gpcs.isdisjoint(self.targets)


def _fill(draft: _Draft, order: Order) -> None:
    """Choose the words: the scarce kinds first, then the target, then older GPCs."""
    pool = _pool(draft)
    holding = [entry for entry in pool if draft.holds(entry)]
    _add_exceptions(draft)
    _add_made_up(draft)
    _add_pairs(draft, pool)
    wanted = draft.count - len(draft.chosen) - round(draft.count * OLDER_SHARE)
    if _add(draft, holding, wanted, "target", draft.target) < wanted:
        draft.notes.append(f"Few words that children know and can decode have {draft.target}.")
    _add_older(draft, pool, order)
    _add(draft, holding, draft.count, "target", draft.target)


def _pool(draft: _Draft) -> list[Candidate]:
    """Words that may be chosen, the likeliest first: well known and short, with some chance."""
    fit = [
        entry
        for entry in candidates(draft.splitter)
        if entry.gpcs <= draft.taught.gpcs
        and entry.word.lower() not in draft.recent
        and entry.word.lower() not in draft.taught.words
    ]
    weights = {
        entry.word: entry.band + len(entry.split.units) / 4 + 2 * draft.rng.random()
        for entry in fit
    }
    return sorted(fit, key=lambda entry: weights[entry.word])


def _clashes(entry: Candidate, draft: _Draft) -> bool:
    """Whether a word is misread unkindly, or a chosen one is a form of it or sounds the same."""
    if not misread_kindly(entry.word):
        return True
    word = entry.word.lower()
    for other in (each.word.lower() for each in draft.chosen if each.role != "made-up"):
        if forms_of_one(word, other):
            return True
        if entry.split.phones == split(other)[0].phones:
            return True
    return False


def _add(draft: _Draft, pool: list[Candidate], wanted: int, role: str, gpc: Gpc) -> int:
    """Choose up to `wanted` words from the front of `pool`; say how many were found."""
    added = 0
    for entry in pool:
        if added >= wanted or len(draft.chosen) >= draft.count:
            break
        if not _clashes(entry, draft):
            draft.chosen.append(ListWord(entry.word, role, gpc))
            added += 1
    return added


def _add_exceptions(draft: _Draft) -> None:
    fit = [
        lexicon.names().get(word, word)
        for word in sorted(draft.taught.words - draft.recent)
        if len(word) > 1 and set(word) & set("aeiouy") and not is_blocked(word)
    ]
    only_by_sight = [
        word for word in fit if gap(word, Taught(draft.taught.gpcs), draft.splitter) is not None
    ]
    for word in draft.rng.sample(only_by_sight, min(len(only_by_sight), _doubled(draft.count))):
        draft.chosen.append(ListWord(word, "exception", None))
    if not only_by_sight:
        draft.notes.append("No taught exception word is left to use.")


def _add_made_up(draft: _Draft) -> None:
    wanted = round(draft.count * MADE_UP_SHARE)
    gpcs, target = draft.taught.gpcs, draft.target
    blends = len(gpcs) >= BLENDS_FROM
    made = pseudowords.make(
        gpcs, wanted, draft.rng, targets=draft.targets, blends=blends, avoid=draft.recent
    )
    draft.chosen += [ListWord(each.word, "made-up", target) for each in made]
    if len(made) < wanted:
        used = {*draft.recent, *(each.word for each in made)}
        rest = pseudowords.make(gpcs, wanted - len(made), draft.rng, blends=blends, avoid=used)
        draft.chosen += [ListWord(each.word, "made-up", None) for each in rest]
        draft.notes.append(f"Too few made-up words can be spelled with {target}.")


def _add_pairs(draft: _Draft, pool: list[Candidate]) -> None:
    by_word = {entry.word.lower(): entry for entry in pool}
    wanted = _doubled(draft.count)
    for entry in pool:
        if len(draft.pairs) >= wanted:
            break
        partner = _partner(entry, draft.targets, by_word)
        if partner is None or _clashes(entry, draft) or _clashes(partner, draft):
            continue
        draft.chosen += [
            ListWord(entry.word, "target", draft.target),
            ListWord(partner.word, "pair", draft.target),
        ]
        draft.pairs.append((partner.word, entry.word))
    if not draft.pairs:
        draft.notes.append(f"No contrast pair of known words is left for {draft.target}.")


def _partner(
    entry: Candidate, targets: Collection[Gpc], by_word: dict[str, Candidate]
) -> Candidate | None:
    """The known word got by reading one letter of the target grapheme: pin for pine."""
    places = [n for n, gpc in enumerate(entry.split.gpcs) if gpc in targets]
    if len(places) != 1:
        return None
    at = places[0]
    dropped = entry.split.units[at].letters[1:]
    spelled = "".join(each for n, each in enumerate(entry.word.lower()) if n not in dropped)
    partner = by_word.get(spelled)
    if partner is None or len(partner.split.units) != len(entry.split.units):
        return None
    differing = [
        n
        for n, (ours, theirs) in enumerate(zip(entry.split.units, partner.split.units, strict=True))
        if ours.phonemes != theirs.phonemes
    ]
    return partner if differing == [at] else None


def _add_older(draft: _Draft, pool: list[Candidate], order: Order) -> None:
    """Words with GPCs taught 1, 2, 4, 7, 14 places before the target, then any taught before."""
    place = order.place(draft.target) or len(order.gpcs)
    near = [order.gpcs[place - 1 - step] for step in STEPS_BACK if step < place]
    rest = [gpc for gpc in reversed(order.gpcs[: place - 1]) if gpc not in near]
    without = [each for each in pool if not draft.holds(each)]
    for gpc in near + rest:
        if len(draft.chosen) >= draft.count:
            return
        if gpc in draft.taught.gpcs:
            _add(draft, [each for each in without if gpc in each.gpcs], 1, "older", gpc)


def _doubled(count: int) -> int:
    """One of a thing in a short list, two from 16 words."""
    return 1 if count < TWO_FROM else 2


def _finished(draft: _Draft, seed: int) -> MadeList:
    made_up = [each for each in draft.chosen if each.role == "made-up"]
    real = [each for each in draft.chosen if each.role != "made-up"]
    for _ in range(SHUFFLES):
        draft.rng.shuffle(real)
        if not _neighbours([each.word for each in real], draft.pairs):
            break
    caption = _caption(draft)
    if caption is None:
        draft.notes.append("No caption is decodable yet, or all were in recent lists.")
    why = (*real, *made_up)
    words = WordList(
        name=f"{draft.target.grapheme}-{seed}",
        title=f"Words with {draft.target.grapheme}",
        words=tuple(each.word for each in why),
        target=draft.target,
        caption=caption,
        pseudo=tuple(each.word for each in made_up),
        pairs=tuple(draft.pairs),
    )
    return MadeList(words, why, tuple(draft.notes))


def _neighbours(words: list[str], pairs: list[tuple[str, str]]) -> bool:
    return any(abs(words.index(one) - words.index(other)) == 1 for one, other in pairs)


def _caption(draft: _Draft) -> str | None:
    """A decodable caption, one with the target if there is one."""
    fresh = [
        each
        for each in decodable_captions(draft.taught, draft.splitter)
        if each.lower() not in draft.recent
    ]
    best = best_for(fresh, draft.targets)
    return draft.rng.choice(best) if best else None
