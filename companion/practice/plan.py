"""The plan of a sitting, in the classroom's order: revisit, meet, practise, apply.

A few due words; today's GPC, its sound and its letters; the list; an exception word with its hard
part; a caption; and one thing to do off screen. The order is that of a daily phonics session
(Letters and Sounds, DfES, 2007: revisit and review, teach, practise, apply; exception words by
common practice). Pure: the same history, teaching, day and seed make the same plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from random import Random
from typing import ClassVar

from companion.phonics.gpc import Gpc, table
from companion.phonics.own_words import Corrections
from companion.phonics.reading import Reading, WordError, reading
from companion.phonics.wordlists import WordList
from companion.practice import arranging, sight
from companion.practice.choosing import Chosen, Shown, choose
from companion.practice.due import gpc_standings
from companion.practice.ending import OffScreen, caption_for, off_screen
from companion.practice.needs import known
from companion.practice.teaching import Aid, Teaching
from companion.record.turns import KeptTurn
from speech.trouble import Trouble

COUNTS = (12, 16)
"""Fewest and most words in a sitting: 3 to 5 minutes at five years old (common practice, no
source)."""

COUNT = 14
FEWEST = 6
"""Words under which there is no sitting to be made of what is taught."""

REVISIT = 3
NEW_SHARE = 1 / 5
"""Share of a sitting for words with a GPC not yet known; four known of five is common practice."""

WORD_S, MEET_S, CAPTION_S = 13.0, 20.0, 25.0
"""Seconds a word takes, heard and said again, and the other parts: guesses, not yet measured."""


class PlanImpossible(Trouble):
    """No sitting can be made of what has been taught."""


@dataclass(frozen=True)
class Revisit:
    """A few words whose sounds are due."""

    name: ClassVar[str] = "revisit"
    words: tuple[Shown, ...]


@dataclass(frozen=True)
class Meet:
    """Today's GPC.

    Attributes
    ----------
    gpcs : tuple of Gpc
        One, or the values of a grapheme that are taught together.
    exemplars : tuple of str
        A word that shows the sound of each.
    aid : Aid or None
        The teacher's memory phrase and picture.
    """

    name: ClassVar[str] = "meet"
    gpcs: tuple[Gpc, ...]
    exemplars: tuple[str, ...]
    aid: Aid | None


@dataclass(frozen=True)
class Practise:
    """The list: the teacher's, or one made for today. ``pairs`` are contrast pairs in it."""

    name: ClassVar[str] = "practise"
    words: tuple[Shown, ...]
    title: str


@dataclass(frozen=True)
class SightWord:
    """An exception word.

    Attributes
    ----------
    word : Shown
        The word.
    hard : tuple of int
        Places of the letters to mark, from 0: the part that cannot be decoded by what is taught.
    aid : str or None
        The teacher's aid to it.
    """

    name: ClassVar[str] = "exception"
    word: Shown
    hard: tuple[int, ...]
    aid: str | None


@dataclass(frozen=True)
class Apply:
    """A caption, read to the adult; single words are all that the listener can hear."""

    name: ClassVar[str] = "apply"
    caption: str


Part = Revisit | Meet | Practise | SightWord | Apply | OffScreen


@dataclass(frozen=True)
class Plan:
    """A sitting to be.

    Attributes
    ----------
    name : str
        For the log: the list's name, or today's grapheme.
    title : str
        A line for the page.
    parts : tuple of Part
        In order; one that has nothing to show is left out.
    pairs : tuple of (str, str)
        Contrast pairs among the words, the look-alike first.
    teaching : Teaching
        What it was made from.
    """

    name: str
    title: str
    parts: tuple[Part, ...]
    pairs: tuple[tuple[str, str], ...]
    teaching: Teaching

    @property
    def words(self) -> tuple[Shown, ...]:
        """Every word to be read, in order."""
        found: list[Shown] = []
        for part in self.parts:
            match part:
                case Revisit() | Practise():
                    found += part.words
                case SightWord():
                    found.append(part.word)
        return tuple(found)

    def before(self, number: int) -> tuple[Part, ...]:
        """The parts that begin before word `number`, from 0; after the last word, the rest."""
        begun, seen = [], 0
        for part in self.parts:
            if seen == number:
                begun.append(part)
            match part:
                case Revisit() | Practise():
                    seen += len(part.words)
                case SightWord():
                    seen += 1
        return tuple(begun)

    @property
    def word_list(self) -> WordList:
        """The words as a list, for whatever takes one."""
        return WordList(
            name=self.name,
            title=self.title,
            words=tuple(each.word for each in self.words),
            target=self.teaching.today[0] if self.teaching.today else None,
            caption=next((part.caption for part in self.parts if isinstance(part, Apply)), None),
            pseudo=tuple(each.word for each in self.words if each.pseudo),
            pairs=self.pairs,
        )

    @property
    def about_minutes(self) -> int:
        """How long it takes, in whole minutes, by `WORD_S` and the rest."""
        extra = {"meet": MEET_S, "apply": CAPTION_S}
        seconds = WORD_S * len(self.words) + sum(extra.get(part.name, 0.0) for part in self.parts)
        return round(seconds / 60)

    def readings(self, accent: str | None = None) -> tuple[Reading, ...]:
        """The words ready to be heard, in order.

        Raises
        ------
        WordError
            Words that cannot be heard, all of them named.
        """
        return readings(self.word_list, accent, self.teaching.corrections)


