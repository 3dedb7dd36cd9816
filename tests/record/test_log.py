"""A committed turn is on disk, whatever happens next, and nothing is written without consent."""

from __future__ import annotations

import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import textwrap
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest

from companion.record import consent, schema
from companion.record.consent import LogPermit
from companion.record.faults import set_aside
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.tally import tally
from companion.record.trouble import (
    ConsentMissing,
    LogCorrupt,
    LogDisk,
    LogLocked,
    LogReadOnly,
    LogTooNew,
)
from companion.record.turns import OVERRULES, Turn

MakeTurn = Callable[..., Turn]
Later = Callable[[float], datetime]


def words(path: Path) -> list[str]:
    with Log.open(path) as log:
        return [kept.turn.word for kept in log.turns()]


def fill(log: Log, permit: LogPermit, turn: MakeTurn, later: Later, count: int = 3) -> int:
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    for number in range(count):
        log.add_turn(permit, sitting, turn(word=f"word{'abcdefghij'[number]}"), later(0))
    return sitting


def test_a_turn_comes_back_as_it_was(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = log.start_sitting(permit, "i-e", "northern", later(0))
    given = [turn("silent", "slip"), turn("unsure", "unsure", overrule="skip"), turn()]
    numbers = [log.add_turn(permit, sitting, each, later(0.25)) for each in given]
    log.end_sitting(permit, sitting, later(0.5))
    kept = log.turns()
    assert [each.turn for each in kept] == given
    assert [each.id for each in kept] == numbers
    assert {each.at for each in kept} == {later(0.25)}
    assert kept[0].day == date(2026, 11, 23)
    (row,) = log.sittings()
    assert (row.list_name, row.accent, row.started, row.ended) == (
        "i-e", "northern", later(0), later(0.5)
    )  # fmt: skip


def test_turns_are_chosen_by_day_both_ends_included(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    for day in range(4):
        log.add_turn(permit, sitting, turn(word="pine"), later(day))
    assert len(log.turns(later(1).date(), later(2).date())) == 2
    assert len(log.turns(first=later(3).date())) == 1
    assert log.turns(last=later(-1).date()) == ()


def test_no_turn_is_kept_once_consent_is_taken_back(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = fill(log, permit, turn, later, 1)
    consent.take_back(permit.folder, ["keep_log"])
    with pytest.raises(ConsentMissing):
        log.add_turn(permit, sitting, turn(word="late"), later(0))
    assert [kept.turn.word for kept in log.turns()] == ["worda"]


def test_one_childs_permit_does_not_write_anothers_log(
    log: Log, permit: LogPermit, home: Path, later: Later
) -> None:
    gull = ChildFolder(home, "gull")
    consent.give(gull, ["keep_log"], later(0))
    with pytest.raises(ValueError, match="permit for"):
        log.start_sitting(LogPermit(gull), "i-e", None, later(0))


def test_a_time_without_an_offset_is_refused(log: Log, permit: LogPermit) -> None:
    with pytest.raises(ValueError, match="offset"):
        log.start_sitting(permit, "i-e", None, datetime(2026, 11, 23))


def test_an_adult_may_say_otherwise_and_take_it_back(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    number = log.add_turn(permit, sitting, turn("slip"), later(0))
    for said in (*OVERRULES, None):
        log.overrule(permit, number, said)
        assert log.turns()[0].turn.overrule == said
    with pytest.raises(KeyError):
        log.overrule(permit, number + 1, "skip")
    with pytest.raises(ValueError, match="wrong"):
        log.overrule(permit, number, "wrong")


def test_a_verdict_outside_the_six_is_never_stored(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    with pytest.raises(sqlite3.IntegrityError):
        log.add_turn(permit, sitting, turn("wrong"), later(0))
    assert log.turns() == ()


def test_deleted_words_are_overwritten_and_commits_are_synced(log: Log) -> None:
    db = log._db
    assert db.execute("PRAGMA secure_delete").fetchone()[0] == 1
    assert db.execute("PRAGMA synchronous").fetchone()[0] == 3  # EXTRA
    assert db.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
    assert db.execute("PRAGMA user_version").fetchone()[0] == schema.VERSION


def test_a_log_that_another_program_holds_is_locked_and_loses_nothing(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = fill(log, permit, turn, later)
    other = sqlite3.connect(log.path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(LogLocked, match="in use"):
        log.add_turn(permit, sitting, turn(word="more"), later(0))
    with pytest.raises(LogLocked):
        Log.open(log.path, wait_s=0.05)
    other.execute("ROLLBACK")
    other.close()
    log.add_turn(permit, sitting, turn(word="more"), later(0))
    assert [kept.turn.word for kept in log.turns()] == ["worda", "wordb", "wordc", "more"]


@pytest.mark.parametrize("damage", ["not a database", "overwritten middle", "cut short"])
def test_a_damaged_log_is_set_aside_whole_and_a_fresh_one_begins(
    permit: LogPermit, turn: MakeTurn, later: Later, damage: str
) -> None:
    path = permit.folder.log
    with Log.open(path) as log:
        sitting = fill(log, permit, turn, later, 1)
        for number in range(12):
            log.add_turn(permit, sitting, turn(word=f"w{number}"), later(0))
    data = bytearray(path.read_bytes())
    if damage == "not a database":
        data = bytearray(b"Once upon a time there was a lighthouse. " * 500)
    elif damage == "overwritten middle":
        data[8192:20480] = b"\xaa" * 12288
    else:
        del data[len(data) // 2 :]
    path.write_bytes(data)
    with pytest.raises(LogCorrupt) as trouble:
        Log.open(path)
    (aside,) = path.parent.glob("log-damaged-*.db")
    assert aside.read_bytes() == data
    assert str(aside) in trouble.value.mend
    assert not path.exists()
    assert words(path) == []
    path.write_bytes(data)
    with pytest.raises(LogCorrupt):
        Log.open(path)
    assert len(list(path.parent.glob("log-damaged-*.db"))) == 2


def test_a_row_that_nobody_wrote_is_damage_not_a_crash(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    fill(log, permit, turn, later, 1)
    log._db.execute("UPDATE turn SET gpcs = '[not json'")
    with pytest.raises(LogCorrupt, match="set aside"):
        log.turns()
    assert not log.path.exists()


def test_a_journal_goes_aside_with_its_damaged_log(tmp_path: Path) -> None:
    """Left behind, it would be played into the next log of that name."""
    for name in ("log.db", "log.db-journal"):
        (tmp_path / name).write_text(name)
    set_aside(tmp_path / "log.db", "it was damaged")
    left = {path.name: path.read_text() for path in tmp_path.iterdir()}
    assert left == {"log-damaged-1.db": "log.db", "log-damaged-1.db-journal": "log.db-journal"}


def test_a_log_from_a_later_version_is_left_alone(log: Log) -> None:
    log._db.execute("PRAGMA user_version = 99")
    log.close()
    before = log.path.read_bytes()
    with pytest.raises(LogTooNew, match="version 99"):
        Log.open(log.path)
    assert log.path.read_bytes() == before


def test_a_full_disk_loses_only_the_turn_in_hand(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = fill(log, permit, turn, later)
    pages = log._db.execute("PRAGMA page_count").fetchone()[0]
    log._db.execute(f"PRAGMA max_page_count = {pages}")
    added = 0
    with pytest.raises(LogDisk, match="full"):
        for _ in range(1000):
            log.add_turn(permit, sitting, turn(word="more"), later(0))
            added += 1
    log.close()
    assert len(words(log.path)) == 3 + added


WRITER = textwrap.dedent(
    """
    import sys
    from datetime import datetime, timezone
    from pathlib import Path
    from companion.record.consent import LogPermit
    from companion.record.home import ChildFolder
    from companion.record.log import Log
    from companion.record.turns import Try, Turn

    now = datetime(2026, 11, 23, 16, 30, tzinfo=timezone.utc)
    permit = LogPermit(ChildFolder(Path(sys.argv[1]), "puffin"))
    done = Try("as_written", None, None, "P AY N", None, None, {}, {}, 1.0, ("i-e /AY/",))
    with Log.open(permit.folder.log) as log:
        sitting = log.start_sitting(permit, "i-e", None, now)
        for number in range(int(sys.argv[2])):
            log.add_turn(permit, sitting, Turn(f"word{number}", ("i-e /AY/",), (done,)), now)
            print(number, flush=True)
    """
)


def test_every_turn_committed_before_kill_9_is_there_after_it(
    permit: LogPermit, home: Path
) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(home), "100000"], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    told = [int(writer.stdout.readline()) for _ in range(25)]
    writer.send_signal(signal.SIGKILL)
    told += [int(line) for line in writer.stdout.read().splitlines() if line]
    writer.stdout.close()
    assert writer.wait() == -signal.SIGKILL
    kept = words(permit.folder.log)
    # one more may have been committed and not yet told when the end came
    assert kept[: len(told)] == [f"word{number}" for number in told]
    assert len(kept) - len(told) in (0, 1)
    db = sqlite3.connect(permit.folder.log)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    db.close()


def test_a_transaction_cut_off_half_way_is_undone(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later, tmp_path: Path
) -> None:
    """A copy of log and journal taken inside a transaction is what a power cut leaves."""
    fill(log, permit, turn, later)
    log._db.execute("PRAGMA cache_size = 1")  # so that changed pages reach the file early
    log._db.execute("BEGIN IMMEDIATE")
    log._db.execute("UPDATE turn SET word = 'changed'")
    for number in range(200):
        log._db.execute(
            "INSERT INTO turn (sitting, at, day, word, gpcs) VALUES (1, '', '', ?, '[]')",
            (f"half{number}",),
        )
    cut = tmp_path / "cut"
    cut.mkdir()
    for name in ("log.db", "log.db-journal"):
        shutil.copy(log.path.with_name(name), cut / name)
    log._db.execute("ROLLBACK")
    assert (
        b"half150" in (cut / "log.db").read_bytes() or b"changed" in (cut / "log.db").read_bytes()
    )
    assert words(cut / "log.db") == ["worda", "wordb", "wordc"]


def test_a_log_that_may_only_be_read_is_read_and_says_why_it_is_not_written(
    open_folder: Path, later: Later, turn: MakeTurn
) -> None:
    """Run as another user where this one is root, whom no permission stops."""
    puffin = ChildFolder(open_folder, "puffin")
    consent.give(puffin, ["keep_log"], later(0))
    permit = LogPermit(puffin)
    with Log.open(puffin.log) as log:
        fill(log, permit, turn, later)
    reader = textwrap.dedent(
        """
        import os, sys
        from datetime import datetime, timezone
        from pathlib import Path
        from companion.record.consent import LogPermit
        from companion.record.home import ChildFolder
        from companion.record.log import Log
        from companion.record.trouble import LogReadOnly

        if os.getuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        puffin = ChildFolder(Path(sys.argv[1]), "puffin")
        with Log.open(puffin.log) as log:
            print(len(log.turns()))
            try:
                log.start_sitting(LogPermit(puffin), "i-e", None, datetime.now(timezone.utc))
            except LogReadOnly as error:
                print(type(error).__name__)
        """
    )
    puffin.log.chmod(0o444)
    puffin.consent.chmod(0o444)
    puffin.path.chmod(0o555)
    try:
        done = subprocess.run(
            [sys.executable, "-c", reader, str(open_folder)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
    finally:
        puffin.path.chmod(0o755)
    assert (done.stdout.split(), done.stderr) == (["3", LogReadOnly.__name__], "")


def test_a_disk_that_refuses_a_write_is_told_and_what_was_kept_stays(
    permit: LogPermit, home: Path
) -> None:
    """The operating system's own limit on the size of a file stands in for a disk that is full."""

    def limited() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (65_000, 65_000))

    writer = subprocess.run(
        [sys.executable, "-B", "-c", WRITER, str(home), "100000"],
        capture_output=True, text=True, check=False, preexec_fn=limited,
    )  # fmt: skip
    assert writer.returncode == 1
    assert LogDisk.__name__ in writer.stderr
    told = writer.stdout.split()
    assert len(told) > 3
    assert len(words(permit.folder.log)) == len(told)


def test_weeks_together_count_what_each_week_counts_alone(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    shapes = [turn(), turn("silent", "slip"), turn("unsure", overrule="not"), turn("sounded_out")]
    for day in range(0, 70, 3):
        log.add_turn(permit, sitting, shapes[day % 4], later(day))
    log.roll_up(later(30).date())
    first, last = log.span() or (None, None)
    assert first is not None and last is not None
    assert (first.monday, last.monday) == (later(0).date(), later(63).date())
    together = log.weeks(first, last)
    assert [week.monday for week, _ in together] == [later(7 * n).date() for n in range(10)]
    assert all(counts == log.week(week) for week, counts in together)
    kept = log.turns(later(35).date(), later(41).date())
    assert log.week(together[5][0]) == tally(kept)
    assert log.weeks(first, first) == together[:1]


def test_one_turn_is_found_by_its_number(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    assert log.span() is None
    fill(log, permit, turn, later)
    assert [log.turn(kept.id) for kept in log.turns()] == list(log.turns())
    with pytest.raises(KeyError):
        log.turn(99)


def test_a_roll_up_that_is_cut_off_goes_on_where_it_stopped(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    for day in range(0, 28, 2):
        log.add_turn(permit, sitting, turn(), later(day))
    first, last = log.span() or (None, None)
    assert first is not None and last is not None
    before = log.weeks(first, last)
    told: list[tuple[int, int]] = []

    def stop_at_the_third(done: int, total: int) -> None:
        told.append((done, total))
        if len(told) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        log.roll_up(later(100).date(), stop_at_the_third)
    assert told == [(0, 14), (4, 14), (7, 14)]
    assert len(log.past_weeks()) == 2 and len(log.turns()) == 7
    assert log.weeks(first, last) == before
    assert log.roll_up(later(100).date(), lambda done, total: told.append((done, total))) == 7
    assert told[3:] == [(0, 7), (4, 7), (7, 7)]
    counted = [(week, counts.turns, counts.verdicts, counts.days) for week, counts in before]
    after = log.weeks(first, last)
    assert [(week, each.turns, each.verdicts, each.days) for week, each in after] == counted
    assert log.turns() == () and log.sittings() == ()


def test_weeks_with_anything_in_them_are_found_whether_kept_singly_or_as_counts(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    assert log.weeks_read() == ()
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    for day in (0, 1, 15, 16, 40):
        log.add_turn(permit, sitting, turn(), later(day))
    before = log.weeks_read()
    assert [week.monday for week in before] == [later(day).date() for day in (0, 14, 35)]
    log.roll_up(later(22).date())
    assert log.weeks_read() == before and len(log.past_weeks()) == 2


def test_space_that_could_not_be_given_back_is_given_back_the_next_time(
    log: Log, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    """Somebody reads at that moment: the readings are rolled up all the same."""
    sitting = log.start_sitting(permit, "i-e", None, later(0))
    log.add_turn(permit, sitting, turn(), later(0))
    log._db.execute(
        "WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < 3000)"
        " INSERT INTO turn SELECT i, sitting, at, day, word, gpcs, overrule FROM n, turn"
    )
    log._db.execute(
        "INSERT INTO try SELECT turn.id, number, verdict, slip, gpc, heard, place_start,"
        " place_end, unit, p, p_slip, ms, evidence FROM try, turn WHERE turn.id > 1"
    )
    full = log.path.stat().st_size
    reader = sqlite3.connect(log.path, isolation_level=None)

    def hold_when_all_is_rolled_up(done: int, total: int) -> None:
        if done == total:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM past_week").fetchone()

    assert log.roll_up(later(100).date(), hold_when_all_is_rolled_up) == 3000
    assert log.path.stat().st_size == full and b"pine" not in log.path.read_bytes()
    reader.execute("ROLLBACK")
    reader.close()
    assert log.roll_up(later(100).date()) == 0
    assert log.path.stat().st_size < full / 4
    before = log.path.stat().st_mtime_ns
    assert log.roll_up(later(100).date()) == 0
    assert log.path.stat().st_mtime_ns == before, "nothing more to give back, nothing written"
