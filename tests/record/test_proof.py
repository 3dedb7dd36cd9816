"""An erasure shows what it removed, and a search that would have found what it forgot."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from companion.record import consent, erasure, proof
from companion.record.consent import LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Turn

MakeTurn = Callable[..., Turn]
Later = Callable[[float], datetime]


def read_some(folder: ChildFolder, turn: MakeTurn, now: datetime) -> None:
    consent.give(folder, ["practise", "keep_log"], now)
    permit = LogPermit(folder)
    with Log.open(folder.log) as log:
        sitting = log.start_sitting(permit, "i-e", None, now)
        for number in range(60):
            at = now + timedelta(microseconds=(number + 1) * 9_876_543)
            log.add_turn(permit, sitting, turn(), at)


@pytest.fixture
def kept(puffin: ChildFolder, turn: MakeTurn, later: Later) -> ChildFolder:
    read_some(puffin, turn, later(0))
    return puffin


def test_everything_that_was_there_is_listed_as_removed_and_nothing_is_found(
    kept: ChildFolder, turn: MakeTurn, later: Later
) -> None:
    read_some(ChildFolder(kept.home, "gull"), turn, later(0.01))
    before = proof.look(kept)
    assert [each.name for each in before.files] == ["consent.json", "log.db", "log.db.whole"]
    assert len(before.moments) == proof.MOMENTS_MAX
    erasure.withdraw_all(kept)
    found = proof.search(kept, before)
    assert found.removed == before.files and found.remaining == ()
    assert (found.searched, found.moments, found.found_in) == (3, proof.MOMENTS_MAX, ())


def test_a_copy_that_the_erasure_did_not_know_of_is_found(kept: ChildFolder) -> None:
    """The search is worth something only if it finds what is there."""
    shutil.copy(kept.log, kept.home / "a copy somebody made.bin")
    before = proof.look(kept)
    erasure.withdraw_all(kept)
    assert proof.search(kept, before).found_in == ("a copy somebody made.bin",)


def test_a_moment_across_two_blocks_is_found(
    kept: ChildFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proof, "_CHUNK", 7)
    before = proof.look(kept)
    (kept.home / "note").write_bytes(b"x" * 11 + before.moments[-1].encode())
    erasure.withdraw_all(kept)
    assert proof.search(kept, before).found_in == ("note",)


def test_what_other_choices_allow_is_listed_as_remaining(kept: ChildFolder) -> None:
    before = proof.look(kept)
    erasure.withdraw(kept, ["keep_log"])
    found = proof.search(kept, before)
    assert [each.name for each in found.removed] == ["log.db", "log.db.whole"]
    assert [each.name for each in found.remaining] == ["consent.json"]
    assert found.found_in == ()


def test_nothing_kept_is_nothing_to_prove(puffin: ChildFolder) -> None:
    before = proof.look(puffin)
    assert before == proof.Before((), ())
    assert proof.search(puffin, before) == proof.Proof((), (), 0, 0, ())


def test_a_damaged_log_is_listed_though_its_readings_cannot_be_looked_for(
    kept: ChildFolder,
) -> None:
    kept.log.write_bytes(b"Once upon a time there was a lighthouse. " * 100)
    before = proof.look(kept)
    assert before.moments == ()
    assert "log-damaged-1.db" in [each.name for each in before.files]
    erasure.withdraw_all(kept)
    assert proof.search(kept, before).remaining == ()
