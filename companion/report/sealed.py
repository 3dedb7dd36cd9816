"""The sealed summary: encrypted to the class, signed by the home, and all of one size.

The file, version 1, in bytes::

    16  WORDHEARTH-SEAL and a line feed
     1  version, 1
     8  which class key it is sealed to: BLAKE2b of the public key
     4  length of the whole file, big-endian
     n  a sealed box (X25519, XSalsa20-Poly1305) to the class's public key, holding:

        64  Ed25519 signature of `_CONTEXT`, the class's public key and all that follows here
        32  the home's Ed25519 public key
         4  length of the text, big-endian
            the text: the summary as JSON, UTF-8, in the one form that `_to_json` gives it
            zeros, up to 4096, 8192 or 16384 bytes in all

The signature covers the class's key, so that a summary cannot be sealed again for another class in
the home's name; it lies inside the box, so that nobody else learns which home it is from. The zeros
keep the size from telling how much was read. Boxes and signatures are libsodium's, through PyNaCl.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from nacl.exceptions import BadSignatureError, CryptoError
from nacl.public import PrivateKey, PublicKey, SealedBox
from nacl.signing import SigningKey, VerifyKey

from companion.record.weeks import Week
from companion.report.summary import NotASummary, Summary, SummaryRow
from companion.report.trouble import (
    FileTrouble,
    OtherKind,
    Oversize,
    Tampered,
    Truncated,
    Untrue,
    WrongKey,
    WrongVersion,
)

MAGIC = b"WORDHEARTH-SEAL\n"
VERSION = 1
ENDING = ".sealed"
FILE_MAX = 20_000
"""Bytes in the largest file that is looked at; what `seal` makes is at most 16,461."""

_SIZES = (4096, 8192, 16384)
_CONTEXT = b"wordhearth sealed summary 1\n"
_KEY_ID = 8
_HEAD = len(MAGIC) + 1 + _KEY_ID + 4
_INNER_HEAD = 64 + 32 + 4
_BOX_OVERHEAD = 48
_ROW = tuple(each.name for each in fields(SummaryRow))
_FIELDS = {
    "format", "class", "pupil", "week", "made_at", "number", "accents", "days", "verdicts",
    "left_out", "overruled", "rows",
}  # fmt: skip


@dataclass(frozen=True)
class Opened:
    """What was in a sealed summary, and the 32-byte public key of the home that signed it."""

    summary: Summary
    family_key: bytes


def seal(summary: Summary, class_key: bytes, signing: SigningKey) -> bytes:
    """The file for a summary.

    Parameters
    ----------
    summary : Summary
        What is handed in.
    class_key : bytes
        The class's X25519 public key, 32 bytes.
    signing : SigningKey
        The home's own.

    Raises
    ------
    Oversize
        More rows than one file holds; a week of a child has a tenth of them.
    """
    text = _to_json(summary)
    inner = bytes(signing.verify_key) + len(text).to_bytes(4, "big") + text
    size = next((size for size in _SIZES if 64 + len(inner) <= size), None)
    if size is None:
        raise Oversize(
            f"The summary of {summary.week} was not sealed",
            f"its counts take {len(text)} bytes and one file holds {_SIZES[-1] - _INNER_HEAD}",
            "Hand in a week at a time, and tell us if this was one.",
        )
    inner = inner.ljust(size - 64, b"\0")
    signed = signing.sign(_CONTEXT + class_key + inner).signature + inner
    box = SealedBox(PublicKey(class_key)).encrypt(signed)
    length = (_HEAD + len(box)).to_bytes(4, "big")
    return MAGIC + bytes([VERSION]) + key_id(class_key) + length + box


def file_name(summary: Summary) -> str:
    """How a home names the file: the pupil's code and the week, nothing else."""
    return f"{summary.pupil}-{summary.week}{ENDING}"


def is_sealed(data: bytes) -> bool:
    """Whether this is meant to be a sealed summary, whole or not."""
    return data.startswith(MAGIC)


def key_id(class_key: bytes) -> bytes:
    """Eight bytes that tell class keys apart and nothing more."""
    return hashlib.blake2b(class_key, digest_size=_KEY_ID, person=b"wordhearth key").digest()


