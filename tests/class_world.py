"""An invented class for a year: what each child truly knows, what is read at home, what is heard.

Nothing here is measured but the listener's error rates (`companion/school/rates.json`); all else is
an assumption, stated where it stands, so that the grid can be tried where the truth is known. The
truth is made otherwise than the grid's own model supposes: three stages of knowing, words that
differ, children and words the listener mishears again and again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from companion.phonics.gpc import Gpc, Order, table
from companion.record import codes
from companion.record.weeks import Week
from companion.report.summary import Summary, SummaryRow
from companion.school.rates import Rates, listener

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

CHILDREN, GPCS, WEEKS, BANK, EVENINGS = 30, 40, 39, 15, 5
TAUGHT_AT_START = 10
FIRST_WEEK = Week(2026, 36)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)


@dataclass(frozen=True)
class World:
    """What is assumed. Chances are a week's; spreads are standard deviations on the logit scale.

    Attributes
    ----------
    hears : Rates
        The listener's mean error rates.
    false_child, false_cell, false_word, found_each : float
        How much false slips differ between children, between a child's GPCs and between words,
        and how much slips found do (between each of these).
    got, wobbly, ability : float
        Share of an average child that has a GPC as soon as it is taught; of the others, the share
        that half has it; and what one standard deviation of ability adds to the first, in logits.
    up_none, up_half, down : float
        Chances to go up a stage by whole-class teaching, and to go down one.
    up_home, up_group : float
        What the square root of a week's readings, and a group, add to these.
    word, week, drift : float
        How much words differ for a child, weeks differ, and a child's level wanders.
    near_line : bool
        A harder world: no stages, most who do not have a GPC slip about one time in five.
    no_tool, lost : float
        Share of homes that never practise with the program, and of weeks not handed in.
    """

    hears: Rates
    false_child: float = 0.5
    false_cell: float = 0.7
    false_word: float = 0.7
    found_each: float = 0.5
    got: float = 0.62
    wobbly: float = 0.4
    ability: float = 0.9
    up_none: float = 0.06
    up_half: float = 0.22
    down: float = 0.012
    up_home: float = 0.012
    up_group: float = 0.3
    word: float = 0.8
    week: float = 0.3
    drift: float = 0.15
    near_line: bool = False
    no_tool: float = 0.2
    lost: float = 0.1


def worlds() -> dict[str, World]:
    """The worlds the bench knows by name."""
    usual = World(listener())
    twice = replace(
        listener(),
        right_slip=2 * listener().right_slip,
        right_as_written=listener().right_as_written - listener().right_slip,
        slip_slip=listener().slip_slip - 0.15,
    )
    return {
        "usual": usual,
        "poor-listener": replace(usual, hears=twice),
        "alike": replace(usual, false_child=1.0, false_cell=1.4, false_word=1.0),
        "near-line": replace(usual, near_line=True),
        "quick": replace(usual, up_none=0.15, up_half=0.4),
    }


@dataclass(frozen=True)
class HeardWeek:
    """A week as the school sees it, and as it truly is."""

    week: Week
    summaries: tuple[Summary, ...]
    slip_rate: Floats
    """True slip rates as the week ends, shape ``(CHILDREN, GPCS)``."""
    taught: Flags
    counts: dict[str, Ints]
    """What the summaries hold, each of shape ``(CHILDREN, GPCS)``."""


class ClassYear:
    """One class; `step` lives one week of it."""

    def __init__(self, world: World, seed: int) -> None:
        self.world = world
        self.chance = np.random.default_rng(seed)
        self.order = Order(table().order().gpcs[52 : 52 + GPCS])
        made = codes_from(self.chance, CHILDREN + 1)
        self.code, self.pupils = made[0], tuple(sorted(made[1:]))
        self.number = -1
        self.taught = np.zeros(GPCS, np.bool_)
        shape = (CHILDREN, GPCS)
        draw = self.chance.normal
        self.able = draw(0, 1, CHILDREN)
        self.hard = draw(0, 0.5, GPCS)
        self.stage = np.zeros(shape, np.int64)
        self.none = np.clip(self.chance.beta(5, 4, shape), 0.3, 0.95)
        self.full = self.chance.beta(1.2, 25, shape)
        if world.near_line:
            self.none = np.clip(self.chance.beta(4, 12, shape), 0.08, 0.6)
        self.wander = np.zeros(shape)
        self.words = draw(0, world.word, (*shape, BANK))
        self.false = self._false_slips()
        self.found = self._found()
        self.tool = self.chance.random(CHILDREN) >= world.no_tool
        self.keen = self.chance.beta(3, 2, CHILDREN)
        self.read = np.zeros(shape, np.int64)
        self.lately: list[Flags] = []
        self.slipped = np.zeros(shape)

    def step(self, grouped: Flags | None = None) -> HeardWeek:
        """Live a week; `grouped` says who was in a group for what, shape ``(CHILDREN, GPCS)``."""
        self.number += 1
        if self.number:
            self._learn(np.zeros((CHILDREN, GPCS), np.bool_) if grouped is None else grouped)
        new = self._teach()
        level = self._level()
        chance = _share(
            (level + self.chance.normal(0, self.world.week, level.shape))[:, :, None] + self.words
        )
        counts = self._evenings(new, chance)
        week = Week.of(FIRST_WEEK.monday + timedelta(weeks=self.number))
        rate = _mean_share(level, float(np.hypot(self.world.word, self.world.week)))
        handed = self.tool & (self.chance.random(CHILDREN) >= self.world.lost)
        handed &= counts.pop("evenings") > 0
        summaries = self._summaries(week, counts, handed)
        counts = {name: each * handed[:, None] for name, each in counts.items()}
        return HeardWeek(week, summaries, rate, self.taught.copy(), counts)

    def hear(self, pupil: int, gpc: int, words: int = 6, wrong: float = 0.05) -> tuple[int, int]:
        """A teacher's check by ear: words shown, and read as written as far as the ear can tell."""
        picked = self.chance.choice(BANK, words, replace=False)
        slip = _share(self._level()[pupil, gpc] + self.words[pupil, gpc, picked])
        truly = self.chance.random(words) < slip
        said = np.where(self.chance.random(words) < wrong, ~truly, truly)
        return words, int((~said).sum())

    def _false_slips(self) -> Floats:
        of, draw = self.world, self.chance.normal
        spread = float(np.sqrt(of.false_child**2 + of.false_cell**2 + of.false_word**2))
        base = _logit_for(of.hears.right_slip, spread)
        return _share(
            base
            + draw(0, of.false_child, (CHILDREN, 1, 1))
            + draw(0, of.false_cell, (CHILDREN, GPCS, 1))
            + draw(0, of.false_word, (1, GPCS, BANK))
        )

    def _found(self) -> Floats:
        of, draw = self.world, self.chance.normal
        base = _logit_for(of.hears.slip_slip, float(np.sqrt(3) * of.found_each))
        return _share(
            base
            + draw(0, of.found_each, (CHILDREN, 1, 1))
            + draw(0, of.found_each, (CHILDREN, GPCS, 1))
            + draw(0, of.found_each, (1, GPCS, BANK))
        )

    def _level(self) -> Floats:
        """Logit of each slip rate, such that the mean over words is about the stage's."""
        half = 0.4 * self.none if not self.world.near_line else 0.7 * self.none
        share = np.choose(self.stage, [self.none, half, self.full])
        share = np.clip(share, 0.005, 0.97)
        spread = self.world.word**2 + self.world.week**2
        # a logit-normal's mean is about that of its centre shrunk by this much
        shrunk = np.sqrt(1 + spread * 3 / np.pi**2)
        return np.log(share / (1 - share)) * shrunk + self.wander

    def _teach(self) -> int:
        """Teach what is due; the place of the newest GPC."""
        newest = min(TAUGHT_AT_START - 1 + self.number, GPCS - 1)
        for gpc in np.nonzero(~self.taught[: newest + 1])[0]:
            ease = np.log(self.world.got / (1 - self.world.got)) + self.world.ability * self.able
            ease += 1.5 * (self.number == 0) - self.hard[gpc]
            got = self.chance.random(CHILDREN) < _share(ease)
            half = self.chance.random(CHILDREN) < self.world.wobbly
            self.stage[:, gpc] = np.where(got, 2, np.where(half, 1, 0))
            self.taught[gpc] = True
        return newest

    def _learn(self, grouped: Flags) -> None:
        of = self.world
        able = np.exp(0.5 * self.able)[:, None]
        helped = of.up_home * np.sqrt(self.read) + of.up_group * grouped
        up = np.where(self.stage == 0, of.up_none, of.up_half) * able + helped
        down = np.where(self.read >= 4, 0.3 * of.down, of.down) / able
        drawn = self.chance.random(self.stage.shape)
        moved = np.where(drawn < up, 1, np.where(drawn > 1 - down, -1, 0)) * self.taught
        self.stage = np.clip(self.stage + moved, 0, 2)
        self.wander = 0.8 * self.wander + self.chance.normal(0, of.drift, self.wander.shape)

    def _evenings(self, newest: int, chance: Floats) -> dict[str, Ints]:
        """A week's readings: counts of shape ``(CHILDREN, GPCS)``, and which words of the bank."""
        shape = (CHILDREN, GPCS, BANK)
        lists = np.zeros((GPCS, BANK), np.bool_)
        for gpc in np.nonzero(self.taught)[0]:
            lists[gpc, self.chance.choice(BANK, 9 if gpc == newest else 2, replace=False)] = True
        totals = {name: np.zeros(shape, np.int64) for name in ("right", "slip", "unsure")}
        days = np.zeros(shape[:2], np.int64)
        evenings = np.zeros(CHILDREN, np.int64)
        for _ in range(EVENINGS):
            on = self.tool & (self.chance.random(CHILDREN) < self.keen)
            shown = self._shown(newest, lists) * on[:, None, None]
            heard = self._heard(shown, chance)
            evenings += on & (shown.sum((1, 2)) > 0)
            days += (heard["right"] + heard["slip"]).any(axis=2)
            for name, counts in heard.items():
                totals[name] += counts
        words = totals["right"] + totals["slip"] > 0
        self.lately = [*self.lately, words][-6:]
        counts = {name: each.sum(2) for name, each in totals.items()}
        counts |= {"days": days, "words": words.sum(2), "evenings": evenings}
        counts["lately"] = np.any(self.lately, axis=0).sum(2)
        self.read = counts["right"] + counts["slip"]
        self.slipped = 0.5 * self.slipped + counts["slip"]
        return counts

    def _shown(self, newest: int, lists: Flags) -> Ints:
        """One evening's words: the list's, words that come back, slipped ones, and what is in all.

        About seven with the newest GPC, one each of the GPCs 1, 2, 4, 7 and 14 places earlier on
        most evenings, one each of the three that slipped most lately; and letters met in all words.
        """
        shown = np.zeros((CHILDREN, GPCS, BANK), np.int64)
        draw = self.chance.random
        shown[:, newest] = (draw((CHILDREN, BANK)) < 7 / 9) & lists[newest]
        for back in (1, 2, 4, 7, 14):
            if newest >= back:
                again = (draw((CHILDREN, BANK)) < 0.35) & lists[newest - back]
                shown[:, newest - back] += again
        most = np.argsort(-self.slipped, axis=1)[:, :3]
        for place in range(3):
            child = np.arange(CHILDREN)
            gpc = most[:, place]
            due = self.slipped[child, gpc] > 0.3
            shown[child, gpc, self.chance.integers(0, BANK, CHILDREN)] += due
        met = draw(shown.shape) < np.where(np.arange(GPCS) < 10, 0.1, 0.012)[None, :, None]
        return (shown + met) * self.taught[None, :, None]

    def _heard(self, shown: Ints, chance: Floats) -> dict[str, Ints]:
        rates, draw = self.world.hears, self.chance.binomial
        slips = draw(shown, chance)
        good = shown - slips
        found = draw(slips, self.found)
        passed = draw(slips - found, rates.slip_as_written / (1 - rates.slip_slip))
        false = draw(good, self.false)
        share = rates.right_as_written / (1 - rates.right_slip)
        right = draw(good - false, min(1.0, share))
        heard = {"right": right + passed, "slip": false + found}
        heard["unsure"] = shown - heard["right"] - heard["slip"]
        return heard

    def _summaries(self, week: Week, counts: dict[str, Ints], handed: Flags) -> tuple[Summary, ...]:
        made = datetime.combine(week.sunday, datetime.min.time(), UTC)
        return tuple(self._summary(n, week, made, counts) for n in range(CHILDREN) if handed[n])

    def _summary(self, n: int, week: Week, made: datetime, counts: dict[str, Ints]) -> Summary:
        heard = counts["right"][n] + counts["slip"][n] + counts["unsure"][n]
        rows = [
            self._row(
                str(self.order.gpcs[g]), {name: int(each[n, g]) for name, each in counts.items()}
            )
            for g in np.nonzero(heard)[0]
        ]
        days = int(counts["days"][n].max())
        return Summary(
            self.code, self.pupils[n], week, made, self.number + 1, (), days, {}, 0, 0,
            tuple(sorted(rows, key=lambda row: row.gpc)),
        )  # fmt: skip

    def _row(self, gpc: str, own: dict[str, int]) -> SummaryRow:
        slips = {"other_gpc_value": own["slip"]} if own["slip"] else {}
        return SummaryRow(
            gpc, own["right"], slips, own["unsure"], 0, 0, own["days"], own["words"],
            max(own["lately"], own["words"]), 0,
        )  # fmt: skip


