"""The lines of a family file (`companion.report.family_file` says what they are)."""

from __future__ import annotations

import base64
import hashlib
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product

from companion.phonics.accents import ACCENTS
from companion.phonics.gpc import Gpc, Order, table
from companion.phonics.wordlists import WordList, spelling_fault
from companion.record import codes
from companion.record.weeks import Week

VERSION = 1
FIRST = "wordhearth family file"
LINE_MAX = 200
"""Characters in the longest aid, title or caption."""
WORDS_MAX = 100
AIDS_MAX = 400

_SPAN = re.compile(r"([1-9]\d{0,3})(?:-([1-9]\d{0,3}))?")


@dataclass(frozen=True)
class FamilyFile:
    """What a home is told by its school.

    Attributes
    ----------
    class_code, pupil : str
        Codes.
    public_key : bytes
        The class's X25519 public key, 32 bytes.
    week : Week
        The week that `words` are for.
    accent : str or None
        The accent that the class starts with; None where all count as right.
    order : Order
        The teaching order.
    taught : frozenset of Gpc
        What has been taught so far, all of it in `order`.
    words : WordList or None
        This week's list, where the teacher has set one.
    phrases, pictures : dict of Gpc to str
        The teacher's memory phrases, and which picture goes with them, in words.
    exceptions : dict of str to str
        The teacher's aids to exception words.
    """

    class_code: str
    pupil: str
    public_key: bytes
    week: Week
    accent: str | None
    order: Order
    taught: frozenset[Gpc]
    words: WordList | None
    phrases: Mapping[Gpc, str]
    pictures: Mapping[Gpc, str]
    exceptions: Mapping[str, str]


def lines_of(file: FamilyFile, *, whole_order: bool) -> list[str]:
    """The lines of a family file, but for its check line.

    `whole_order` writes every GPC of the order; else a default order is named.
    """
    lines = [
        f"{FIRST} {VERSION}",
        f"class {file.class_code}",
        f"pupil {file.pupil}",
        f"key {base32(file.public_key)}",
        f"week {file.week}",
    ]
    if file.accent is not None:
        lines.append(f"accent {file.accent}")
    standard = None if whole_order else _standard_name(file.order)
    lines.append(f"order {standard or ', '.join(map(str, file.order.gpcs))}")
    lines.append(f"taught {_places(file)}".strip())
    if file.words is not None:
        lines += _list_lines(file.words)
    for kind, aids in (("phrase", file.phrases), ("picture", file.pictures)):
        lines += [f"{kind} {gpc} = {text}" for gpc, text in sorted(aids.items())]
    lines += [f"exception {word} = {text}" for word, text in sorted(file.exceptions.items())]
    return lines


def _list_lines(words: WordList) -> list[str]:
    made_up = set(words.pseudo)
    lines = [f"title {words.title}"]
    if words.target is not None:
        lines.append(f"target {words.target}")
    if words.caption is not None:
        lines.append(f"caption {words.caption}")
    real = [word for word in words.words if word not in made_up]
    if real:
        lines.append(f"words {' '.join(real)}")
    if words.pseudo:
        lines.append(f"pseudo {' '.join(words.pseudo)}")
    if words.pairs:
        lines.append(f"pairs {' '.join(f'{one}/{other}' for one, other in words.pairs)}")
    return lines


def read(lines: Iterable[str]) -> FamilyFile:
    """Read the lines between the first and the check line.

    Raises
    ------
    ValueError
        What is wrong, in words for a family; never with more than a word of the line itself.
    """
    keys: dict[str, str] = {}
    aids: dict[str, dict[str, str]] = {"phrase": {}, "picture": {}, "exception": {}}
    for line in lines:
        key, _, value = line.partition(" ")
        if key in aids:
            subject, equals, text = value.partition(" = ")
            if not equals or subject in aids[key]:
                raise ValueError("an aid has nothing after it, or comes twice")
            aids[key][subject] = _line(text)
        elif key in keys:
            raise ValueError("a line comes twice")
        else:
            keys[key] = value
    if sum(map(len, aids.values())) > AIDS_MAX:
        raise ValueError("it has more aids than there are graphemes")
    for needed in ("class", "pupil", "key", "week", "order", "taught"):
        if needed not in keys:
            raise ValueError(f"the line '{needed}' is missing")
    if not codes.is_code(keys["class"]) or not codes.is_code(keys["pupil"]):
        raise ValueError("a code in it is none")
    order = _order(keys["order"])
    return FamilyFile(
        class_code=keys["class"],
        pupil=keys["pupil"],
        public_key=_key(keys["key"]),
        week=Week.parse(keys["week"]),
        accent=_accent(keys.get("accent")),
        order=order,
        taught=frozenset(_taught(keys["taught"], order)),
        words=_list(keys),
        phrases={_gpc(gpc): text for gpc, text in aids["phrase"].items()},
        pictures={_gpc(gpc): text for gpc, text in aids["picture"].items()},
        exceptions={_word(word): text for word, text in aids["exception"].items()},
    )


