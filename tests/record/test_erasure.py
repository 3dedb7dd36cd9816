"""Erased means that the bytes are gone from every file, not that a row is marked as deleted."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.record import clips, consent, erasure, retention
from companion.record.consent import ClipPermit, LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import ConsentMissing, LogCorrupt, LogLocked
from companion.record.turns import Turn
from companion.record.weeks import Week
from speech.audio import Utterance

MakeTurn = Callable[..., Turn]
Later = Callable[[float], datetime]

WORDS = ("lighthouse", "saltmarrow", "gannet")
SOUND = Utterance(np.sin(np.arange(8000, dtype=np.float32) / 9.0))


def bytes_under(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def read_some(folder: ChildFolder, turn: MakeTurn, now: datetime) -> list[int]:
    permit = LogPermit(folder)
    with Log.open(folder.log, wait_s=0.1) as log:
        sitting = log.start_sitting(permit, "storm", None, now)
        numbers = [log.add_turn(permit, sitting, turn(word=word), now) for word in WORDS]
        log.end_sitting(permit, sitting, now)
    return numbers


@pytest.fixture
def busy(puffin: ChildFolder, turn: MakeTurn, later: Later) -> ChildFolder:
    """A child with everything chosen: readings, clips, and a damaged log set aside."""
    consent.give(puffin, consent.NAMES, later(0))
    read_some(puffin, turn, later(0))
    puffin.log.write_bytes(puffin.log.read_bytes()[:-6000])
    with pytest.raises(LogCorrupt):
        Log.open(puffin.log)
    for number in read_some(puffin, turn, later(0)):
        clips.keep(ClipPermit(puffin), number, 1, SOUND, later(0))
    return puffin


def test_withdrawing_everything_leaves_no_byte_of_it(busy: ChildFolder) -> None:
    before = bytes_under(busy.home)
    assert all(word.encode() in before for word in WORDS)
    assert len(clips.kept(busy.clips)) == 3
    done = erasure.withdraw_all(busy)
    assert done.choices == consent.NAMES
    assert (done.turns, done.files) == (3, 3 + 2 + 1 + 1)  # clips, logs, consent, the last look
    assert list(busy.home.iterdir()) == []


def test_withdrawing_the_log_leaves_the_consent_to_practise(busy: ChildFolder) -> None:
    done = erasure.withdraw(busy, ["keep_log"])
    assert done.choices == ("keep_log", "hand_in", "keep_clips")
    assert [path.name for path in busy.path.iterdir()] == ["consent.json"]
    assert not any(word.encode() in bytes_under(busy.home) for word in WORDS)
    assert consent.read(busy).holds("practise")


def test_withdrawing_clips_leaves_the_readings(busy: ChildFolder) -> None:
    assert erasure.withdraw(busy, ["keep_clips"]).files == 3
    assert not busy.clips.exists()
    with Log.open(busy.log) as log:
        assert len(log.turns()) == 3


def test_withdrawing_practise_or_summaries_erases_nothing(busy: ChildFolder) -> None:
    before = {path: path.read_bytes() for path in busy.path.rglob("*.db")}
    assert erasure.withdraw(busy, ["practise", "hand_in"]).files == 0
    assert {path: path.read_bytes() for path in busy.path.rglob("*.db")} == before


def test_clearing_a_log_takes_the_bytes_out_of_a_file_that_stays(
    puffin: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    consent.give(puffin, ["keep_log"], later(0))
    read_some(puffin, turn, later(0))
    with Log.open(puffin.log) as log:
        assert log.clear() == 3
        assert not any(word.encode() in bytes_under(puffin.home) for word in WORDS)
        assert log.sittings() == () and log.turns() == ()


def test_the_bytes_of_a_removed_file_are_overwritten_first(
    puffin: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    """A second name for the same file shows what erasing left in it."""
    consent.give(puffin, ["keep_log"], later(0))
    read_some(puffin, turn, later(0))
    (puffin.home / "other name").hardlink_to(puffin.log)
    erasure.withdraw_all(puffin)
    assert set((puffin.home / "other name").read_bytes()) <= {0}


def test_erasing_waits_for_an_open_sitting_but_nothing_more_is_kept(
    busy: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    permit = LogPermit(busy)
    writer = sqlite3.connect(busy.log, isolation_level=None)
    writer.execute("BEGIN IMMEDIATE")
    with pytest.raises(LogLocked, match="not erased yet"):
        erasure.withdraw_all(busy)
    with pytest.raises(ConsentMissing):
        permit.confirm()
    writer.execute("ROLLBACK")
    writer.close()
    erasure.withdraw_all(busy)
    assert list(busy.home.iterdir()) == []


def test_withdrawing_where_nothing_was_given_is_harmless(puffin: ChildFolder) -> None:
    assert erasure.withdraw_all(puffin) == erasure.Withdrawn((), 0, 0)
    assert erasure.withdraw(puffin, ["keep_log"]) == erasure.Withdrawn((), 0, 0)


def test_readings_become_counts_after_eight_weeks_and_their_words_are_gone(
    puffin: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    consent.give(puffin, ["keep_log"], later(0))
    read_some(puffin, turn, later(0))  # Monday 23 November: the week ends on Sunday the 29th
    week = Week.of(later(0).date())
    with Log.open(puffin.log) as log:
        before = log.week(week)
        last_day = later(6 + 56).date()  # eight weeks after that Sunday
        assert retention.tidy(puffin, log, last_day) == retention.Tidied(0, 0)
        assert retention.tidy(puffin, log, later(7 + 56).date()) == retention.Tidied(3, 0)
        assert log.turns() == () and log.sittings() == ()
        assert log.past_weeks() == (week,)
        assert log.week(week) == before
        assert retention.tidy(puffin, log, later(400).date()) == retention.Tidied(0, 0)
        assert log.week(week) == before
    assert not any(word.encode() in bytes_under(puffin.home) for word in WORDS)


def test_readings_of_a_week_already_counted_are_added_to_it(
    puffin: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    """A computer whose date was put back may read into a week that has been rolled up."""
    consent.give(puffin, ["keep_log"], later(0))
    week = Week.of(later(0).date())
    for _ in range(2):
        read_some(puffin, turn, later(0))
        with Log.open(puffin.log) as log:
            retention.tidy(puffin, log, later(100).date())
    with Log.open(puffin.log) as log:
        found = log.week(week)
    assert (found.turns, found.verdicts) == (6, {"as_written": 6})
    assert {(count.readings, count.days, count.words) for count in found.gpcs} == {(6, 1, 3)}


def test_clips_are_kept_for_seven_days_only_when_chosen(
    puffin: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    consent.give(puffin, ["practise", "keep_log"], later(0))
    with pytest.raises(ConsentMissing):
        ClipPermit(puffin)
    consent.give(puffin, ["keep_clips"], later(0))
    path = clips.keep(ClipPermit(puffin), 12, 2, SOUND, later(0))
    samples, rate = soundfile.read(path, dtype="float32")
    assert rate == 16_000
    assert np.abs(samples - np.clip(SOUND.samples, -1, 1)).max() < 2**-14  # 16 bit
    assert retention.tidy(puffin, None, later(7).date()).clips == 0
    assert retention.tidy(puffin, None, later(8).date()).clips == 1
    assert clips.kept(puffin.clips) == ()


def test_a_clips_name_says_nothing_of_the_word_or_the_child(
    puffin: ChildFolder, later: Later
) -> None:
    consent.give(puffin, consent.NAMES, later(0))
    path = clips.keep(ClipPermit(puffin), 12, 2, SOUND, later(0))
    assert path.name == "2026-11-23_turn000012_try2.flac"
