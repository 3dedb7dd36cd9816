"""``wordhearth after-me`` with recordings in the place of voice and microphone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

import fixtures_audio
from companion.cli import main
from companion.practice import after_me
from companion.practice.repeating import LEAST, WORDS
from companion.record.home import ChildFolder
from fixtures_audio.make_fixtures import VOICES, read_aloud
from speech.audio import RATE
from speech.voice import VoiceMissing

CLIPS = Path(fixtures_audio.__file__).parent


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ChildFolder:
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    return ChildFolder(tmp_path / "home", "child")


@pytest.fixture
def willing(folder: ChildFolder) -> ChildFolder:
    assert main(["consent", "--yes", "practise"]) == 0
    return folder


@pytest.fixture(scope="module")
def repeated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every word said by one synthesised reader; of two words the first go is silence."""
    made = tmp_path_factory.mktemp("repeated")
    for word in WORDS:
        quiet = np.zeros(RATE // 4, np.float32)
        said = np.concatenate([quiet, read_aloud(VOICES["gb-a"], word), quiet])
        first = word in ("cat", "moon")
        soundfile.write(made / f"{word}{'-2' if first else ''}.wav", said, RATE)
        if first:
            soundfile.write(made / f"{word}.wav", np.zeros(RATE, np.float32), RATE)
    shutil.copy(made / "cat.wav", made / "cube.wav")  # one word that is never said
    return made


def test_words_said_after_the_computer_leave_five_numbers_and_no_sound(
    willing: ChildFolder, repeated: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert main(["after-me", "--audio", str(repeated), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["left_out"] == ["cube"]
    assert (told["heard"], told["of"], told["kept"]) == (len(WORDS) - 1, len(WORDS), True)
    own = after_me.own_of(willing)
    assert own and list(own.longer) == told["longer"]
    assert sorted(path.name for path in willing.path.iterdir()) == [
        "consent.json",
        "own_vowels.json",
    ]


def test_practising_uses_them(
    willing: ChildFolder,
    repeated: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["after-me", "--audio", str(repeated)]) == 0
    given = []

    def judged(*args: object, own: object = None) -> None:
        given.append(own)
        raise KeyboardInterrupt

    monkeypatch.setattr("companion.commands.practise.judge", judged)
    clip = CLIPS / "synthesised" / "kite.K-AY-T.gb-b.opus"
    assert main(["practise", "--list", "i-e", "--audio", str(clip)]) == 130
    assert given == [after_me.own_of(willing)] != [None]


def test_what_is_told_is_kind_and_says_how_to_erase_it(
    willing: ChildFolder, repeated: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["after-me", "--audio", str(repeated)]) == 0
    told = capsys.readouterr().out
    assert "and once more" in told
    assert f"{len(WORDS) - 1} of {len(WORDS)} words were heard well" in told
    assert "wrong" not in told
    assert "wordhearth after-me --forget" in told
    assert main(["after-me", "--forget"]) == 0
    assert "erased" in capsys.readouterr().out
    assert after_me.own_of(willing) is None
    assert main(["after-me", "--forget"]) == 0
    assert "none to erase" in capsys.readouterr().out


def test_too_few_words_change_nothing(
    willing: ChildFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Real children's bundled clips of four of the words."""
    few = tmp_path / "few"
    few.mkdir()
    shutil.copy(CLIPS / "synthesised" / "kite.K-AY-T.gb-b.opus", few / "kite.opus")
    for word, said in (("bed", "B-EH-D"), ("cake", "K-EY-K"), ("fish", "F-IH-SH")):
        shutil.copy(CLIPS / "children" / f"{word}.{said}.opus", few / f"{word}.opus")
    assert main(["after-me", "--audio", str(few)]) == 1
    told = capsys.readouterr().out
    assert f"4 of {len(WORDS)} words" in told
    assert f"{LEAST} are needed" in told
    assert not willing.own_vowels.exists()


@pytest.fixture
def never_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("speech.capture.Microphone.__enter__", lambda _: pytest.fail("opened"))


@pytest.mark.usefixtures("never_opened")
def test_without_consent_nothing_is_heard(
    folder: ChildFolder, repeated: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for more in ([], ["--audio", str(repeated)]):
        assert main(["after-me", *more]) == 1
        assert "wordhearth consent" in capsys.readouterr().err
    assert not folder.path.exists()


def test_without_a_voice_it_says_what_to_install(
    sound_card: object,
    willing: ChildFolder,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def no_voice(*_: object) -> None:
        raise VoiceMissing("The program cannot speak", "no espeak-ng", "Install it.")

    monkeypatch.setattr("speech.voice.Voice.say_word", no_voice)
    assert main(["after-me"]) == 1
    assert "needs its voice" in capsys.readouterr().err
    assert not willing.own_vowels.exists()


def test_the_microphone_hears_what_is_said_after_the_voice(
    sound_card: Any,
    willing: ChildFolder,
    repeated: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Two words only, which takes some seconds; the child speaks as soon as the voice is done."""
    speaking = []

    def say_word(_voice: object, word: str) -> None:
        speaking.append(sound_card.play(repeated / f"{word}.wav"))

    monkeypatch.setattr("speech.voice.Voice.say_word", say_word)
    monkeypatch.setattr("companion.practice.repeating.WORDS", ("kite", "bone"))
    monkeypatch.setattr("companion.practice.repeating.LEAST", 2)
    code = main(["after-me"])
    for each in speaking:
        each.wait(timeout=10)
    assert code == 0, capsys.readouterr()
    assert after_me.own_of(willing) is not None
