"""A home and its school: loading the family file, and making the week's summary to hand in."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from companion.phonics.decodable import exception_words, named
from companion.phonics.gpc import Gpc
from companion.practice.teaching import Aid, Teaching, WordAid
from companion.record import codes, family, handing
from companion.record.consent import HandInPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.retention import READINGS_KEPT_WEEKS
from companion.record.tally import tally
from companion.record.trouble import FamilyUnreadable
from companion.record.weeks import Week
from companion.report import family_file, sealed, summary_csv
from companion.report.family_lines import FamilyFile
from companion.report.summary import LATELY_WEEKS, Heading, Summary, of_week
from companion.report.trouble import ClassKeyChanged, FileTrouble, NothingToHandIn, NotJoined


@dataclass(frozen=True)
class Made:
    """A summary made for school: its name as a file, its bytes, and what is in it.

    Attributes
    ----------
    name : str
        Code and week, and nothing else.
    data : bytes
        The file.
    summary : Summary
        The same in the clear, to show to the adult.
    family_key : bytes
        The public key it is signed with; the school compares its `fingerprint` once.
    """

    name: str
    data: bytes
    summary: Summary
    family_key: bytes


def fingerprint(key: bytes) -> str:
    """A public key in a form that two people can compare: ``HKMR TWXC 7Q3D``.

    Twelve characters of a code's alphabet (52 bits of SHA-256): enough where a teacher compares
    keys that families bring, against somebody who would have to try 2**52 keys for one of them.
    """
    number = int.from_bytes(hashlib.sha256(b"wordhearth fingerprint" + key).digest(), "big")
    letters = []
    for _ in range(12):
        number, rest = divmod(number, len(codes.ALPHABET))
        letters.append(codes.ALPHABET[rest])
    text = "".join(letters)
    return f"{text[:4]} {text[4:8]} {text[8:]}"


def joined(folder: ChildFolder) -> FamilyFile | None:
    """What the school last sent, or None where none was loaded.

    Raises
    ------
    FamilyUnreadable
        The kept file is damaged.
    """
    text = family.read(folder)
    if text is None:
        return None
    try:
        return family_file.parse(text)
    except FileTrouble as error:
        raise family.unreadable(folder, error.why) from error


def join(permit: PractisePermit, text: str, *, new_key: bool = False) -> FamilyFile:
    """Load a family file: the first one, or a later week's in the place of the one before.

    Parameters
    ----------
    permit : PractisePermit
        The child's.
    text : str
        The file's text, or that of the square code.
    new_key : bool
        Whether the adult has asked the school and takes a class key that differs from the known.

    Raises
    ------
    FileTrouble
        The text is no whole family file.
    ClassKeyChanged
        The class is the same and its key another; nothing was changed.
    ConsentMissing, HomeUnwritable
        Nothing was changed.
    """
    found = family_file.parse(text)
    try:
        known = joined(permit.folder)
    except FamilyUnreadable:
        known = None  # a damaged one is what loading again mends
    same_class = known is not None and known.class_code == found.class_code
    if known and same_class and known.public_key != found.public_key and not new_key:
        raise ClassKeyChanged(
            f"The key of class {found.class_code} is not the one this home knows",
            "a new teacher or a lost passphrase changes it, and so would somebody who wants "
            "to read what is meant for the school",
            f"Ask the school whether its key is now {fingerprint(found.public_key)}; if so, "
            "load the file again and say that the key is new (--new-key).",
        )
    family.keep(permit, family_file.to_text(found))
    return found


def teaching(found: FamilyFile) -> Teaching:
    """What a plan is made from (`companion.practice.plan`): today's GPC is the list's."""
    target = None if found.words is None else found.words.target
    taught = [gpc for gpc in found.order.gpcs if gpc in found.taught]
    today: tuple[Gpc, ...] = ()
    if target is not None:
        together = named(target.grapheme, found.order) if target in found.order.gpcs else (target,)
        today = together if target in together else (target,)
    before = tuple(gpc for gpc in taught if gpc not in today)
    gpcs = sorted({*found.phrases, *found.pictures})
    return Teaching(
        gpcs=(*before, *today),
        today=today,
        sight=exception_words(taught),
        words=found.words,
        aids=tuple(Aid(gpc, found.phrases.get(gpc), found.pictures.get(gpc)) for gpc in gpcs),
        word_aids=tuple(WordAid(word, aid) for word, aid in sorted(found.exceptions.items())),
    )


def prepare(log: Log, found: FamilyFile, week: Week, now: datetime, number: int = 0) -> Summary:
    """The summary of a week, to show or to seal.

    Parameters
    ----------
    log : Log
        The child's.
    found : FamilyFile
        What the school sent: whose code, and for which class.
    week : Week
        One whose single readings are still kept.
    now : datetime
        Aware.
    number : int
        The summary's number; 0 while it is only shown.

    Raises
    ------
    NothingToHandIn
        Nothing was read that week, or the week is yet to come or too long past.
    """
    today = now.date()
    if week > Week.of(today):
        raise _nothing(week, "the week is still to come")
    if week.sunday < today - timedelta(weeks=READINGS_KEPT_WEEKS):
        raise _nothing(week, f"single readings are kept for {READINGS_KEPT_WEEKS} weeks only")
    first = _first_day(week)
    turns = log.counted(first, week.sunday)
    counts = tally(kept for kept in turns if Week.of(kept.day) == week)
    if counts.turns == 0:
        raise _nothing(week, "nothing was read that week")
    accents = tuple(each.accent for each in log.sittings() if Week.of(each.day) == week)
    head = Heading(found.class_code, found.pupil, now, number)
    return of_week(counts, tally(turns), week, accents, head)


def make_sealed(permit: HandInPermit, log: Log, week: Week, now: datetime) -> Made:
    """Make a week's sealed summary; each is the adult's own act, each has its own number.

    Raises
    ------
    NotJoined
        No family file was loaded.
    ConsentMissing
        No adult has said yes to handing in.
    NothingToHandIn, FamilyUnreadable, HomeUnwritable, Oversize
        Nothing was made.
    """
    found, key, summary = _numbered(permit, log, week, now)
    data = sealed.seal(summary, found.public_key, key.signing_key)
    return Made(sealed.file_name(summary), data, summary, key.family_key)


def make_csv(permit: HandInPermit, log: Log, week: Week, now: datetime) -> Made:
    """The same as a plain CSV, which anybody can read; errors as `make_sealed`."""
    _, key, summary = _numbered(permit, log, week, now)
    return Made(
        summary_csv.file_name(summary), summary_csv.to_bytes(summary), summary, key.family_key
    )


def _numbered(
    permit: HandInPermit, log: Log, week: Week, now: datetime
) -> tuple[FamilyFile, handing.Handing, Summary]:
    permit.confirm()
    found = joined(permit.folder)
    if found is None:
        raise not_joined()
    prepare(log, found, week, now)  # a number is spent only where there is something to number
    key = handing.next_number(permit, found.class_code, found.pupil)
    return found, key, prepare(log, found, week, now, key.number)


def not_joined() -> NotJoined:
    """The error where a class is needed and no family file was loaded."""
    return NotJoined(
        "There is no class to hand in to",
        "no family file has been loaded on this computer for this child",
        "Load the file or the square code that the school gave you: wordhearth join FILE.",
    )


def _first_day(week: Week) -> date:
    return week.monday - timedelta(weeks=LATELY_WEEKS - 1)


def _nothing(week: Week, why: str) -> NothingToHandIn:
    return NothingToHandIn(
        f"There is no summary of {week} to hand in",
        why,
        "Choose another week: wordhearth hand-in --week last, or a week such as 2026-W48.",
    )