def base32(data: bytes) -> str:
    """RFC 4648 base32 without its padding."""
    return base64.b32encode(data).decode().rstrip("=")


def unbase32(text: str) -> bytes:
    """Read `base32` back; `ValueError` where it is none."""
    found = base64.b32decode(text + "=" * (-len(text) % 8))
    if base32(found) != text:
        raise ValueError("its last character holds more than it should")
    return found


def _standards() -> Iterator[tuple[str, Order]]:
    """The default orders by name: standard, and with soft c or g taught early."""
    for soft_c, soft_g in product((False, True), repeat=2):
        order = table().order(soft_c=soft_c, soft_g=soft_g)
        name = "standard" + "+c" * soft_c + "+g" * soft_g
        digest = hashlib.sha256(", ".join(map(str, order.gpcs)).encode()).hexdigest()[:8]
        yield f"{name} {digest}", order


def _standard_name(order: Order) -> str | None:
    return next((name for name, each in _standards() if each.gpcs == order.gpcs), None)


def _order(text: str) -> Order:
    if text.startswith("standard"):
        found = dict(_standards()).get(text)
        if found is None:
            raise ValueError(
                "its teaching order is that of another version of Wordhearth; the file from the "
                "school, in the place of the square code, holds the whole order"
            )
        return found
    gpcs = tuple(map(_gpc, text.split(", ")))
    if len(set(gpcs)) != len(gpcs):
        raise ValueError("its teaching order has a GPC twice")
    return Order(gpcs)


def _gpc(text: str) -> Gpc:
    gpc = Gpc.parse(text[:LINE_MAX])
    if gpc not in table().by_gpc:
        raise ValueError("it names a GPC that the table does not have")
    return gpc


def _places(file: FamilyFile) -> str:
    """Places of what is taught, as spans: ``1-72 75``."""
    spans: list[list[int]] = []
    for place, gpc in enumerate(file.order.gpcs, start=1):
        if gpc in file.taught:
            if spans and spans[-1][1] == place - 1:
                spans[-1][1] = place
            else:
                spans.append([place, place])
    return " ".join(f"{one}-{last}" if last > one else str(one) for one, last in spans)


def _taught(text: str, order: Order) -> Iterator[Gpc]:
    for part in text.split():
        match = _SPAN.fullmatch(part)
        first = int(match[1]) if match else 0
        last = int(match[2] or match[1]) if match else 0
        if not 1 <= first <= last <= len(order.gpcs):
            raise ValueError("what has been taught is not given as places in the order")
        yield from order.gpcs[first - 1 : last]


def _key(text: str) -> bytes:
    found = unbase32(text)
    if len(found) != 32:
        raise ValueError("the class's key has not the length of a key")
    return found


def _accent(name: str | None) -> str | None:
    if name is not None and name not in ACCENTS:
        raise ValueError("it names an accent that does not exist")
    return name


def _word(text: str) -> str:
    if spelling_fault(text):
        raise ValueError("something in the place of a word is none")
    return text


def _line(text: str) -> str:
    if not 1 <= len(text) <= LINE_MAX or any(
        unicodedata.category(each).startswith("C") for each in text
    ):
        raise ValueError(f"a text in it is empty, longer than {LINE_MAX} characters or unseen")
    return text


def _list(keys: Mapping[str, str]) -> WordList | None:
    if "title" not in keys:
        return None
    real = tuple(map(_word, keys.get("words", "").split()))
    pseudo = tuple(map(_word, keys.get("pseudo", "").split()))
    words = (*real, *pseudo)
    if not 1 <= len(set(words)) == len(words) <= WORDS_MAX:
        raise ValueError(f"its list has no word, one twice, or more than {WORDS_MAX}")
    pairs = []
    for pair in keys.get("pairs", "").split():
        one, _, other = pair.partition("/")
        if one not in words or other not in words:
            raise ValueError("a pair in it is not of the list")
        pairs.append((one, other))
    return WordList(
        name=f"school {keys['week']}",
        title=_line(keys["title"]),
        words=words,
        target=_gpc(keys["target"]) if "target" in keys else None,
        caption=_line(keys["caption"]) if "caption" in keys else None,
        pseudo=pseudo,
        pairs=tuple(pairs),
    )
