"""A parent's week says what the readings say: what to do first, and what is too early to tell."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from companion.phonics.gpc import table
from companion.record.consent import LogPermit, give
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.tally import tally
from companion.record.turns import KeptTurn, Try, Turn
from companion.record.weeks import Week
from companion.report.parent_week import ParentWeek, parent_week, read, tip_in_words

WEEK = Week(2026, 48)
MONDAY = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)
ORDER = table().order()
WORDS = {
    "pine": ("p /P/", "i-e /AY/", "n /N/"),
    "kite": ("k /K/", "i-e /AY/", "t /T/"),
    "nine": ("n /N/", "i-e /AY/", "n /N/"),
    "ride": ("r /R/", "i-e /AY/", "d /D/"),
}


def one(word: str, kind: str | None = None, verdict: str = "as_written", day: int = 0) -> KeptTurn:
    if kind is not None:
        verdict = "slip"
    evidence = {"as_written": WORDS[word], "slip": ("i-e /AY/",)}.get(verdict, ())
    last = Try(verdict, kind, "i-e /AY/" if kind else None, "", None, None, {}, {}, 1.0, evidence)
    at = MONDAY + timedelta(days=day)
    return KeptTurn(day + 1, 1, at, at.date(), Turn(word, WORDS[word], (last,)))


def week_of(*turns: KeptTurn) -> ParentWeek:
    return parent_week({WEEK: tally(turns)} if turns else {}, turns, WEEK, ORDER)


def busy() -> list[KeptTurn]:
    """Twelve readings of i-e on three days in four words: five slips of two kinds."""
    words = list(WORDS)
    good = [one(words[n % 4], day=n % 3) for n in range(7)]
    short = [one("pine", "short_for_split", day=n) for n in range(3)]
    return [*good, *short, one("kite", "short_for_split"), one("kite", "e_sounded", day=2)]


def test_the_most_frequent_slip_of_a_gpc_to_practise_comes_first_with_its_words() -> None:
    found = week_of(*busy())
    assert [(tip.kind, tip.times, tip.words) for tip in found.tips] == [
        ("short_for_split", 4, ("pine", "kite")),
        ("e_sounded", 1, ("kite",)),
    ]
    assert all(tip.row is not None and tip.row.state == "practise" for tip in found.tips)
    assert tip_in_words(found.tips[0]) == (
        "Heard 4 times: short vowel read, as if the e were not there (pin for pine), in pine, kite."
    )
    assert found.tips[0].advice.steps[-1].endswith("pine and kite.")


def test_slips_on_too_little_evidence_are_kept_apart() -> None:
    found = week_of(one("pine", "short_for_split"), one("kite"), one("nine"))
    assert found.tips == ()
    assert [(tip.kind, tip.times) for tip in found.early] == [("short_for_split", 1)]
    assert tip_in_words(found.early[0]).startswith("Heard once: ")


def test_words_sounded_out_and_not_joined_are_worth_a_mention_from_three_on() -> None:
    sounded = [one(word, verdict="sounded_out") for word in WORDS]
    assert week_of(*sounded[:2]).tips == ()
    (tip,) = week_of(*sounded).tips
    assert (tip.kind, tip.row, tip_in_words(tip)) == (
        "sounded_out", None, "Heard 4 times this week.",
    )  # fmt: skip


def test_a_week_without_readings_is_empty_and_says_nothing() -> None:
    found = week_of()
    assert (found.sheet.turns, found.tips, found.early, found.kept_singly) == (0, (), (), False)


def test_an_untaught_gpcs_slips_are_not_for_practice() -> None:
    found = parent_week({WEEK: tally(busy())}, busy(), WEEK, ORDER, frozenset())
    assert found.tips == () and found.early == ()
    assert {row.state for row in found.sheet.rows} == {"not yet taught"}


def test_a_week_of_which_only_counts_are_kept_still_says_what_to_do(tmp_path: object) -> None:
    folder = ChildFolder(tmp_path, "puffin")  # type: ignore[arg-type]
    give(folder, ["keep_log"], MONDAY)
    with Log.open(folder.log) as log:
        permit = LogPermit(folder)
        sitting = log.start_sitting(permit, "i-e", None, MONDAY)
        for kept in busy():
            log.add_turn(permit, sitting, kept.turn, kept.at)
        before = read(log, WEEK)
        log.roll_up((MONDAY + timedelta(days=70)).date())
        after = read(log, WEEK)
    assert before.kept_singly and not after.kept_singly
    assert [(tip.kind, tip.times) for tip in after.tips] == [
        (tip.kind, tip.times) for tip in before.tips
    ]
    assert after.tips[0].words == () and after.marks == {}
    assert [row.state for row in after.sheet.rows] == [row.state for row in before.sheet.rows]
    assert after.trend == before.trend
