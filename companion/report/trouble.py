"""What can be wrong with a file between home and school: each error says what, why, what to do."""

from __future__ import annotations

from speech.trouble import Trouble


class FileTrouble(Trouble):
    """A file that is not taken. Nothing of it has been used."""


class Oversize(FileTrouble):
    """Larger than any file of its kind."""


class OtherKind(FileTrouble):
    """Not what it is taken for: some other file, perhaps renamed."""


class WrongVersion(FileTrouble):
    """A later version of Wordhearth made it."""


class Truncated(FileTrouble):
    """Its end is missing."""


class WrongKey(FileTrouble):
    """Sealed for another class, or for keys that this class no longer has."""


class Tampered(FileTrouble):
    """Changed after it was made."""


class Untrue(FileTrouble):
    """Whole, but it says what no home writes."""


class NotForPaper(FileTrouble):
    """Too long for the square code on a sheet of paper."""


class ClassKeyChanged(FileTrouble):
    """The school's key is not the one this home knows."""


class NotJoined(FileTrouble):
    """This home has no family file of a class yet."""


class NothingToHandIn(FileTrouble):
    """The week has no single reading, or is gone or still to come."""
