"""What a home hands to school of one week: counts for each GPC, and nothing else.

No name, no sound, no word that was read, no date but the week's, and no field that takes free text:
a GPC must be one of the table's, a slip kind one of the eleven, everything else is a number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from itertools import pairwise

from companion.phonics.accents import ACCENTS
from companion.phonics.gpc import Gpc, TableError, table
from companion.practice.verdicts import VERDICTS
from companion.record import codes
from companion.record.tally import GpcCount, Tally
from companion.record.weeks import Week
from companion.report.wording import SLIP_WORDS

KIND_NOT_GIVEN = "kind_not_given"
"""The kind of a slip that came by CSV, which counts slips and does not name their kinds."""

SLIP_KINDS = (*SLIP_WORDS, KIND_NOT_GIVEN)

LATELY_WEEKS = 6
"""Half a term: schools assess and regroup about so often (common practice, no source)."""

_NUMBERS = (
    "as_written", "could_not_tell", "sounded_out", "other", "words", "words_lately", "overruled",
)  # fmt: skip

COUNT_MAX = 9999
"""No count of one week is larger: it would be a word every ten seconds, day and night."""


class NotASummary(ValueError):
    """Something that no home writes; the message says what, in words for a teacher."""


@dataclass(frozen=True)
class SummaryRow:
    """One GPC of one child's week.

    Attributes
    ----------
    gpc : str
        As ``str(Gpc)``; always one of the table's.
    as_written : int
        Readings as written.
    slips : dict of str to int
        Readings that slipped, by kind (`SLIP_KINDS`); no zeros.
    could_not_tell, sounded_out, other : int
        Turns of words with this GPC that nobody could judge; that were sounded out and not
        blended; where another word or nothing was read. None of them is a reading.
    days, words : int
        Different days (0 to 7) and different words among the readings.
    words_lately : int
        Different words with a reading in the `LATELY_WEEKS` weeks that end with this one: a number
        that the school could not work out from its weeks, because no word leaves home.
    overruled : int
        Turns of words with this GPC that the adult had a say in.
    """

    gpc: str
    as_written: int
    slips: Mapping[str, int]
    could_not_tell: int
    sounded_out: int
    other: int
    days: int
    words: int
    words_lately: int
    overruled: int

    @property
    def slipped(self) -> int:
        """Slips of all kinds together."""
        return sum(self.slips.values())

    @property
    def readings(self) -> int:
        """Readings as written and slips together."""
        return self.as_written + self.slipped

    def count(self) -> GpcCount:
        """The row as the week sheet's rule takes it (`companion.report.week.state`)."""
        return GpcCount(
            self.gpc,
            self.as_written,
            self.slips,
            self.could_not_tell,
            self.days,
            self.words,
            (),
            self.sounded_out,
            self.other,
            self.overruled,
        )


@dataclass(frozen=True)
class Summary:
    """One child's week, as it goes to school.

    Attributes
    ----------
    class_code, pupil : str
        Codes (`companion.record.codes`).
    week : Week
        The ISO week.
    made_at : datetime
        When it was made, aware, in whole seconds.
    number : int
        Which summary of this home's it is, from 1: a later one has a higher number. 0 where the
        file does not say (CSV).
    accents : tuple of str
        Accents chosen in the week's sittings, in alphabetical order; empty where every accent
        counted as right.
    days : int
        Different days with a turn, 0 to 7.
    verdicts : dict of str to int
        Words read, by what they count as after the adult's word (`VERDICTS`); no zeros.
    left_out, overruled : int
        Turns the adult left out, and turns the adult had a say in.
    rows : tuple of SummaryRow
        In alphabetical order of the GPC, each GPC once.

    Raises
    ------
    NotASummary
        A value outside its range, or counts that contradict each other.
    """

    class_code: str
    pupil: str
    week: Week
    made_at: datetime
    number: int
    accents: tuple[str, ...]
    days: int
    verdicts: Mapping[str, int]
    left_out: int
    overruled: int
    rows: tuple[SummaryRow, ...]

    def __post_init__(self) -> None:
        _check(self)

    @property
    def words(self) -> int:
        """Words read, whatever they count as."""
        return sum(self.verdicts.values())


@dataclass(frozen=True)
class Heading:
    """What goes on a summary besides the counts: to whom, of whom, when, and its number."""

    class_code: str
    pupil: str
    made_at: datetime
    number: int


