"""Grapheme-phoneme correspondences: the table a teacher reads and edits, and the teaching order."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from _csv import Reader

PHONES = (
    *("AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G"),
    *("HH", "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T"),
    *("TH", "UH", "UW", "V", "W", "Y", "Z", "ZH"),
)
"""The 39 phones of the CMU Pronouncing Dictionary, without stress digits."""

VOWEL_PHONES = frozenset(
    ["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"]
)

KINDS = (
    "letter",
    "double",
    "digraph",
    "trigraph",
    "four letters",
    "split digraph",
    "ending",
)

COLUMNS = (
    "grapheme",
    "phonemes",
    "position",
    "kind",
    "exemplar",
    "place",
    "reading",
    "taught",
    "switch",
)
SWITCHES = ("soft c", "soft g")

_GRAPHEME = re.compile(r"[a-z]{1,4}|[aeiouy]-e")
_RULE = re.compile(r"any|start|end|open|not start|not end|(before|after)( [a-z]+)+")


class TableError(ValueError):
    """A table or order file that cannot be used: what is wrong, why, and how to mend it."""

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(f"{what}: {why}. {mend}")
        self.what, self.why, self.mend = what, why, mend


@dataclass(frozen=True, slots=True, order=True)
class Gpc:
    """One grapheme with the phonemes it spells, such as ``i-e /AY/``.

    ``phonemes`` are southern British values in ARPAbet without stress digits.
    """

    grapheme: str
    phonemes: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.grapheme} /{' '.join(self.phonemes)}/"

    @classmethod
    def parse(cls, text: str) -> Gpc:
        """Read ``i-e /AY/`` back into a `Gpc`.

        Raises
        ------
        TableError
            If the text is not a grapheme followed by ARPAbet phones between slashes.
        """
        match = re.fullmatch(r"\s*([a-z]{1,12}|[aeiouy]-e)\s*/\s*([A-Z ]+?)\s*/\s*", text)
        if match is None:
            raise TableError(
                f"{text.strip()!r} is not a GPC",
                "a grapheme in small letters and its phonemes between slashes were expected",
                "Write it like 'i-e /AY/' or 'ch /CH/'",
            )
        phonemes = tuple(match[2].split())
        unknown = [phone for phone in phonemes if phone not in PHONES]
        if unknown:
            raise TableError(
                f"{text.strip()!r} names the phone {unknown[0]!r}",
                "it is not one of the 39 ARPAbet phones",
                f"Use one of: {' '.join(PHONES)}",
            )
        return cls(match[1], phonemes)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: a GPC with where it may stand and when it is taught.

    ``place`` counts from 1 in the default teaching order and is ``None`` for a value met in
    English words but never taught as a GPC; ``reading`` ranks the values of one grapheme, 1 being
    the value a child tries first.
    """

    gpc: Gpc
    position: str
    kind: str
    exemplar: str
    place: int | None
    reading: int
    taught: str
    switch: str


@dataclass(frozen=True)
class Table:
    """Every GPC known, in teaching order and then those beyond it."""

    rows: tuple[Row, ...]
    by_grapheme: Mapping[str, tuple[Row, ...]] = field(init=False, repr=False, compare=False)
    by_gpc: Mapping[Gpc, Row] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        grouped: dict[str, list[Row]] = {}
        for row in self.rows:
            grouped.setdefault(row.gpc.grapheme, []).append(row)
        ranked = {g: tuple(sorted(rows, key=lambda r: r.reading)) for g, rows in grouped.items()}
        object.__setattr__(self, "by_grapheme", ranked)
        object.__setattr__(self, "by_gpc", {row.gpc: row for row in self.rows})

    def values(self, grapheme: str) -> tuple[Row, ...]:
        """All rows of a grapheme, the value a child tries first leading."""
        return self.by_grapheme.get(grapheme, ())

    def first(self, grapheme: str) -> Gpc | None:
        """The GPC a grapheme is first taught with."""
        rows = self.values(grapheme)
        return rows[0].gpc if rows else None

    def order(self, *, soft_c: bool = False, soft_g: bool = False) -> Order:
        """The default teaching order; soft c and g come after the split digraphs when on.

        Off, they keep their place in the curriculum's Year 2 list (English Appendix 1: Spelling,
        Department for Education, 2013).
        """
        placed = sorted((r for r in self.rows if r.place is not None), key=lambda r: r.place or 0)
        on = {name for name, chosen in zip(SWITCHES, (soft_c, soft_g), strict=True) if chosen}
        early = [row.gpc for row in placed if row.switch in on]
        rest = [row.gpc for row in placed if row.switch not in on]
        splits = [n for n, gpc in enumerate(rest) if "-" in gpc.grapheme]
        after = max(splits) + 1 if splits else len(rest)
        return Order(tuple(rest[:after] + early + rest[after:]))