def readings(words: WordList, accent: str | None, corrections: Corrections) -> tuple[Reading, ...]:
    """A list's words ready to be heard, with the teacher's corrected splits.

    Raises
    ------
    WordError
        Words that cannot be heard, all of them named.
    """
    ready: list[Reading] = []
    faults: list[WordError] = []
    for word in words.words:
        try:
            own = corrections.split(word)[0] if corrections.find(word) else None
            pseudo = word in words.pseudo or None
            ready.append(reading(word, accent=accent, pseudo=pseudo, corrected=own))
        except WordError as error:
            faults.append(error)
    if faults:
        first = faults[0]
        also = "".join(f"; {error.what}: {error.why}" for error in faults[1:])
        raise WordError(f"{words.name}: {first.what}", f"{first.why}{also}", first.mend)
    return tuple(ready)


def plan(
    history: Sequence[KeptTurn], teaching: Teaching, day: date, seed: int = 0, count: int = COUNT
) -> Plan:
    """Plan a sitting.

    Parameters
    ----------
    history : sequence of KeptTurn
        Turns of the last `companion.practice.due.HISTORY_DAYS` days, in order; empty where
        nothing is kept. To take up a sitting that was cut off, leave out its own turns.
    teaching : Teaching
        What has been taught, and what the teacher gave.
    day : date
        The sitting's, where the child is.
    seed : int
        Chooses among plans as good: how many sittings there were that day, for instance.
    count : int
        Words to be read, 12 to 16. Fewer come where no more are decodable.

    Raises
    ------
    ValueError
        `count` is out of range.
    PlanImpossible
        Fewer than `FEWEST` words can be read by what is taught.
    """
    if not COUNTS[0] <= count <= COUNTS[1]:
        raise ValueError(f"a sitting has {COUNTS[0]} to {COUNTS[1]} words, not {count}")
    rng = Random(f"{day.isoformat()} {seed}")
    standings = gpc_standings(history, day)
    sure = known(teaching, standings)
    exception = sight.choose(teaching, history, day, rng)
    places = count - (exception is not None)
    listed = arranging.from_list(teaching, history, day, places - REVISIT)
    new_most = round(count * NEW_SHARE)
    new = [each.word for each in listed if arranging.is_new(each.word, teaching, sure)]
    given = [*listed, *([exception] if exception else [])]
    new_left = max(1, new_most - len(new))
    chosen = choose(
        teaching,
        standings,
        history,
        day,
        rng,
        count=places - len(listed),
        revisit=REVISIT,
        new_most=new_left,
        given=given,
    )
    if len(chosen.words) + len(given) < FEWEST:
        raise PlanImpossible(
            "There are too few words for a sitting",
            f"only {len(chosen.words) + len(given)} words that children know can be read with the "
            f"{len(teaching.gpcs)} sounds taught so far",
            "Name a later sound with --today, or use a list of your own.",
        )
    new += [each.word for each in chosen.words if arranging.is_new(each.word, teaching, sure)]
    words = _Words(chosen, listed, exception, frozenset(new))
    return _laid_out(teaching, words, day, seed, rng)


@dataclass(frozen=True)
class _Words:
    """The words of a sitting before they are laid out; ``new`` hold a GPC not yet known."""

    chosen: Chosen
    listed: tuple[Shown, ...]
    exception: Shown | None
    new: frozenset[str]


def _laid_out(teaching: Teaching, words: _Words, day: date, seed: int, rng: Random) -> Plan:
    pairs = words.chosen.pairs
    most = REVISIT
    first, rest = arranging.parted(words.chosen.words, pairs, teaching.today, most)
    practised = (*words.listed, *arranging.arranged(rest, pairs, words.new, rng))
    name, title = _named(teaching)
    parts: list[Part] = []
    if first:
        parts.append(Revisit(arranging.arranged(first, pairs, words.new, rng)))
    if teaching.today:
        parts.append(_meet(teaching))
    if practised:
        parts.append(Practise(practised, title))
    if words.exception:
        word = words.exception.word
        hard = sight.hard_letters(word, teaching)
        parts.append(SightWord(words.exception, hard, teaching.word_aid(word)))
    caption = caption_for(teaching, day, seed)
    if caption is not None:
        parts.append(Apply(caption))
    read = [*words.listed, *words.chosen.words]
    parts.append(off_screen(read, teaching, day, seed, rng))
    return Plan(name, title, tuple(parts), _list_pairs(teaching, words) + pairs, teaching)


def _named(teaching: Teaching) -> tuple[str, str]:
    if teaching.words is not None:
        return teaching.words.name, teaching.words.title
    if teaching.today:
        grapheme = teaching.today[0].grapheme
        return grapheme, f"Words with {grapheme}"
    return "due", "Words to read again"


def _meet(teaching: Teaching) -> Meet:
    rows = table().by_gpc
    exemplars = tuple(rows[gpc].exemplar for gpc in teaching.today if gpc in rows)
    aids = (teaching.aid(gpc) for gpc in teaching.today)
    return Meet(teaching.today, exemplars, next((aid for aid in aids if aid is not None), None))


def _list_pairs(teaching: Teaching, words: _Words) -> tuple[tuple[str, str], ...]:
    """The list's own pairs of which both words are read today."""
    shown = {each.word for each in words.listed}
    listed = teaching.words.pairs if teaching.words is not None else ()
    return tuple(pair for pair in listed if shown >= set(pair))
