"""Counting is checked against a plain count made another way, on turns of every shape."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from companion.record.tally import GpcCount, joined, tally
from companion.record.turns import OVERRULES, KeptTurn, Try, Turn
from companion.record.weeks import Week

WORDS = {
    "pine": ("p /P/", "i-e /AY/", "n /N/"),
    "pop": ("p /P/", "o /AA/", "p /P/"),
    "hope": ("h /HH/", "o-e /OW/", "p /P/"),
}
VERDICTS = ("as_written", "slip", "other_word", "sounded_out", "silent", "unsure")
KINDS = ("short_for_split", "e_sounded", "sound_added")


@st.composite
def tries(draw: st.DrawFn, gpcs: tuple[str, ...]) -> Try:
    verdict = draw(st.sampled_from(VERDICTS))
    slip = draw(st.sampled_from(KINDS)) if verdict == "slip" else None
    # an added sound may belong to no GPC
    gpc = draw(st.sampled_from((*gpcs, None))) if verdict == "slip" else None
    evidence = {"as_written": gpcs, "slip": () if gpc is None else (gpc,)}.get(verdict, ())
    return Try(verdict, slip, gpc, "P", None, None, {}, {}, 1.0, evidence)


@st.composite
def turns(draw: st.DrawFn) -> Turn:
    word = draw(st.sampled_from(sorted(WORDS)))
    made = draw(st.lists(tries(WORDS[word]), min_size=1, max_size=2))
    overrule = draw(st.sampled_from((None, None, *OVERRULES)))
    return Turn(word, WORDS[word], tuple(made), overrule)


@st.composite
def kept_turns(draw: st.DrawFn, days: int = 7) -> list[KeptTurn]:
    found = []
    for number, turn in enumerate(draw(st.lists(turns(), max_size=25))):
        day = date(2026, 11, 23) + timedelta(days=draw(st.integers(0, days - 1)))
        at = datetime(day.year, day.month, day.day, 17, tzinfo=UTC)
        found.append(KeptTurn(number, 1, at, day, turn))
    return found


@given(kept_turns())
def test_counts_add_up(found: list[KeptTurn]) -> None:
    counts = tally(found)
    assert counts.turns == len(found) == sum(counts.verdicts.values()) + counts.left_out
    for each in counts.gpcs:
        assert each.readings == each.as_written + sum(each.slips.values())
        assert each.days <= min(each.readings, 7)
        assert each.words <= min(each.readings, len(WORDS))
        assert (each.readings == 0) == (each.days == 0) == (each.words == 0)
        assert bool(each.slipped_words) == (each.slipped > 0)
        aside = each.could_not_tell + each.sounded_out + each.other
        assert each.readings + aside + each.overruled > 0
        assert each.readings + aside <= counts.turns - counts.left_out
        assert each.overruled <= counts.overruled


@given(kept_turns())
def test_each_gpc_is_counted_once_a_turn_on_the_last_try_or_the_adults_word(
    found: list[KeptTurn],
) -> None:
    counts = {each.gpc: each for each in tally(found).gpcs}
    for gpc in {gpc for gpcs in WORDS.values() for gpc in gpcs}:
        right = slipped = unsure = sounded = other = overruled = 0
        for kept in found:
            turn, last = kept.turn, kept.turn.tries[-1]
            overruled += turn.overrule is not None and gpc in turn.gpcs
            if turn.overrule == "skip":
                continue
            said = last.verdict if turn.overrule is None else turn.overrule
            if said == "as_written":
                right += gpc in turn.gpcs
            elif last.verdict == "slip":
                slipped += last.gpc == gpc
            elif said == "unsure":
                unsure += gpc in turn.gpcs
            elif said == "sounded_out":
                sounded += gpc in turn.gpcs
            else:
                other += gpc in turn.gpcs
        one = counts.get(gpc, GpcCount(gpc, 0, {}, 0, 0, 0))
        assert (right, slipped, unsure) == (one.as_written, one.slipped, one.could_not_tell)
        assert (sounded, other, overruled) == (one.sounded_out, one.other, one.overruled)


@given(kept_turns(), st.randoms(use_true_random=False))
def test_the_order_of_turns_changes_nothing(found: list[KeptTurn], random: object) -> None:
    mixed = list(found)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    assert tally(mixed) == tally(found)


@given(kept_turns(), kept_turns())
def test_joined_counts_are_never_more_than_the_turns_say(
    one: list[KeptTurn], other: list[KeptTurn]
) -> None:
    together, apart = tally([*one, *other]), joined(tally(one), tally(other))
    assert (apart.turns, apart.verdicts, apart.left_out, apart.overruled, apart.days) == (
        together.turns, together.verdicts, together.left_out, together.overruled, together.days
    )  # fmt: skip
    for mine, true in zip(apart.gpcs, together.gpcs, strict=True):
        assert (mine.gpc, mine.as_written, mine.slips, mine.could_not_tell) == (
            true.gpc, true.as_written, true.slips, true.could_not_tell
        )  # fmt: skip
        assert mine.days <= true.days and mine.words <= true.words


@given(st.dates(date(1990, 1, 1), date(2100, 12, 31)))
def test_weeks_are_iso_8601(day: date) -> None:
    """Against the standard library's own ``%G-W%V`` (ISO 8601:2004 week dates, from memory)."""
    week = Week.of(day)
    assert str(week) == day.strftime("%G-W%V")
    assert Week.parse(str(week)) == week
    assert week.monday <= day <= week.sunday
    assert (week.sunday - week.monday).days == 6
    assert Counter(Week.of(week.monday + timedelta(days=n)) for n in range(8))[week] == 7