@dataclass(frozen=True)
class Order:
    """A teaching order: GPCs, first taught first."""

    gpcs: tuple[Gpc, ...]
    _places: Mapping[Gpc, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        places = {gpc: place for place, gpc in enumerate(self.gpcs, 1)}
        object.__setattr__(self, "_places", places)

    def place(self, gpc: Gpc) -> int | None:
        """Place from 1, or ``None`` for a GPC this order never teaches."""
        return self._places.get(gpc)

    def up_to(self, gpc: Gpc) -> frozenset[Gpc]:
        """Every GPC taught by the time `gpc` has been.

        Raises
        ------
        TableError
            If the order does not hold `gpc`.
        """
        place = self.place(gpc)
        if place is None:
            raise TableError(
                f"{gpc} is not in the teaching order",
                f"the order has {len(self.gpcs)} GPCs and this is none of them",
                "Add it on a line of its own in the order file",
            )
        return frozenset(self.gpcs[:place])


_own: list[Table] = []


def table() -> Table:
    """The table in use: a school's own once `use` has been called, else ``wordsets/gpc.csv``."""
    return _own[0] if _own else _bundled()


def use(own: Table | None) -> None:
    """Make a school's own table the one in use; ``None`` goes back to the bundled one.

    Call `companion.phonics.split.use_table` instead, which also forgets what was split before.
    """
    _own[:] = [] if own is None else [own]


@lru_cache(maxsize=1)
def _bundled() -> Table:
    text = resources.files("wordsets").joinpath("gpc.csv").read_text("utf-8")
    return read_table(text, "gpc.csv")


def load_table(path: Path) -> Table:
    """Read a school's own table file. Raises `TableError` naming file, line and mend."""
    return read_table(_read(path), path.name)


def load_order(path: Path, known: Table | None = None) -> Order:
    """Read a school's own order file: a GPC a line, ``#`` starts a remark.

    A line may name a GPC (``ow /OW/``) or a grapheme alone (``ow``), which means the value it is
    first taught with. Raises `TableError` naming file, line and mend.
    """
    return read_order(_read(path), path.name, known or table())


def read_order(text: str, name: str, known: Table) -> Order:
    """Parse the text of an order file; `name` is used in messages."""
    found: list[Gpc] = []
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.split("#", 1)[0].strip()
        if line:
            found.append(_order_line(line, f"{name}, line {number}", found, known))
    if not found:
        raise TableError(
            f"{name} holds no GPC", "every line is empty or a remark", "Write one GPC a line"
        )
    return Order(tuple(found))


def _order_line(line: str, where: str, found: list[Gpc], known: Table) -> Gpc:
    if "/" in line:
        try:
            gpc = Gpc.parse(line)
        except TableError as error:
            raise TableError(f"{where}: {error.what}", error.why, error.mend) from None
    else:
        first = known.first(line)
        if first is None:
            raise _unknown(where, line, known)
        gpc = first
    if gpc not in known.by_gpc:
        raise _unknown(where, line, known)
    if gpc in found:
        raise TableError(
            f"{where}: {gpc} comes a second time",
            f"it is already number {found.index(gpc) + 1} in the order",
            "Delete one of the two lines",
        )
    return gpc


def _unknown(where: str, line: str, known: Table) -> TableError:
    near = ", ".join(str(row.gpc) for row in known.values(line.split("/")[0].strip()))
    hint = f"The table has {near}" if near else "Check the spelling, or add the GPC to the table"
    return TableError(f"{where}: {line!r} is unknown", "the GPC table has no such entry", hint)


def read_table(text: str, name: str) -> Table:
    """Parse the text of a table file; `name` is used in messages."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=None))
    try:
        return _read_rows(reader, name)
    except csv.Error as error:
        raise TableError(
            f"{name}, line {reader.line_num}: not a line of CSV",
            str(error),
            "Save the table again as CSV from a spreadsheet program",
        ) from error


def _read_rows(reader: Reader, name: str) -> Table:
    header = next(reader, [])
    if tuple(header) != COLUMNS:
        raise TableError(
            f"{name}, line 1: the column names are {','.join(header)!r}",
            "the table cannot be read without its own column names in order",
            f"Make the first line: {','.join(COLUMNS)}",
        )
    rows: list[Row] = []
    lines: dict[Gpc, int] = {}
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        where = f"{name}, line {reader.line_num}"
        row = _row(cells, where)
        if row.gpc in lines:
            raise TableError(
                f"{where}: {row.gpc} comes a second time",
                f"line {lines[row.gpc]} already has it",
                "Delete one of the two lines",
            )
        lines[row.gpc] = reader.line_num
        rows.append(row)
    if not rows:
        raise TableError(f"{name} holds no GPC", "there is nothing under the names", "Add a line")
    return Table(tuple(rows))


def _row(cells: list[str], where: str) -> Row:
    if len(cells) != len(COLUMNS):
        raise TableError(
            f"{where}: {len(cells)} cells",
            f"each line needs {len(COLUMNS)}",
            f"Fill in {','.join(COLUMNS)}, leaving nothing between commas for an empty cell",
        )
    grapheme, phonemes, position, kind, exemplar, place, reading, taught, switch = (
        cell.strip() for cell in cells
    )
    if not _GRAPHEME.fullmatch(grapheme):
        raise TableError(
            f"{where}: {grapheme!r} is not a grapheme",
            "one to four small letters, or a vowel, a hyphen and e, were expected",
            "Write it like 'igh' or 'i-e'",
        )
    try:
        gpc = Gpc.parse(f"{grapheme} /{phonemes}/")
    except TableError as error:
        raise TableError(f"{where}: {error.what}", error.why, error.mend) from None
    parts = position.split(" or ")
    if not all(_RULE.fullmatch(part) for part in parts):
        raise TableError(
            f"{where}: {position!r} is not a position",
            "no rule of that name exists",
            "Use any, start, end, open, not start, not end, 'before ...' or 'after ...', "
            "joined by ' or '",
        )
    for cell, allowed, column in ((kind, KINDS, "kind"), (switch, ("", *SWITCHES), "switch")):
        if cell not in allowed:
            raise TableError(
                f"{where}: {cell!r} in column {column}",
                "it is not one of the words used there",
                f"Use one of: {', '.join(word or '(nothing)' for word in allowed)}",
            )
    for cell, column in ((place or "1", "place"), (reading, "reading")):
        if not cell.isdecimal() or int(cell) < 1:
            raise TableError(
                f"{where}: {cell!r} in column {column}",
                "a whole number from 1 was expected",
                "Write a number, or leave place empty if the GPC is not taught",
            )
    return Row(
        gpc, position, kind, exemplar, int(place) if place else None, int(reading), taught, switch
    )


def _read(path: Path) -> str:
    try:
        return path.read_text("utf-8")
    except OSError as error:
        raise TableError(
            f"{path.name} could not be read",
            error.strerror or str(error),
            "Check that the file is there and that you may open it",
        ) from error
    except UnicodeDecodeError as error:
        raise TableError(
            f"{path.name} is not plain text",
            f"byte {error.start + 1} is not UTF-8",
            "Save it again as plain text or CSV with UTF-8 encoding",
        ) from error


def graphemes(rows: Iterable[Row]) -> tuple[str, ...]:
    """The different graphemes of some rows, in the order met."""
    return tuple(dict.fromkeys(row.gpc.grapheme for row in rows))
