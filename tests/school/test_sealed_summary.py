"""The sealed file: opened by its class only, and by a reader made from its description alone."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import nacl.bindings
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up import GPCS, summaries
from nacl.public import PrivateKey, PublicKey, SealedBox
from nacl.signing import SigningKey

from companion.record.weeks import Week
from companion.report import sealed
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

CLASS = PrivateKey(bytes(range(32)))
OTHER_CLASS = PrivateKey(bytes(range(1, 33)))
HOME = SigningKey(bytes(range(2, 34)))
CLASS_KEY = bytes(CLASS.public_key)

ONE = Summary(
    class_code="W7T7Y6",
    pupil="7K3QFY",
    week=Week(2026, 48),
    made_at=datetime(2026, 11, 27, 16, 5, tzinfo=UTC),
    number=3,
    accents=("northern",),
    days=4,
    verdicts={"as_written": 40, "slip": 6},
    left_out=1,
    overruled=2,
    rows=(SummaryRow("i-e /AY/", 30, {"short_for_split": 5}, 2, 1, 0, 4, 9, 14, 2),),
)
FILE = sealed.seal(ONE, CLASS_KEY, HOME)


@given(summaries())
@settings(max_examples=40)
def test_what_was_sealed_is_what_is_opened(summary: Summary) -> None:
    opened = sealed.open_(sealed.seal(summary, CLASS_KEY, HOME), CLASS)
    assert opened == sealed.Opened(summary, bytes(HOME.verify_key))


def test_the_file_is_as_its_description_says() -> None:
    """Read with libsodium's own functions by the offsets of the description, not by our code."""
    assert FILE[:16] == b"WORDHEARTH-SEAL\n" and FILE[16] == 1
    assert (
        FILE[17:25] == hashlib.blake2b(CLASS_KEY, digest_size=8, person=b"wordhearth key").digest()
    )
    assert int.from_bytes(FILE[25:29], "big") == len(FILE)
    inner = nacl.bindings.crypto_box_seal_open(FILE[29:], CLASS_KEY, bytes(CLASS))
    signature, signer, length = inner[:64], inner[64:96], int.from_bytes(inner[96:100], "big")
    message = b"wordhearth sealed summary 1\n" + CLASS_KEY + inner[64:]
    assert nacl.bindings.crypto_sign_open(signature + message, signer) == message
    assert signer == bytes(HOME.verify_key)
    text = json.loads(inner[100 : 100 + length])
    assert text["pupil"] == "7K3QFY" and text["week"] == "2026-W48" and text["number"] == 3
    assert text["rows"] == [["i-e /AY/", 30, {"short_for_split": 5}, 2, 1, 0, 4, 9, 14, 2]]
    assert not inner[100 + length :].strip(b"\0") and len(inner) == 4096


def test_the_file_tells_nothing_to_who_cannot_open_it() -> None:
    for part in (b"7K3QFY", b"W7T7Y6", b"2026", b"i-e", b"northern", bytes(HOME.verify_key)):
        assert part not in FILE
    again = sealed.seal(ONE, CLASS_KEY, HOME)
    assert FILE[:29] == again[:29] and FILE[29:] != again[29:]


def full(rows: int) -> Summary:
    """A summary of so many GPCs, each with a dear count."""
    dear = {"short_for_split": 999, "one_letter_of_digraph": 999, "other_gpc_value": 999}
    found = [SummaryRow(gpc, 9999, dear, 999, 999, 999, 7, 999, 999, 999) for gpc in GPCS[:rows]]
    return Summary(
        "W7T7Y6", "7K3QFY", Week(2026, 48), ONE.made_at, 3, (), 7, {"slip": 9999}, 0, 0,
        tuple(found),
    )  # fmt: skip


def test_a_week_takes_at_most_20_kilobytes_and_small_weeks_are_of_one_size() -> None:
    sizes = [len(sealed.seal(full(rows), CLASS_KEY, HOME)) for rows in range(0, 137, 8)]
    assert set(sizes) == {4173, 8269, 16461} and max(sizes) <= 20_000
    assert len(FILE) == sizes[0] == sizes[3]


def test_more_than_a_file_holds_is_said_and_not_cut_off() -> None:
    with pytest.raises(Oversize):
        sealed.seal(full(len(GPCS)), CLASS_KEY, HOME)


@given(st.integers(0, len(FILE) - 1), st.integers(1, 255))
@settings(max_examples=200)
def test_a_changed_byte_is_noticed_wherever_it_is(place: int, by: int) -> None:
    changed = bytearray(FILE)
    changed[place] ^= by
    with pytest.raises(FileTrouble) as told:
        sealed.open_(bytes(changed), CLASS)
    kinds: dict[range, type[FileTrouble]] = {
        range(16): OtherKind,
        range(16, 17): WrongVersion,
        range(17, 25): WrongKey,
        range(29, len(FILE)): Tampered,
    }
    expected = next((kind for span, kind in kinds.items() if place in span), FileTrouble)
    assert isinstance(told.value, expected)


@given(st.integers(0, len(FILE) - 1))
def test_a_file_that_is_cut_off_says_so(length: int) -> None:
    with pytest.raises(FileTrouble) as told:
        sealed.open_(FILE[:length], CLASS)
    assert type(told.value) is (Truncated if length >= 16 else OtherKind)


