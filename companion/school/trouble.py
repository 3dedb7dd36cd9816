"""What can go wrong with the class book: each error says what, why and what to do next."""

from __future__ import annotations

from speech.trouble import Trouble


class SchoolTrouble(Trouble):
    """Something about the class book that the teacher can mend."""


class BookMissing(SchoolTrouble):
    """There is no class book at that place."""


class BookExists(SchoolTrouble):
    """There is something at that place already; nothing is overwritten."""


class BookDamaged(SchoolTrouble):
    """The file is no class book, or is damaged. It is left as it is."""


class BookTooNew(SchoolTrouble):
    """A later version of Wordhearth wrote the book."""


class BookBusy(SchoolTrouble):
    """Another program is writing the book."""


class BookUnwritable(SchoolTrouble):
    """The book, its folder or its disk may not be written, or is full."""


class BookLocked(SchoolTrouble):
    """The passphrase or login key does not fit, or none was given where one is needed."""


class BadPassphrase(SchoolTrouble):
    """A new passphrase that is too short."""


class UnknownPupil(SchoolTrouble):
    """A code that is not in the register."""


class BadEntry(SchoolTrouble):
    """Something the teacher entered that the book cannot take."""
