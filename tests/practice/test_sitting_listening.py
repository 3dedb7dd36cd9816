"""No microphone is opened without a recorded consent: there is one way to it, and it asks."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

import companion
from companion.practice.listening import listen, open_microphone
from companion.record import consent
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from companion.record.trouble import ConsentMissing
from speech.audio import RATE, Samples

NOW = datetime(2026, 11, 25, 16, 30, tzinfo=UTC)
APPLICATION = Path(companion.__file__).parent


class PlayedEar:
    """Half a second of quiet, one of a voice-like sound, then quiet, in 30 ms pieces."""

    lost_pieces = 0

    def __init__(self) -> None:
        rng = np.random.default_rng(6)
        quiet = rng.normal(0, 1e-4, 2 * RATE).astype(np.float32)
        voice = np.zeros(RATE, np.float32)
        voice[:] = 0.2 * np.sign(np.sin(2 * np.pi * 220 * np.arange(RATE) / RATE))
        self._samples = np.concatenate([quiet[: RATE // 2], voice, quiet])
        self.taken = 0

    def pieces(self) -> Iterator[Samples]:
        for start in range(0, len(self._samples), 480):
            self.taken += 1
            yield self._samples[start : start + 480]


@pytest.fixture
def permit(tmp_path: Path) -> PractisePermit:
    folder = ChildFolder(tmp_path, "puffin")
    consent.give(folder, ["practise"], NOW)
    return PractisePermit(folder)


def called(source: Path) -> set[str]:
    calls = (node for node in ast.walk(ast.parse(source.read_text())) if isinstance(node, ast.Call))
    return {
        call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
        for call in calls
    }


def test_only_one_module_of_the_application_opens_or_hears_a_microphone() -> None:
    for name in ("Microphone", "record_turn", "InputStream", "RawInputStream"):
        users = {path.name for path in APPLICATION.rglob("*.py") if name in called(path)}
        assert users <= {"listening.py"}, name
    assert "Microphone" in called(APPLICATION / "practice" / "listening.py")


def test_a_microphone_is_not_opened_once_consent_is_taken_back(permit: PractisePermit) -> None:
    consent.take_back(permit.folder, ["practise"])
    with pytest.raises(ConsentMissing, match="listen to the child"):
        open_microphone(permit)


def test_an_open_ear_is_not_listened_to_once_consent_is_taken_back(permit: PractisePermit) -> None:
    ear = PlayedEar()
    consent.take_back(permit.folder, ["practise"])
    with pytest.raises(ConsentMissing):
        listen(permit, ear, lambda _: None)
    assert ear.taken == 0


def test_what_is_heard_comes_back_and_shows_while_it_is_heard(permit: PractisePermit) -> None:
    levels: list[float] = []
    utterance = listen(permit, PlayedEar(), levels.append)
    assert 1.0 <= utterance.duration_s <= 2.0
    assert max(levels) > -20 and min(levels) < -60
