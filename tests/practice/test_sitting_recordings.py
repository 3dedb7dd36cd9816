"""Recordings in the place of a microphone: each goes with the word a person would expect."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.practice.recordings import RecordingsUnclear, by_word

WORDS = ("pine", "kite", "Pete")


def files(folder: Path, *names: str) -> list[Path]:
    for name in names:
        (folder / name).touch()
    return [folder / name for name in names]


def test_a_folder_of_clips_called_after_words(tmp_path: Path) -> None:
    files(tmp_path, "pete.FLAC", "pine.wav", "pine-2.ogg", "notes.txt", "pine-3.wav", "other.wav")
    assert by_word([tmp_path], WORDS) == {
        "pine": (tmp_path / "pine.wav", tmp_path / "pine-2.ogg"),
        "Pete": (tmp_path / "pete.FLAC",),
    }


def test_files_called_after_words_go_with_their_words_in_any_order(tmp_path: Path) -> None:
    kite, pine = files(tmp_path, "kite.wav", "pine.wav")
    assert by_word([kite, pine], WORDS) == {"pine": (pine,), "kite": (kite,)}
    assert by_word([kite], WORDS) == {"kite": (kite,)}


def test_other_files_go_in_list_order(tmp_path: Path) -> None:
    one, two = files(tmp_path, "take1.wav", "kite.wav")
    assert by_word([one, two], WORDS) == {"pine": (one,), "kite": (two,)}
    assert by_word([one], WORDS) == {"pine": (one,)}


def test_what_cannot_be_told_is_refused(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    clips = files(tmp_path, "a.wav", "b.wav", "c.wav", "d.wav", "pine.wav", "pine.flac")
    for paths in (
        [tmp_path / "empty"],
        [tmp_path / "empty", clips[0]],
        clips[:4],
        clips[4:],
        [tmp_path],
        [tmp_path / "gone.wav"],
    ):
        with pytest.raises(RecordingsUnclear) as refused:
            by_word(paths, WORDS)
        assert refused.value.what and refused.value.why and refused.value.mend