def codes_from(chance: np.random.Generator, count: int) -> list[str]:
    """Valid codes, all different, drawn from a seed."""
    found: list[str] = []
    while len(found) < count:
        text = "".join(chance.choice(list(codes.ALPHABET), codes.LENGTH - 1))
        last = codes.check_character(text)
        if last in codes.ALPHABET and text + last not in found:
            found.append(text + last)
    return found


def taught_gpcs(order: Order, taught: Flags) -> frozenset[Gpc]:
    """The GPCs that are marked as taught."""
    return frozenset(gpc for gpc, known in zip(order.gpcs, taught, strict=True) if known)


def _share(logit: Floats) -> Floats:
    return 1 / (1 + np.exp(-logit))


def _mean_share(logit: Floats, spread: float) -> Floats:
    """Mean of a logit-normal share, by Gauss and Hermite's rule."""
    weights = _WEIGHTS / _WEIGHTS.sum()
    return (_share(logit[..., None] + spread * _NODES) * weights).sum(-1)


def _logit_for(mean: float, spread: float) -> float:
    """The centre of a logit-normal with a given mean."""
    low, high = -12.0, 12.0
    for _ in range(60):
        middle = (low + high) / 2
        if float(_mean_share(np.array(middle), spread)) < mean:
            low = middle
        else:
            high = middle
    return low
