"""Simulated children and a simulated listener, for `simulate_choosing.py`.

A child's chance of reading a GPC as written is ``(1 - lapse) k exp(-t / S)``: k of 0 to 1 is how
well it was learnt, t the days since it was last met and S how many days it lasts. Meeting it again
closes a share ``rate`` of what is missing at that moment, and makes it last longer, the more the
longer ago it was met: exponential forgetting after Ebbinghaus (1885), and longer lasting by spaced
meetings after Pavlik and Anderson, Cognitive Science 29 (2005) (both from memory; the form and
SPACING are our own). Rates are set so that 4 to 15 meetings bring a GPC from nothing to 9 of 10,
as decodable words took in Year 1 (Masidlover, EdD thesis, University of Sheffield, 2014; abstract
seen). Everything else in capitals below is a guess, the same for every way of choosing.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from companion.phonics.gpc import VOWEL_PHONES, Gpc
from companion.phonics.split import split
from companion.record.turns import KeptTurn, Try, Turn
from companion.school.rates import Rates

MEETINGS = (4.0, 15.0)
"""Fewest and most meetings from nothing to 9 of 10; each child and GPC has its own between them."""
SLOWER, SLOWER_TIMES = 0.2, 2.5
"""Share of children who need more meetings, and how many times as many."""
LASTS_DAYS = (3.0, 12.0)
SPACING = 8.0
"""A GPC met again when nine of ten would still know it then lasts nearly twice as long."""
LAPSE = (0.002, 0.015)
"""Share of readings of a well-known GPC that slip all the same."""
GAP = 0.08
"""Share of the GPCs taught before that a child never took in well."""
GAP_LEARNT, GAP_LASTS_DAYS = 0.5, 8.0
OLD_LEARNT, OLD_LASTS_DAYS = (0.97, 1.0), (60.0, 200.0)
LESSON = 4
"""Meetings in class on the day of the lesson."""
REVISITS = (1, 2, 5, 10)
"""School days later on which the class meets it once more."""
HINT = 0.3
"""Chance that a second look at the graphemes puts a slip right; otherwise it is made again."""
REPEATS = 0.5
"""Share of second tries judged as the first was, where they were read alike: a listener's mistakes
come again with the same voice and word."""
PRACTISES = 0.65
"""Chance that a family practises on a day."""

LONDON = ZoneInfo("Europe/London")


@dataclass
class Knowledge:
    """What a child knows of one GPC."""

    rate: float
    learnt: float
    lasts_days: float
    met: float

    def chance(self, day: float) -> float:
        """Chance of recalling it on a day."""
        return self.learnt * math.exp(-max(day - self.met, 0.0) / self.lasts_days)

    def meet(self, day: float) -> None:
        """One more meeting."""
        kept = math.exp(-max(day - self.met, 0.0) / self.lasts_days)
        now = self.learnt * kept
        self.learnt = now + self.rate * (1 - now)
        self.lasts_days *= 1 + SPACING * (1 - kept)
        self.met = day


@dataclass
class Child:
    """One child: what it knows by GPC, its gaps, and the chance behind each of its readings."""

    rng: Random
    lapse: float
    knows: dict[Gpc, Knowledge]
    gaps: tuple[Gpc, ...] = ()
    history: list[KeptTurn] = field(default_factory=list)
    read_well: list[bool] = field(default_factory=list)

    @classmethod
    def born(
        cls, seed: str, before: Sequence[Gpc], block: Sequence[Gpc], common: Collection[Gpc]
    ) -> Child:
        """A child who was taught `before` some time ago and is about to be taught `block`.

        Gaps are among `common`, the GPCs that words enough have.
        """
        rng = Random(seed)
        times = SLOWER_TIMES if rng.random() < SLOWER else 1.0
        knows = {}
        for gpc in (*before, *block):
            meetings = times * math.exp(rng.uniform(*map(math.log, MEETINGS)))
            rate = 1 - 0.1 ** (1 / meetings)
            lasts = math.exp(rng.uniform(*map(math.log, LASTS_DAYS)))
            knows[gpc] = Knowledge(rate, 0.0, lasts, 0.0)
        gaps = []
        for gpc in before:
            one = knows[gpc]
            if gpc in common and rng.random() < GAP:
                one.learnt, one.lasts_days, one.met = GAP_LEARNT, GAP_LASTS_DAYS, -1.0
                gaps.append(gpc)
            else:
                one.learnt = rng.uniform(*OLD_LEARNT)
                one.lasts_days, one.met = rng.uniform(*OLD_LASTS_DAYS), -rng.uniform(1, 10)
        return cls(rng, rng.uniform(*LAPSE), knows, tuple(gaps))

    def chance(self, gpc: Gpc, day: float) -> float:
        """Chance of reading a GPC as written on a day."""
        return (1 - self.lapse) * self.knows[gpc].chance(day)

    def slips_on(self, gpcs: Sequence[Gpc], day: float) -> Gpc | None:
        """Read a word: the GPC that slips, the least known of them, or None."""
        chances = [(self.chance(gpc, day), gpc) for gpc in gpcs]
        slipped = [each for each in chances if self.rng.random() > each[0]]
        return min(slipped)[1] if slipped else None


def turn(child: Child, word: str, day: float, at: date, sitting: int, ear: Rates) -> KeptTurn:
    """One word read, heard and kept: at most two tries, and the last counts."""
    gpcs = split(word)[0].gpcs
    slip = child.slips_on(gpcs, day)
    child.read_well.append(slip is None)
    tries = [judged(heard(child.rng, slip is None, ear), slip, gpcs)]
    if tries[0].verdict != "as_written":
        again = None if slip is None or child.rng.random() < HINT else slip
        if again == slip and child.rng.random() < REPEATS:
            tries.append(tries[0])
        else:
            tries.append(judged(heard(child.rng, again is None, ear), again, gpcs))
    for gpc in dict.fromkeys(gpcs):
        child.knows[gpc].meet(day)  # the computer says the word and its sounds
    kept = Turn(word, tuple(map(str, gpcs)), tuple(tries))
    when = datetime.combine(at, time(16, 30), LONDON)
    number = len(child.history) + 1
    done = KeptTurn(number, sitting, when, at, kept)
    child.history.append(done)
    return done


def heard(rng: Random, right: bool, ear: Rates) -> str:
    """The verdict on one try, by the listener's measured shares."""
    shares = (
        {"as_written": ear.right_as_written, "slip": ear.right_slip, "unsure": ear.right_unsure}
        if right
        else {"as_written": ear.slip_as_written, "slip": ear.slip_slip, "unsure": ear.slip_unsure}
    )
    chance = rng.random()
    for verdict, share in shares.items():
        chance -= share
        if chance < 0:
            return verdict
    return "other_word"


