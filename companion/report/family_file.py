"""The family file: what a school sends home with a pupil's code. No name is in it.

Text, a line for each thing, in this order::

    wordhearth family file 1
    class W7T7Y6                       the class's code
    pupil 7K3QFY                       the pupil's code
    key 2MDM...                        the class's public key, 32 bytes in base32
    week 2026-W48                      the week the list is for
    accent northern                    only where the teacher chose one
    order s /S/, a /AE/, ...           the teaching order; or: order standard 1f2e3d4c
    taught 1-72 75                     places in the order that have been taught
    title, target, caption, words, pseudo, pairs      this week's list, each only where there is one
    phrase a-e /EY/ = bake a cake      the teacher's aids, as many lines as there are
    picture a-e /EY/ = a lighthouse cake
    exception said = ...
    check 4QKZ...                      SHA-256 of the lines above, 80 bits in base32

Blank lines and lines that begin with ``#`` are notes. Lines are taken with any line ending; nothing
else may differ from what `to_text` writes. ``standard`` is a default order of the table, with eight
digits of its SHA-256, so that a home with another table says so instead of guessing.

`short_text` is the same, made small for a square code on paper: ``WHF1`` and the text, deflated
(RFC 1951, in zlib's wrapping, RFC 1950), in base32 (RFC 4648): only capitals and digits, which a
square code packs tightest (ISO/IEC 18004, alphanumeric mode). `parse` takes either.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable
from dataclasses import replace

from companion.report.family_lines import (
    FIRST,
    VERSION,
    FamilyFile,
    base32,
    lines_of,
    read,
    unbase32,
)
from companion.report.trouble import (
    FileTrouble,
    NotForPaper,
    OtherKind,
    Oversize,
    Tampered,
    Truncated,
    Untrue,
    WrongVersion,
)

ENDING = ".family"
TEXT_MAX = 60_000
"""Characters in the longest text that is looked at."""
SHORT_MAX = 1_500
"""Characters in the longest `short_text`: a square code of them still prints 8 cm wide."""

_SHORT = f"WHF{VERSION}"


def file_name(file: FamilyFile) -> str:
    """How the school names the file: the pupil's code and the week, nothing else."""
    return f"{file.pupil}-{file.week}{ENDING}"


def to_text(file: FamilyFile) -> str:
    """The family file as a text that people can read."""
    lines = lines_of(file, whole_order=True)
    return (
        "# From your child's class, for Wordhearth. Load it with: wordhearth join FILE\n"
        "# It holds a code, and no name. Whoever has it can make summaries under that code.\n"
        + "\n".join([*lines, _check(lines)])
        + "\n"
    )


def short_text(file: FamilyFile) -> str:
    """The family file for a square code: at most `SHORT_MAX` capitals and digits.

    Raises
    ------
    NotForPaper
        It does not fit.
    """
    lines = lines_of(file, whole_order=False)
    packed = zlib.compress("\n".join([*lines, _check(lines)]).encode(), level=9)
    text = _SHORT + base32(packed)
    if len(text) > SHORT_MAX:
        raise NotForPaper(
            f"The sheet of {file.pupil} has no square code",
            f"what it would hold takes {len(text)} characters, and {SHORT_MAX} can be printed",
            "Give the family the file as well, or shorten the list or the aids.",
        )
    return text


def for_paper(file: FamilyFile) -> FamilyFile:
    """The file with only the aids that this week's list calls for: those fit on paper."""
    target = None if file.words is None else file.words.target
    words = () if file.words is None else file.words.words
    return replace(
        file,
        phrases={gpc: text for gpc, text in file.phrases.items() if gpc == target},
        pictures={gpc: text for gpc, text in file.pictures.items() if gpc == target},
        exceptions={word: text for word, text in file.exceptions.items() if word in words},
    )


def parse(text: str, name: str = "The family file") -> FamilyFile:
    """Read either form.

    Parameters
    ----------
    text : str
        The whole text, as read or pasted.
    name : str
        How messages call it.

    Raises
    ------
    Oversize, OtherKind, WrongVersion, Truncated, Tampered, Untrue
        See `companion.report.trouble`.
    """
    if len(text) > TEXT_MAX:
        raise Oversize(
            f"{name} was not read",
            f"it is longer than {TEXT_MAX:,} characters, and no family file is",
            "Ask the school for it again.",
        )
    bare = text.removeprefix("\ufeff").strip()
    if bare[:3].upper() == _SHORT[:3] and bare[3:4].isdecimal():
        bare = _unpacked(bare, name)
    lines = [line.strip() for line in bare.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    lines = [line for line in lines if line and not line.startswith("#")]
    _check_outside(lines, name)
    try:
        found = read(lines[1:-1])
    except ValueError as error:
        raise _untrue(name, getattr(error, "what", "") or str(error)) from error
    if lines[:-1] not in (lines_of(found, whole_order=True), lines_of(found, whole_order=False)):
        raise _untrue(name, "a line of it is written in another way than Wordhearth's")
    return found


def _check_outside(lines: list[str], name: str) -> None:
    if not lines or not lines[0].startswith(FIRST):
        raise OtherKind(
            f"{name} is not a family file",
            "it begins like some other kind of text",
            "Take the file that the school gave you, or the whole text of the square code.",
        )
    if lines[0] != f"{FIRST} {VERSION}":
        raise WrongVersion(
            f"{name} is a family file of another version ({lines[0][len(FIRST) :][:12].strip()})",
            f"this Wordhearth reads version {VERSION}",
            "Install the version that the school uses.",
        )
    if not lines[-1].startswith("check "):
        raise Truncated(
            f"{name} is cut off",
            "its last line is missing",
            "Copy all of it, or ask the school for it again.",
        )
    if lines[-1] != _check(lines[:-1]):
        raise Tampered(
            f"{name} was changed after the school made it",
            "its check line does not fit the others",
            "Copy it again, or ask the school for it again.",
        )


def _untrue(name: str, why: str) -> FileTrouble:
    return Untrue(
        f"{name} holds what Wordhearth does not write", why, "Ask the school for it again."
    )


def _check(lines: Iterable[str]) -> str:
    digest = hashlib.sha256("\n".join(lines).encode()).digest()[:10]
    return f"check {base32(digest)}"


def _unpacked(short: str, name: str) -> str:
    """The text in a square code; what a camera or a mail put between its characters is left out."""
    body = "".join(each for each in short if not each.isspace()).upper()
    if not body.startswith(_SHORT):
        raise WrongVersion(
            f"{name} is a square code of another version ({body[:4]})",
            f"this Wordhearth reads {_SHORT}",
            "Install the version that the school uses.",
        )
    unpacker = zlib.decompressobj()
    try:
        packed = unbase32(body[len(_SHORT) :])
        text = unpacker.decompress(packed, TEXT_MAX)
        if not unpacker.eof:
            raise zlib.error("its end is missing, or it holds more than a family file may")
        return text.decode()
    except (ValueError, zlib.error) as error:
        raise Tampered(
            f"{name} is not a whole square code",
            f"a character of it is missing or miswritten ({error})",
            "Read the square again, and copy all of the text, or use the file.",
        ) from error
