"""Files that could be read, weighed against the book and against each other.

A family's key is kept with its first summary, once the teacher has said that it is theirs (trust on
first use); from then on a summary under that code must be signed with it. Of two summaries of one
week the later is kept: the one with the higher number under the same key, else the one made later.
So a file that is handed in again, or an old one that somebody plays back, changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import datetime, timedelta

from companion.report.home_school import fingerprint
from companion.report.summary import Summary
from companion.school.arrivals import Item, Note, renamed
from companion.school.evidence import KeptSummary
from companion.school.register import Pupil

AHEAD = timedelta(days=1)
"""How far a home's clock may run ahead of the school's before it is remarked on."""


def weigh(
    items: Sequence[Item],
    pupils: Sequence[Pupil],
    kept: Sequence[KeptSummary],
    now: datetime,
) -> tuple[Item, ...]:
    """Give each readable item its standing; refused ones stay as they are.

    Parameters
    ----------
    items : sequence of Item
        From `companion.school.arrivals.read`.
    pupils : sequence of Pupil
        The whole register, hidden pupils too.
    kept : sequence of KeptSummary
        All that the book holds.
    now : datetime
        Aware.
    """
    register = {pupil.code: pupil for pupil in pupils}
    held = {(each.summary.pupil, each.summary.week): each for each in kept}
    latest = _latest(items, register)
    strange = _two_keys(items, register)
    found = []
    for place, item in enumerate(items):
        summary = item.summary
        if item.standing == "refused" or summary is None:
            found.append(item)
        elif summary.pupil not in register:
            found.append(_unknown(item, summary))
        else:
            pupil = register[summary.pupil]
            week = (summary.pupil, summary.week)
            one = _against_book(item, summary, pupil, held.get(week))
            if one.standing in ("new", "changed"):
                first = items[latest[week]]
                if latest[week] != place:
                    one = _beside(one, summary, first)
                else:
                    one = _looked_at(one, summary, pupil, now, summary.pupil in strange)
            found.append(one)
    return tuple(found)


def later(one: Item | KeptSummary, other: Item | KeptSummary) -> bool:
    """Whether one summary of a week was made after another."""
    mine, theirs = one.summary, other.summary
    if mine is None or theirs is None:
        raise ValueError("only what could be read has a time")
    if one.family_key is not None and one.family_key == other.family_key:
        return (mine.number, mine.made_at) > (theirs.number, theirs.made_at)
    return mine.made_at > theirs.made_at


def _signed_by_another(item: Item, pupil: Pupil) -> bool:
    known, key = pupil.family_key, item.family_key
    return known is not None and key is not None and known != key


def _latest(items: Sequence[Item], register: dict[str, Pupil]) -> dict[tuple[str, object], int]:
    """The place of the latest item of each pupil and week that may be taken."""
    found: dict[tuple[str, object], int] = {}
    for place, item in enumerate(items):
        summary = item.summary
        if item.standing == "refused" or summary is None or summary.pupil not in register:
            continue
        if _signed_by_another(item, register[summary.pupil]):
            continue
        week = (summary.pupil, summary.week)
        if week not in found or later(item, items[found[week]]):
            found[week] = place
    return found


def _two_keys(items: Sequence[Item], register: dict[str, Pupil]) -> frozenset[str]:
    """Pupils whose first summaries here are signed with more than one key."""
    keys: dict[str, set[bytes]] = {}
    for item in items:
        if item.summary is not None and item.family_key is not None:
            keys.setdefault(item.summary.pupil, set()).add(item.family_key)
    return frozenset(
        code
        for code, found in keys.items()
        if len(found) > 1 and code in register and register[code].family_key is None
    )


def _unknown(item: Item, summary: Summary) -> Item:
    note = Note(
        f"{item.name} is of pupil {summary.pupil}, whom this class book does not know",
        "the register has no such code: the child may have left, or be in another class",
        "Look at the register (wordhearth class pupil list). Nothing of the file was taken.",
    )
    return replace(item, standing="unknown", note=note)


def _against_book(item: Item, summary: Summary, pupil: Pupil, before: KeptSummary | None) -> Item:
    if _signed_by_another(item, pupil):
        known, key = pupil.family_key or b"", item.family_key or b""
        note = Note(
            f"{item.name} is not from the home that this class book knows as {pupil.code}",
            f"it is signed with the key {fingerprint(key)}, and that home's is "
            f"{fingerprint(known)}: another family may have the wrong sheet, or this family a new "
            "computer, or somebody may be pretending",
            "Ask the family what key their program shows. If it is theirs, forget the old one "
            f"(wordhearth class pupil forget-key {pupil.code}) and import the file again.",
        )
        return replace(item, standing="refused", note=note)
    first = item.family_key is not None and pupil.family_key is None
    if before is None:
        return replace(item, standing="new", first_key=first)
    alike = before.family_key == item.family_key and before.source == item.source
    if alike and _same_counts(before.summary, summary):
        note = Note(f"{item.name} is in the book already", "it counts the same", "Nothing to do.")
        return replace(item, standing="same", note=note)
    if later(item, before):
        return replace(item, standing="changed", first_key=first)
    return replace(item, standing="older", note=_older(item, summary, "in the book"))


def _beside(item: Item, summary: Summary, first: Item) -> Item:
    """An item that is not the latest of its pupil and week among the files."""
    if first.summary == summary and first.family_key == item.family_key:
        note = Note(f"{item.name} is here twice", "another file holds the same", "Nothing to do.")
        return replace(item, standing="same", note=note, first_key=False)
    note = _older(item, summary, f"among these files ({first.name})")
    return replace(item, standing="older", note=note, first_key=False)


def _older(item: Item, summary: Summary, where: str) -> Note:
    return Note(
        f"{item.name} is an earlier summary of {summary.pupil} for {summary.week}",
        f"a later one is {where}; this one was made at {summary.made_at:%d %B %Y %H:%M}",
        "Nothing to do: the later one stays.",
    )


def _looked_at(item: Item, summary: Summary, pupil: Pupil, now: datetime, two_keys: bool) -> Item:
    """Remark on what is odd, and on a first key."""
    odd = []
    if renamed(item.name, summary):
        odd.append(
            f"its name says something else than what is in it ({summary.pupil}, {summary.week})"
        )
    if summary.week.monday > now.date() or summary.made_at > now + AHEAD:
        odd.append("it is of the future; the clock of a computer may be wrong")
    if summary.made_at.date() < summary.week.monday:
        odd.append("it was made before its week began")
    if two_keys:
        odd.append("two homes have signed summaries under this code, and only one can be right")
    if item.source == "csv" and pupil.family_key is not None:
        odd.append("it is a plain CSV, which anybody could have made, and this home has sealed its "
                   "summaries before")  # fmt: skip
    if odd:
        note = Note(
            f"{item.name} asks for a look",
            "; ".join(odd),
            "Ask the family whether they made it, and take it only then.",
        )
        return replace(item, standing="suspicious", note=note)
    if item.first_key and item.family_key is not None:
        note = Note(
            f"{item.name} is the first sealed summary of {summary.pupil}",
            f"its key, {fingerprint(item.family_key)}, will be that home's from now on",
            "Take it if the file came from that family; their program shows the same key.",
        )
        return replace(item, note=note)
    return item


def _same_counts(one: Summary, other: Summary) -> bool:
    """Whether two summaries differ at most in when they were made."""
    names = (each.name for each in fields(Summary) if each.name not in ("number", "made_at"))
    return all(getattr(one, name) == getattr(other, name) for name in names)
