"""What can go wrong with what is kept: each error says what, why and what to do next."""

from __future__ import annotations

from speech.trouble import Trouble


class RecordTrouble(Trouble):
    """Something about consent or the log that the adult can mend."""


class BadLabel(RecordTrouble):
    """A child's label that cannot be used."""


class BadCode(RecordTrouble):
    """A pupil's or class's code that was miswritten."""


class FamilyUnreadable(RecordTrouble):
    """What the school sent home, or the key for summaries, is damaged."""


class ConsentMissing(RecordTrouble):
    """The choice that this needs has not been given, or was given for other words."""


class ConsentUnreadable(RecordTrouble):
    """The consent file is damaged; nothing may be assumed from it."""


class TodayUnreadable(RecordTrouble):
    """The note of the sound a class is on is damaged."""


class HomeUnwritable(RecordTrouble):
    """The folder where Wordhearth keeps things cannot be written."""


class LogTrouble(RecordTrouble):
    """The log could not be read or written."""


class LogLocked(LogTrouble):
    """Another program holds the log."""


class LogReadOnly(LogTrouble):
    """The log or its folder may not be written."""


class LogCorrupt(LogTrouble):
    """The log is damaged; it has been set aside, never overwritten."""


class LogTooNew(LogTrouble):
    """A later version of Wordhearth wrote the log."""


class LogDisk(LogTrouble):
    """The disk is full or failing."""