def of_week(
    counts: Tally, lately: Tally, week: Week, accents: tuple[str | None, ...], heading: Heading
) -> Summary:
    """A week's counts as a summary.

    Parameters
    ----------
    counts : Tally
        The week's.
    lately : Tally
        Those of the `LATELY_WEEKS` weeks that end with it, counted together.
    week : Week
        Which.
    accents : tuple of str or None
        The accents of the week's sittings, repeats and all.
    heading : Heading
        The rest.

    Notes
    -----
    A GPC that is not in the table (a part of an exception word, say) is left out.
    """
    words = {count.gpc: count.words for count in lately.gpcs}
    return Summary(
        class_code=heading.class_code,
        pupil=heading.pupil,
        week=week,
        made_at=heading.made_at.replace(microsecond=0),
        number=heading.number,
        accents=tuple(sorted({each for each in accents if each is not None})),
        days=len(counts.days),
        verdicts={verdict: count for verdict, count in counts.verdicts.items() if count},
        left_out=counts.left_out,
        overruled=counts.overruled,
        rows=tuple(
            _row(count, max(count.words, words.get(count.gpc, 0)))
            for count in counts.gpcs
            if _known(count.gpc)
        ),
    )


def _known(text: str) -> bool:
    """Whether a row may be for this: a GPC of the table, written in the one way."""
    return _gpc(text) in table().by_gpc


@lru_cache(maxsize=1024)
def _gpc(text: str) -> Gpc | None:
    try:
        gpc = Gpc.parse(text)
    except TableError:
        return None
    return gpc if str(gpc) == text else None


def _row(count: GpcCount, words_lately: int) -> SummaryRow:
    return SummaryRow(
        gpc=count.gpc,
        as_written=count.as_written,
        slips={kind: number for kind, number in sorted(count.slips.items()) if number},
        could_not_tell=count.could_not_tell,
        sounded_out=count.sounded_out,
        other=count.other,
        days=count.days,
        words=count.words,
        words_lately=words_lately,
        overruled=count.overruled,
    )


def _check(found: Summary) -> None:
    for name, code in (("class", found.class_code), ("pupil", found.pupil)):
        if not codes.is_code(code):
            raise NotASummary(f"its {name} code is none")
    if found.made_at.utcoffset() is None or found.made_at.microsecond:
        raise NotASummary("the time it was made is not in whole seconds with an offset")
    if not all(each in ACCENTS for each in found.accents) or not _ascending(found.accents):
        raise NotASummary("it names an accent that does not exist, or names one twice")
    _check_number("its number", found.number, 2**31 - 1)
    _check_number("its days", found.days, 7)
    _check_counts("words by verdict", found.verdicts, VERDICTS)
    _check_number("words left out", found.left_out)
    _check_number("words overruled", found.overruled)
    if not _ascending([row.gpc for row in found.rows]):
        raise NotASummary("its rows are out of order, or a GPC has two")
    for row in found.rows:
        if not _known(row.gpc):
            raise NotASummary("it has a row for something that is no GPC of the table")
        _check_row(row)
        if row.days > found.days:
            raise NotASummary(f"{row.gpc} was read on more days than the week's")


def _check_row(row: SummaryRow) -> None:
    _check_counts("slips of a row", row.slips, SLIP_KINDS)
    for name in _NUMBERS:
        _check_number(f"{name} of a row", getattr(row, name))
    _check_number("days of a row", row.days, 7)
    readings = row.readings
    if not (readings > 0) == (row.days > 0) == (row.words > 0):
        raise NotASummary(f"the readings, days and words of {row.gpc} contradict each other")
    if row.words_lately < row.words:
        raise NotASummary(f"{row.gpc} has more words in this week than in the last six")
    if max(row.days, row.words) > readings:
        raise NotASummary(f"{row.gpc} has more days or words than readings")


def _check_counts(what: str, counts: Mapping[str, int], known: tuple[str, ...]) -> None:
    for name, count in counts.items():
        if name not in known:
            raise NotASummary(f"{what} has a kind that does not exist")
        _check_number(what, count)
        if count == 0:
            raise NotASummary(f"{what} counts a kind that did not occur")


def _check_number(what: str, number: int, most: int = COUNT_MAX) -> None:
    if type(number) is not int or not 0 <= number <= most:
        raise NotASummary(f"{what}: a whole number from 0 to {most} was expected")


def _ascending(texts: tuple[str, ...] | list[str]) -> bool:
    return all(one < other for one, other in pairwise(texts))