@pytest.mark.parametrize(
    ("data", "kind", "word"),
    [
        (FILE + b"\0", Tampered, "added at its end"),
        (FILE + b"\0" * 20_000, Oversize, "20,000 bytes"),
        (b"\xff\xd8\xff\xe0 a picture", OtherKind, "some other kind of file"),
        (b"", OtherKind, "some other kind of file"),
        (FILE[:16] + b"\x02" + FILE[17:], WrongVersion, "version 2"),
        (sealed.seal(ONE, bytes(OTHER_CLASS.public_key), HOME), WrongKey, "another class's key"),
    ],
)
def test_each_fault_has_its_own_message(data: bytes, kind: type[FileTrouble], word: str) -> None:
    with pytest.raises(kind) as told:
        sealed.open_(data, CLASS, "7K3QFY-2026-W48.sealed")
    assert word in str(told.value) and "7K3QFY-2026-W48.sealed" in told.value.what


def boxed(inner: bytes, key: PrivateKey = CLASS) -> bytes:
    """What somebody who knows the class's public key could make by hand."""
    public = bytes(key.public_key)
    box = SealedBox(PublicKey(public)).encrypt(inner)
    head = sealed.MAGIC + b"\x01" + sealed.key_id(public) + (29 + len(box)).to_bytes(4, "big")
    return head + box


def signed(text: bytes, signer: SigningKey = HOME, to: bytes = CLASS_KEY) -> bytes:
    inner = bytes(signer.verify_key) + len(text).to_bytes(4, "big") + text
    inner = inner.ljust(4096 - 64, b"\0")
    return signer.sign(b"wordhearth sealed summary 1\n" + to + inner).signature + inner


def test_a_summary_signed_for_one_class_cannot_be_sealed_again_for_another() -> None:
    """What the other class's teacher could do with a summary that she has opened."""
    text = sealed._to_json(ONE)
    forwarded = boxed(signed(text, to=bytes(OTHER_CLASS.public_key)))
    with pytest.raises(Tampered, match="signature"):
        sealed.open_(forwarded, CLASS)


def test_a_signature_of_somebody_else_is_noticed() -> None:
    inner = signed(sealed._to_json(ONE))
    stranger = SigningKey.generate()
    with pytest.raises(Tampered, match="signature"):
        sealed.open_(boxed(inner[:64] + bytes(stranger.verify_key) + inner[96:]), CLASS)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda text: text.replace(b'"number":3', b'"number":3.0'), "whole number"),
        (lambda text: text.replace(b'"number":3', b'"number":true'), "whole number"),
        (lambda text: text.replace(b'"number":3', b'"number":-3'), "whole number"),
        (lambda text: text.replace(b'"days":4', b'"days":8'), "0 to 7"),
        (lambda text: text.replace(b'"pupil":"7K3QFY"', b'"pupil":"PIPPIN"'), "pupil code"),
        (lambda text: text.replace(b"i-e /AY/", b"pippin /S/"), "no GPC of the table"),
        (lambda text: text.replace(b"short_for_split", b"pippin cries"), "does not exist"),
        (lambda text: text.replace(b'"northern"', b'"pippin"'), "accent"),
        (lambda text: text.replace(b'"days":4', b'"days":4,"note":"Pippin"'), "fields"),
        (lambda text: text.replace(b'"days":4', b'"days":3,"days":4'), "the one way"),
        (lambda text: text + b" ", "the one way"),
        (lambda text: b"[" * 3000, "another shape"),
        (lambda text: b"\xff\xfe", "another shape"),
        (lambda text: text.replace(b"[[", b"[[[").replace(b"]]", b"]]]"), "another shape"),
    ],
)  # fmt: skip
def test_only_what_a_home_writes_is_taken_even_from_a_valid_signer(
    change: Callable[[bytes], bytes], why: str
) -> None:
    text = sealed._to_json(ONE)
    assert sealed.open_(boxed(signed(text)), CLASS).summary == ONE
    with pytest.raises(Untrue) as told:
        sealed.open_(boxed(signed(change(text))), CLASS)
    assert why in told.value.why and "Pippin" not in str(told.value)


@pytest.mark.parametrize(
    "row",
    [
        SummaryRow("a /AE/", 3, {}, 0, 0, 0, 4, 2, 2, 0),  # more days than readings
        SummaryRow("a /AE/", 3, {}, 0, 0, 0, 2, 4, 4, 0),  # more words than readings
        SummaryRow("a /AE/", 3, {}, 0, 0, 0, 0, 2, 2, 0),  # readings on no day
        SummaryRow("a /AE/", 0, {}, 0, 0, 0, 1, 1, 1, 0),  # a day without readings
        SummaryRow("a /AE/", 9, {}, 0, 0, 0, 2, 3, 2, 0),  # fewer words in six weeks than in one
        SummaryRow("a /AE/", 9, {"sound_missed": 0}, 0, 0, 0, 2, 3, 3, 0),  # none of a kind
        SummaryRow("a /AE/", 9, {}, 0, 0, 0, 5, 5, 5, 0),  # on more days than the week's
    ],
)
def test_counts_that_contradict_each_other_are_no_summary(row: SummaryRow) -> None:
    with pytest.raises(NotASummary):
        replace(ONE, rows=(row,))
