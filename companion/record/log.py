"""The log: every sitting and turn a family chose to keep, in one SQLite file.

A turn is on disk when `Log.add_turn` returns: kill the program or pull the plug, and every turn
committed before is there. Writing needs a `LogPermit`, which only a recorded consent yields.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from types import TracebackType

from companion.record import queries, rolling, rows, schema
from companion.record.consent import LogPermit
from companion.record.faults import set_aside, translated
from companion.record.files import unwritable
from companion.record.soundness import Watch
from companion.record.tally import Tally, joined, tally
from companion.record.trouble import LogCorrupt, LogLocked, LogReadOnly, LogTooNew
from companion.record.turns import OVERRULES, KeptTurn, Sitting, Turn
from companion.record.weeks import Week

WAIT_S = 5.0
"""Seconds to wait for another program to finish with the log before saying it is locked."""


class Log:
    """One child's log. Use `Log.open`, and close it or use it in a ``with`` statement."""

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db
        self._watch = Watch(path)

    @classmethod
    def open(cls, path: Path, wait_s: float = WAIT_S) -> Log:
        """Open a log, making it when there is none, and check that it is whole.

        It is read through once a day, and whenever anything but this program has touched it; see
        `companion.record.soundness`.

        Parameters
        ----------
        path : Path
            The file. Its folder is made, readable by this user only, when missing.
        wait_s : float
            Seconds to wait for a lock that another program holds.

        Raises
        ------
        LogCorrupt
            The file is damaged or is not a log; it has been set aside under another name.
        LogLocked, LogReadOnly, LogDisk, LogTooNew
            See `companion.record.trouble`.
        """
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise unwritable(path, error) from error
        try:
            db = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
        except sqlite3.Error as error:
            raise translated(error, path) from error
        log = cls(path, db)
        try:
            with log._gate():
                log._prepare()
        except BaseException:
            db.close()
            raise
        return log

    def close(self) -> None:
        """Let go of the file. Closing twice is harmless."""
        self._watch.close()
        self._db.close()

    def __enter__(self) -> Log:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # -- writing ---------------------------------------------------------------------------

    def start_sitting(
        self, permit: LogPermit, list_name: str, accent: str | None, now: datetime
    ) -> int:
        """Commit the start of a sitting, so that a log that cannot be written says so first.

        Parameters
        ----------
        permit : LogPermit
            This child's.
        list_name : str
            The list's name.
        accent : str or None
            The accent whose values counted as right; None for all of them.
        now : datetime
            Aware, in the family's time zone: its date is the sitting's day.

        Returns
        -------
        int
            The sitting's number.
        """
        self._check(permit, now)
        with self._change() as db:
            cursor = db.execute(
                "INSERT INTO sitting (started, day, list_name, accent) VALUES (?, ?, ?, ?)",
                (now.isoformat(), now.date().isoformat(), list_name, accent),
            )
            return _rowid(cursor)

    def add_turn(self, permit: LogPermit, sitting: int, turn: Turn, now: datetime) -> int:
        """Commit one turn, durably.

        Returns
        -------
        int
            The turn's number.

        Raises
        ------
        ConsentMissing
            The log's consent has been taken back since the permit was made.
        LogLocked, LogReadOnly, LogCorrupt, LogDisk
            The turn is not kept; every earlier one still is.
        """
        self._check(permit, now)
        with self._change() as db:
            cursor = db.execute(
                "INSERT INTO turn (sitting, at, day, word, gpcs, overrule)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (
                    sitting,
                    now.isoformat(),
                    now.date().isoformat(),
                    turn.word,
                    json.dumps(turn.gpcs),
                    turn.overrule,
                ),
            )
            number = _rowid(cursor)
            db.executemany(
                f"INSERT INTO try ({rows.TRY_COLUMNS}) VALUES ({rows.TRY_MARKS})",
                [rows.of_try(number, n, each) for n, each in enumerate(turn.tries, start=1)],
            )
            return number

    def end_sitting(self, permit: LogPermit, sitting: int, now: datetime) -> None:
        """Commit the end of a sitting."""
        self._check(permit, now)
        with self._change() as db:
            db.execute("UPDATE sitting SET ended = ? WHERE id = ?", (now.isoformat(), sitting))

    def overrule(self, permit: LogPermit, turn: int, said: str | None) -> None:
        """Record what an adult says of a turn; None takes it back.

        Raises
        ------
        KeyError
            No such turn.
        ValueError
            `said` is not one of `OVERRULES`.
        """
        self._check(permit)
        if said is not None and said not in OVERRULES:
            raise ValueError(f"{said!r} is not one of {', '.join(OVERRULES)}")
        with self._change() as db:
            done = db.execute("UPDATE turn SET overrule = ? WHERE id = ?", (said, turn))
            if done.rowcount == 0:
                raise KeyError(f"the log has no turn {turn}")

    def roll_up(self, before: date, told: Callable[[int, int], None] | None = None) -> int:
        """Turn single readings of every week that ended before a day into that week's counts.

        The readings' bytes are overwritten (``secure_delete``) and the free pages given back.
        A week keeps its readings until all of it is past: its state needs them together. Each
        week is a transaction of its own, so what is cut off goes on where it stopped.

        Parameters
        ----------
        before : date
            The first day whose week is left alone.
        told : callable, optional
            Called with the turns rolled up so far and all there are, before the first week and
            after each.

        Returns
        -------
        int
            How many turns were rolled up.
        """
        with self._gate():
            weeks = queries.weeks_before(self._db, before)
            total = queries.count(self._db, weeks[0].monday, weeks[-1].sunday) if weeks else 0
            spare = rolling.has_much_to_spare(self._db)
        if not weeks and not spare:
            return 0  # nothing is written, so that a log that may only be read still can be
        rolled = 0
        for week in weeks:
            if told is not None:
                told(rolled, total)
            with self._change() as db:
                rolled += rolling.roll_up_week(db, week)
        if told is not None:
            told(rolled, total)
        with suppress(LogLocked, LogReadOnly):  # the space is given back the next time
            self._give_back()
        return rolled

    def clear(self) -> int:
        """Delete everything in the log, overwriting it; needs no consent.

        Returns
        -------
        int
            How many turns there were.
        """
        with self._change("EXCLUSIVE") as db:
            count = rolling.clear(db)
        self._give_back()
        return count

    # -- reading ---------------------------------------------------------------------------

    def turns(self, first: date | None = None, last: date | None = None) -> tuple[KeptTurn, ...]:
        """Turns from day `first` to day `last`, both included, in the order they were read."""
        with self._gate():
            return queries.turns(self._db, first, last)

    def sittings(self) -> tuple[Sitting, ...]:
        """Sittings whose single readings are still kept, in order."""
        with self._gate():
            found = self._db.execute(
                "SELECT id, started, day, list_name, accent, ended FROM sitting ORDER BY id"
            )
            return tuple(rows.to_sitting(row) for row in found)

    def week(self, week: Week) -> Tally:
        """Counts of one week, whether its single readings are still kept or rolled up."""
        with self._gate(), self._snapshot():
            return self._counts(week, queries.counted(self._db, week.monday, week.sunday))

    def counted(self, first: date, last: date) -> tuple[KeptTurn, ...]:
        """Turns with their last try only, without what was heard or how sure: for counting."""
        with self._gate():
            return queries.counted(self._db, first, last)

    def weeks(self, first: Week, last: Week) -> tuple[tuple[Week, Tally], ...]:
        """Counts of each week from `first` to `last` in which anything was read, in order."""
        with self._gate(), self._snapshot():
            by_week: dict[Week, list[KeptTurn]] = {}
            for kept in queries.counted(self._db, first.monday, last.sunday):
                by_week.setdefault(Week.of(kept.day), []).append(kept)
            past = [week for week in queries.past_weeks(self._db) if first <= week <= last]
            found = sorted({*by_week, *past})
            return tuple((week, self._counts(week, by_week.get(week, ()))) for week in found)

    def count(self) -> int:
        """How many single readings are kept."""
        with self._gate():
            return queries.count(self._db, date.min, date.max)

    def weeks_read(self) -> tuple[Week, ...]:
        """The weeks with anything in them, single readings or counts, in order."""
        with self._gate():
            return queries.weeks_read(self._db)

    def span(self) -> tuple[Week, Week] | None:
        """The first and the last week with anything in them; None where there is nothing."""
        with self._gate():
            return queries.span(self._db)

    def moments(self, most: int) -> tuple[str, ...]:
        """When readings were kept, as written in the log: at most `most`, spread over it."""
        with self._gate():
            return queries.moments(self._db, most)

    def turn(self, number: int) -> KeptTurn:
        """One turn.

        Raises
        ------
        KeyError
            No single reading with that number is kept.
        """
        with self._gate():
            found = queries.turn(self._db, number)
        if found is None:
            raise KeyError(f"the log has no turn {number}")
        return found

    def past_weeks(self) -> tuple[Week, ...]:
        """The weeks of which only counts are kept, in order."""
        with self._gate():
            return queries.past_weeks(self._db)

    # -- inside ----------------------------------------------------------------------------

    def _prepare(self) -> None:
        schema.settings(self._db)
        found = schema.version(self._db)
        if found > schema.VERSION:
            raise LogTooNew(
                f"The log {self.path} cannot be used by this version",
                f"its tables are of version {found}, and this version knows {schema.VERSION}",
                "Update Wordhearth, then try again. Nothing in the log was changed.",
            )
        if self._watch.trusts() and found == schema.VERSION:
            return
        fault = self._db.execute("PRAGMA quick_check(1)").fetchone()[0]
        if fault != "ok":
            raise rows.DamagedRowError(f"the database's own check reports: {fault}")
        schema.migrate(self._db)
        self._watch.looked()

    @contextmanager
    def _gate(self) -> Iterator[None]:
        """The one place where SQLite's errors become ours."""
        try:
            yield
        except rows.DamagedRowError as error:
            self._db.close()
            raise set_aside(self.path, str(error)) from error
        except sqlite3.Error as error:
            trouble = translated(error, self.path)
            if isinstance(trouble, LogCorrupt):
                self._db.close()
                raise set_aside(self.path, trouble.why) from error
            raise trouble from error

    @contextmanager
    def _change(self, kind: str = "IMMEDIATE") -> Iterator[sqlite3.Connection]:
        """A transaction: all of it, or none."""
        with self._gate():
            self._db.execute(f"BEGIN {kind}")
            self._watch.before_change()
            try:
                yield self._db
                self._db.execute("COMMIT")
                self._watch.after_change()
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _give_back(self) -> None:
        """Give the pages that deleting has freed back to the disk."""
        with self._gate():
            self._watch.before_change()
            self._db.execute("VACUUM")
            self._watch.after_change()

    @contextmanager
    def _snapshot(self) -> Iterator[None]:
        """Several reads of the same moment."""
        self._db.execute("BEGIN")
        try:
            yield
        finally:
            self._db.execute("ROLLBACK")

    def _check(self, permit: LogPermit, now: datetime | None = None) -> None:
        if permit.folder.log != self.path:
            raise ValueError(f"a permit for {permit.folder.log} cannot write {self.path}")
        if now is not None and now.utcoffset() is None:
            raise ValueError("the log needs a time with its offset from UTC")
        permit.confirm()

    def _counts(self, week: Week, turns: Iterable[KeptTurn]) -> Tally:
        present, past = tally(turns), rows.read_past(self._db, week)
        return present if past is None else joined(past, present)


def _rowid(cursor: sqlite3.Cursor) -> int:
    if cursor.lastrowid is None:  # SQLite sets it after every insert into a rowid table
        raise RuntimeError("an insert gave no row number")
    return cursor.lastrowid