def open_(data: bytes, private: PrivateKey, name: str = "The file") -> Opened:
    """Open a sealed summary.

    Parameters
    ----------
    data : bytes
        The whole file.
    private : PrivateKey
        The class's.
    name : str
        How messages call the file.

    Raises
    ------
    Oversize, OtherKind, WrongVersion, WrongKey, Truncated, Tampered, Untrue
        See `companion.report.trouble`.
    """
    class_key = bytes(private.public_key)
    box = _outside(data, class_key, name)
    try:
        inner = SealedBox(private).decrypt(box)
    except (CryptoError, ValueError, TypeError):
        raise _tampered(name, "its seal is broken: a byte of it is not as it was sealed") from None
    if len(inner) not in _SIZES:
        raise _tampered(name, "what is inside has a size that no home makes")
    signature, rest = inner[:64], inner[64:]
    family_key, length, text = rest[:32], int.from_bytes(rest[32:36], "big"), rest[36:]
    try:
        VerifyKey(family_key).verify(_CONTEXT + class_key + rest, signature)
    except (BadSignatureError, ValueError):
        raise _tampered(name, "the signature inside does not belong to what it signs") from None
    if length > len(text) or text[length:].strip(b"\0"):
        raise _untrue(name, "its text does not end where it says")
    try:
        return Opened(_from_json(text[:length]), family_key)
    except NotASummary as error:
        raise _untrue(name, str(error)) from error


def _outside(data: bytes, class_key: bytes, name: str) -> bytes:
    """The box, once everything around it is as it should be."""
    if len(data) > FILE_MAX:
        raise Oversize(
            f"{name} was not opened",
            f"it is larger than {FILE_MAX:,} bytes, and no summary is",
            "Ask the family to make the summary again.",
        )
    if not is_sealed(data):
        raise OtherKind(
            f"{name} is not a sealed summary",
            "it begins like some other kind of file, whatever its name says",
            "Look for the file that 'wordhearth hand-in' made.",
        )
    if len(data) < _HEAD:
        raise _truncated(name)
    version = data[len(MAGIC)]
    if version != VERSION:
        raise WrongVersion(
            f"{name} is a sealed summary of version {version}",
            f"this Wordhearth opens version {VERSION}",
            "Install the version that the family uses, or ask them to use the school's.",
        )
    start = len(MAGIC) + 1
    if data[start : start + _KEY_ID] != key_id(class_key):
        raise WrongKey(
            f"{name} cannot be opened with this class book",
            "it is sealed to another class's key, or to one this class had before",
            "Give it to the class it is meant for. If it is this class, the family has an old "
            "sheet: give them a new one and ask for the summary again.",
        )
    length = int.from_bytes(data[_HEAD - 4 : _HEAD], "big")
    if length - _HEAD - _BOX_OVERHEAD not in _SIZES:
        raise _tampered(name, "the length it gives is none that a home writes")
    if len(data) < length:
        raise _truncated(name)
    if len(data) > length:
        raise _tampered(name, "something was added at its end")
    return data[_HEAD:]


def _truncated(name: str) -> FileTrouble:
    return Truncated(
        f"{name} is cut off",
        "its end is missing, as when a copy or a download stops half way",
        "Copy it again, or ask the family to send it again.",
    )


def _tampered(name: str, why: str) -> FileTrouble:
    return Tampered(
        f"{name} was changed after it was sealed",
        why,
        "It may be a bad copy or somebody's doing. Ask the family for the file again.",
    )


def _untrue(name: str, why: str) -> FileTrouble:
    return Untrue(
        f"{name} holds what Wordhearth does not write",
        why,
        "Nothing of it was taken. Ask the family which version they use.",
    )


def _to_json(summary: Summary) -> bytes:
    whole = {
        "format": VERSION,
        "class": summary.class_code,
        "pupil": summary.pupil,
        "week": str(summary.week),
        "made_at": summary.made_at.isoformat(),
        "number": summary.number,
        "accents": list(summary.accents),
        "days": summary.days,
        "verdicts": dict(sorted(summary.verdicts.items())),
        "left_out": summary.left_out,
        "overruled": summary.overruled,
        "rows": [_row(row) for row in summary.rows],
    }
    return json.dumps(whole, separators=(",", ":"), sort_keys=True).encode()


def _row(row: SummaryRow) -> list[object]:
    """Its fields in the order of the class: what ``SummaryRow(*...)`` takes back."""
    return [getattr(row, name) for name in _ROW]


def _from_json(text: bytes) -> Summary:
    try:
        data = json.loads(text)
        if not isinstance(data, dict) or set(data) != _FIELDS or data["format"] != VERSION:
            raise NotASummary("its fields are not those of a summary")
        found = _summary(data)
        same = _to_json(found) == text
    except NotASummary:
        raise
    except (ValueError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise NotASummary("a value in it has another shape than Wordhearth writes") from error
    if not same:
        raise NotASummary("it is not written in the one way that Wordhearth writes")
    return found


def _summary(data: Mapping[str, Any]) -> Summary:
    return Summary(
        class_code=data["class"],
        pupil=data["pupil"],
        week=Week.parse(data["week"]),
        made_at=datetime.fromisoformat(data["made_at"]),
        number=data["number"],
        accents=tuple(data["accents"]),
        days=data["days"],
        verdicts=data["verdicts"],
        left_out=data["left_out"],
        overruled=data["overruled"],
        rows=tuple(SummaryRow(*row) for row in data["rows"]),
    )
