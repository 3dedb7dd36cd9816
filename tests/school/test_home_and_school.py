"""What a home keeps of its school, and what it hands in: the week sheet's own counts, no more."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from datetime import timedelta

import pytest
from invented_homes import MONDAY, PASSPHRASE, QUICK, WEEK, Place

from companion.phonics.gpc import Gpc
from companion.practice.plan import plan
from companion.record import consent, erasure, handing
from companion.record.consent import HandInPermit, LogPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import ConsentMissing, FamilyUnreadable
from companion.record.weeks import Week
from companion.report import family_file, home_school
from companion.report.trouble import ClassKeyChanged, NothingToHandIn, NotJoined, Tampered
from companion.report.week import week_sheet
from companion.school import family, teaching
from companion.school.handover import hand_over
from companion.school.lock import Passphrase

FRIDAY = MONDAY + timedelta(days=4)


def test_a_family_joins_in_one_step_and_the_plan_follows_the_school(place: Place) -> None:
    found = home_school.joined(place.homes[0].folder)
    assert found is not None and found.pupil == place.codes[0]
    school = home_school.teaching(found)
    assert school.today == (Gpc("i-e", ("AY",)),) and school.gpcs[-1:] == school.today
    assert set(school.gpcs) == teaching.taught(place.book)
    assert "said" in school.sight
    made = plan((), school, MONDAY.date())
    shown = {word.word for part in made.parts if part.name == "practise" for word in part.words}
    assert found.words is not None and shown & set(found.words.words)


def test_the_next_weeks_list_reaches_the_home(place: Place) -> None:
    home, week = place.homes[0], Week(2026, 49)
    words = teaching.weekly_list(place.book, WEEK)
    assert words is not None
    fresh = replace(words, words=("cube", "tune"), pseudo=(), pairs=(), title="u-e at last")
    teaching.set_weekly_list(place.book, week, fresh)
    home.join(family_file.short_text(family.family_file(place.book, place.codes[0], week)))
    found = home_school.joined(home.folder)
    assert found is not None and found.words is not None
    assert (found.week, found.words.words) == (week, ("cube", "tune"))


def test_a_class_key_that_changed_is_asked_about(place: Place) -> None:
    home = place.homes[0]
    hand_over(place.book, Passphrase("another four word passphrase"), new_keys=True, **QUICK)
    text = family_file.to_text(family.family_file(place.book, place.codes[0], WEEK))
    with pytest.raises(ClassKeyChanged, match="Ask the school"):
        home.join(text)
    before = home_school.joined(home.folder)
    assert before is not None and before.public_key != place.book.public_key
    home.join(text, new_key=True)
    after = home_school.joined(home.folder)
    assert after is not None and after.public_key == place.book.public_key


def test_what_is_handed_in_is_what_the_week_sheet_counts(place: Place) -> None:
    home = place.homes[0]
    with Log.open(home.folder.log) as log:
        log.overrule(LogPermit(home.folder), 1, "as_written")
        log.overrule(LogPermit(home.folder), 2, "skip")
        sheet = week_sheet(log, WEEK)
        turns = log.turns(WEEK.monday, WEEK.sunday)
    summary = home.hand_in(FRIDAY).summary
    assert summary.verdicts == {name: n for name, n in sheet.verdicts.items() if n}
    assert (summary.days, summary.left_out, summary.overruled) == (3, 1, 2)
    rows = {row.gpc: row for row in sheet.rows}
    for row in summary.rows:
        if row.readings or row.could_not_tell:
            found = rows[row.gpc]
            assert (row.as_written, row.slips, row.could_not_tell, row.days, row.words) == (
                found.as_written, found.slips, found.could_not_tell, found.days, found.words
            )  # fmt: skip
    overruled = Counter(gpc for kept in turns[:2] for gpc in set(kept.turn.gpcs))
    assert {row.gpc: row.overruled for row in summary.rows if row.overruled} == overruled


def test_words_of_the_last_six_weeks_are_counted_at_home_and_not_named(place: Place) -> None:
    home = place.homes[0]
    home.read(["pine", "time", "wide"], MONDAY - timedelta(weeks=5), slip_rate=0.0, seed=3)
    home.read(["smile", "slide"], MONDAY - timedelta(weeks=6), slip_rate=0.0, seed=3)
    made = home.hand_in(FRIDAY)
    (row,) = (row for row in made.summary.rows if row.gpc == "i-e /AY/")
    with Log.open(home.folder.log) as log:
        turns = log.turns((MONDAY - timedelta(weeks=5)).date())
    words = {
        kept.turn.word
        for kept in turns
        if kept.turn.outcome and row.gpc in kept.turn.outcome.evidence
    }
    assert row.words_lately == len(words) > row.words
    assert not [word for word in words if word.encode() in made.data]


def test_each_summary_has_its_own_number_and_all_of_a_home_one_key(place: Place) -> None:
    home = place.homes[0]
    made = [home.hand_in(FRIDAY + timedelta(minutes=n)) for n in range(3)]
    assert [each.summary.number for each in made] == [1, 2, 3]
    assert len({each.family_key for each in made}) == 1
    other = place.homes[1].hand_in(FRIDAY)
    assert other.family_key != made[0].family_key and other.summary.number == 1


def test_nothing_is_made_without_a_recorded_yes_to_handing_in(place: Place) -> None:
    home = place.homes[0]
    consent.take_back(home.folder, ["hand_in"])
    with pytest.raises(ConsentMissing, match="make summaries for school"):
        HandInPermit(home.folder)
    with pytest.raises(ConsentMissing):
        home.hand_in(FRIDAY)
    assert not home.folder.handing.exists()


def test_a_permit_that_was_taken_back_meanwhile_makes_nothing(place: Place) -> None:
    home = place.homes[0]
    permit = HandInPermit(home.folder)
    consent.take_back(home.folder, ["hand_in"])
    with Log.open(home.folder.log) as log, pytest.raises(ConsentMissing):
        home_school.make_sealed(permit, log, WEEK, FRIDAY)


def test_joining_needs_a_recorded_yes_to_practising(place: Place) -> None:
    home = place.homes[0]
    permit = PractisePermit(home.folder)
    consent.take_back(home.folder, ["practise"])
    with pytest.raises(ConsentMissing):
        home_school.join(permit, home.folder.family.read_text())


def test_withdrawing_erases_the_key_and_all_of_it_the_sheet_too(place: Place) -> None:
    home = place.homes[0]
    key = home.hand_in(FRIDAY).family_key
    done = erasure.withdraw(home.folder, ["hand_in"])
    assert done.choices == ("hand_in",) and done.files == 1
    assert not home.folder.handing.exists() and home.folder.family.exists()
    consent.give(home.folder, ["hand_in"], FRIDAY)
    assert home.hand_in(FRIDAY).family_key != key
    erasure.withdraw_all(home.folder)
    assert not home.folder.path.exists()


@pytest.mark.parametrize(
    ("week", "why"),
    [
        (Week(2026, 49), "still to come"),
        (Week(2026, 46), "nothing was read"),
        (Week(2026, 38), "8 weeks only"),
    ],
)
def test_a_week_without_readings_makes_no_summary_and_spends_no_number(
    place: Place, week: Week, why: str
) -> None:
    home = place.homes[0]
    with pytest.raises(NothingToHandIn, match=why):
        home.hand_in(FRIDAY, week)
    assert home.hand_in(FRIDAY).summary.number == 1


def test_a_home_without_a_sheet_is_told_what_to_load(place: Place) -> None:
    home = place.homes[0]
    home.folder.family.unlink()
    with pytest.raises(NotJoined, match="wordhearth join"):
        home.hand_in(FRIDAY)


def test_a_bad_sheet_leaves_the_good_one_in_its_place(place: Place) -> None:
    home = place.homes[0]
    before = home.folder.family.read_bytes()
    with pytest.raises(Tampered):
        home.join(before.decode().replace("kite", "kits"))
    assert home.folder.family.read_bytes() == before


def test_damaged_files_say_so_and_loading_again_mends_them(place: Place) -> None:
    home = place.homes[0]
    text = home.folder.family.read_text()
    home.folder.family.write_text(text[:200])
    with pytest.raises(FamilyUnreadable, match="wordhearth join"):
        home.hand_in(FRIDAY)
    home.join(text)
    home.hand_in(FRIDAY)
    home.folder.handing.write_text('{"format": 1}')
    with pytest.raises(FamilyUnreadable, match="new key"):
        home.hand_in(FRIDAY)


def test_another_code_gets_another_key(place: Place) -> None:
    """A child who changes school cannot be followed by a key."""
    folder = place.homes[0].folder
    one = handing.next_number(HandInPermit(folder), "W7T7Y6", "7K3QFY")
    other = handing.next_number(HandInPermit(folder), "W7T7Y6", "7K3Q4J")
    assert one.family_key != other.family_key and other.number == 1
    assert "seed" not in repr(one) and json.loads(folder.handing.read_text())["number"] == 1


def test_only_this_user_may_read_the_key(place: Place) -> None:
    home = place.homes[0]
    home.hand_in(FRIDAY)
    assert home.folder.handing.stat().st_mode & 0o077 == 0
    assert (
        isinstance(home.folder, ChildFolder) and PASSPHRASE not in home.folder.handing.read_text()
    )
