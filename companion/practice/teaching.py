"""What a child has been taught, and what the teacher gave for today: what a plan is made from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from companion.phonics.decodable import Splitter, Taught, exception_words, named
from companion.phonics.gpc import Gpc, Order, table
from companion.phonics.own_words import Corrections
from companion.phonics.split import split
from companion.phonics.wordlists import WordList

TODAY = "a-e"
"""Today's GPC where nobody has said: the first of the split digraphs."""


@dataclass(frozen=True)
class Aid:
    """What a teacher shows with a GPC.

    Attributes
    ----------
    gpc : Gpc
        The GPC.
    phrase : str or None
        The teacher's own memory phrase.
    picture : str or None
        Name of the teacher's picture.
    """

    gpc: Gpc
    phrase: str | None = None
    picture: str | None = None


@dataclass(frozen=True)
class WordAid:
    """A teacher's own aid to an exception word, such as a sentence for its letters."""

    word: str
    aid: str


@dataclass(frozen=True)
class Teaching:
    """Where a class is: all that a plan is told, whoever filled it in.

    Attributes
    ----------
    gpcs : tuple of Gpc
        Those taught, in the order they were taught; today's come last.
    today : tuple of Gpc
        Today's, all among `gpcs`: several where the values of a grapheme are taught together.
        Empty where there is none.
    sight : frozenset of str
        Exception words taught, in small letters.
    words : WordList or None
        This week's list from the teacher.
    aids : tuple of Aid
        What the teacher shows with a GPC.
    word_aids : tuple of WordAid
        What the teacher says of an exception word.
    corrections : Corrections
        Splits that a teacher has corrected.

    Raises
    ------
    ValueError
        Today's GPC is not among those taught, or a GPC was taught twice.
    """

    gpcs: tuple[Gpc, ...]
    today: tuple[Gpc, ...] = ()
    sight: frozenset[str] = frozenset()
    words: WordList | None = None
    aids: tuple[Aid, ...] = ()
    word_aids: tuple[WordAid, ...] = ()
    corrections: Corrections = field(default_factory=Corrections)

    def __post_init__(self) -> None:
        if not set(self.today) <= set(self.gpcs):
            raise ValueError("today's GPC is not among those taught")
        if len(set(self.gpcs)) != len(self.gpcs):
            raise ValueError("a GPC was taught twice")

    @property
    def taught(self) -> Taught:
        """The same as the decodability checker takes it."""
        return Taught(frozenset(self.gpcs), self.sight)

    @property
    def splitter(self) -> Splitter:
        """Gives a word's readings, with the teacher's corrections."""
        return self.corrections.split if self.corrections.rows else split

    def aid(self, gpc: Gpc) -> Aid | None:
        """The teacher's aid to a GPC."""
        return next((each for each in self.aids if each.gpc == gpc), None)

    def word_aid(self, word: str) -> str | None:
        """The teacher's aid to an exception word, whatever its capitals."""
        found = (each.aid for each in self.word_aids if each.word.lower() == word.lower())
        return next(found, None)


def up_to(
    today: str = TODAY,
    order: Order | None = None,
    *,
    sight: Iterable[str] | None = None,
    words: WordList | None = None,
    aids: tuple[Aid, ...] = (),
    word_aids: tuple[WordAid, ...] = (),
    corrections: Corrections | None = None,
) -> Teaching:
    """The teaching of a class that has today's GPC and everything before it in an order.

    Parameters
    ----------
    today : str
        As a teacher names it: ``a-e``, or ``ow /OW/`` for one value.
    order : Order, optional
        The teaching order; the default order when omitted.
    sight : iterable of str, optional
        Exception words taught; those usual by then when omitted.
    words, aids, word_aids, corrections
        As in `Teaching`.

    Raises
    ------
    TableError
        The order holds no such GPC; the message offers the nearest.
    """
    order = order or table().order()
    targets = named(today, order)
    gpcs = order.gpcs[: len(order.up_to(targets[-1]))]
    known = exception_words(gpcs) if sight is None else frozenset(map(str.lower, sight))
    return Teaching(gpcs, targets, known, words, aids, word_aids, corrections or Corrections())