def judged(verdict: str, slip: Gpc | None, gpcs: Sequence[Gpc]) -> Try:
    """A try as the log keeps it. A slip that was none is heard on the word's first vowel."""
    named = None
    if verdict == "slip":
        vowels = (gpc for gpc in gpcs if VOWEL_PHONES & set(gpc.phonemes))
        named = slip or next(vowels, gpcs[0])
    evidence = tuple(dict.fromkeys(map(str, gpcs))) if verdict == "as_written" else ()
    return Try(
        verdict=verdict,
        slip=kind_of(named) if named else None,
        gpc=str(named) if named else None,
        heard="",
        place=None,
        unit=None,
        p={},
        p_slip={},
        ms=0.0,
        evidence=(str(named),) if named else evidence,
    )


def kind_of(gpc: Gpc) -> str:
    """The kind of slip that beginners make most on a GPC of this shape."""
    if "-" in gpc.grapheme:
        return "short_for_split"
    return "one_letter_of_digraph" if len(gpc.grapheme) > 1 else "other_gpc_value"


def teach(child: Child, block: Sequence[Gpc], days: Sequence[int], day: int) -> None:
    """What happens in class on one of its `days`: the lesson, and older ones looked at again."""
    if day not in days:
        return
    here = days.index(day)
    for back in (0, *REVISITS):
        if 0 <= here - back < len(block):
            for _ in range(1 if back else LESSON):
                child.knows[block[here - back]].meet(day)


def school_days(count: int) -> list[int]:
    """The first `count` days from a Monday, 0, that are no Saturday or Sunday."""
    return [week * 7 + day for week in range(math.ceil(count / 5)) for day in range(5)][:count]


def date_of(day: int) -> date:
    """Day 0 is a Monday in term."""
    return date(2027, 1, 4) + timedelta(days=day)
