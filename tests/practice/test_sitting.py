"""A sitting shows a word, takes at most two tries, and commits the turn before the next word."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.phonics.reading import reading
from companion.practice import kind_words
from companion.practice.sitting import TRIES_MAX, Keeping, Sitting, Step, after
from companion.practice.verdicts import VERDICTS, Judgement
from companion.record import clips, consent
from companion.record.consent import ClipPermit, LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import ConsentMissing, LogDisk
from speech.audio import Utterance

NOW = datetime(2026, 11, 25, 16, 30, tzinfo=UTC)
WORDS = ("pine", "kite", "hope")
READINGS = tuple(map(reading, WORDS))
SOUND = Utterance(np.sin(np.arange(8000, dtype=np.float32) / 9.0) / 2)


def judged(verdict: str, word: str = "pine") -> Judgement:
    gpcs = tuple(str(gpc) for gpc in reading(word).splits[0].gpcs)
    slip, gpc = ("short_for_split", gpcs[1]) if verdict == "slip" else (None, None)
    evidence = {"as_written": gpcs, "slip": (gpcs[1],)}.get(verdict, ())
    heard = "" if verdict == "silent" else "P AY N"
    place, unit = ((1, 2), 1) if verdict == "slip" else (None, None)
    p = {each: float(each == verdict) for each in VERDICTS}
    return Judgement(
        word=word,
        verdict=verdict,
        slip=slip,
        gpc=gpc,
        heard=heard,
        place=place,
        unit=unit,
        p=p,
        p_slip={"short_for_split": 0.5},
        loglik={"P AY N": -9.5},
        ms=30.0,
        evidence=evidence,
    )


@pytest.fixture
def keeping(tmp_path: Path) -> Iterator[Keeping]:
    folder = ChildFolder(tmp_path / "home", "puffin")
    consent.give(folder, ["practise", "keep_log"], NOW)
    with Log.open(folder.log) as log:
        yield Keeping(log, LogPermit(folder))


def kept_words(keeping: Keeping) -> list[str]:
    """What another program sees on disk at this moment."""
    with Log.open(keeping.log.path) as other:
        return [kept.turn.word for kept in other.turns()]


@pytest.mark.parametrize(
    ("tries", "step"),
    [
        (["as_written"], Step.NEXT),
        (["slip"], Step.AGAIN),
        (["other_word"], Step.AGAIN),
        (["sounded_out"], Step.AGAIN),
        (["silent"], Step.AGAIN),
        (["unsure"], Step.AGAIN),
        (["slip", "as_written"], Step.NEXT),
        (["slip", "slip"], Step.NEXT),
        (["silent", "silent"], Step.NEXT),
        (["slip", "unsure"], Step.ASK_ADULT),
        (["unsure", "slip"], Step.NEXT),
    ],
)
def test_what_comes_after_a_try(tries: list[str], step: Step) -> None:
    assert after([judged(verdict) for verdict in tries]) is step


def test_each_turn_is_on_disk_before_the_next_word_is_shown(keeping: Keeping) -> None:
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    for number, word in enumerate(WORDS, start=1):
        assert sitting.word is not None and sitting.word.word == word
        assert sitting.place == (number, 3)
        assert sitting.hear(judged("slip", word), NOW) is Step.AGAIN
        assert kept_words(keeping) == list(WORDS[: number - 1])
        assert sitting.hear(judged("as_written", word), NOW) is Step.NEXT
        assert kept_words(keeping) == list(WORDS[:number])
    assert sitting.word is None
    sitting.close(NOW + timedelta(minutes=4))
    (row,) = keeping.log.sittings()
    assert (row.list_name, row.ended) == ("i-e", NOW + timedelta(minutes=4))


def test_the_last_try_counts_even_if_an_earlier_one_was_right(keeping: Keeping) -> None:
    """2016 phonics screening check: video transcript, Standards and Testing Agency, 2016."""
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    sitting.hear(judged("slip"), NOW)
    sitting.hear(judged("as_written"), NOW)
    (kept,) = keeping.log.turns()
    assert [each.verdict for each in kept.turn.tries] == ["slip", "as_written"]
    assert kept.turn.outcome is not None and kept.turn.outcome.verdict == "as_written"
    assert kept.turn.gpcs == ("p /P/", "i-e /AY/", "n /N/")


@pytest.mark.parametrize("said", ["as_written", "not", "skip", None])
def test_the_adult_is_asked_when_it_cannot_be_told(keeping: Keeping, said: str | None) -> None:
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    sitting.hear(judged("unsure"), NOW)
    assert sitting.hear(judged("unsure"), NOW) is Step.ASK_ADULT
    assert kept_words(keeping) == []
    done = sitting.decide(said, NOW)
    assert done.number == 1
    assert keeping.log.turns()[0].turn.overrule == said


def test_without_a_log_it_is_the_same_sitting_and_nothing_is_kept(tmp_path: Path) -> None:
    sitting = Sitting("i-e", READINGS, None, NOW)
    sitting.hear(judged("as_written"), NOW, SOUND)
    sitting.pass_by()
    sitting.close(NOW)
    assert [(done.turn.word, done.number) for done in sitting.done] == [("pine", None)]
    assert list(tmp_path.iterdir()) == []


def test_closing_in_mid_word_keeps_the_tries_already_heard(keeping: Keeping) -> None:
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    sitting.hear(judged("slip"), NOW)
    sitting.close(NOW)
    sitting.close(NOW)
    assert kept_words(keeping) == ["pine"]
    with pytest.raises(ValueError, match="over"):
        sitting.hear(judged("slip"), NOW)


def test_ctrl_c_while_a_turn_is_committed_comes_after_it_and_keeps_it_once(
    keeping: Keeping, monkeypatch: pytest.MonkeyPatch
) -> None:
    commit = Log.add_turn

    def interrupted(*args: object, **named: object) -> int:
        os.kill(os.getpid(), signal.SIGINT)
        return commit(*args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Log, "add_turn", interrupted)
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    with pytest.raises(KeyboardInterrupt):
        sitting.hear(judged("as_written"), NOW)
    sitting.close(NOW)
    assert kept_words(keeping) == ["pine"]
    assert len(sitting.done) == 1


def test_a_turn_that_could_not_be_kept_is_still_the_one_shown(keeping: Keeping) -> None:
    sitting = Sitting("i-e", READINGS * 200, keeping, NOW)
    db = keeping.log._db
    db.execute(f"PRAGMA max_page_count = {db.execute('PRAGMA page_count').fetchone()[0]}")
    shown = None
    with pytest.raises(LogDisk):
        while (shown := sitting.word) is not None:
            sitting.hear(judged("as_written", shown.word), NOW)
    assert sitting.word is shown and shown is not None
    kept = len(sitting.done)
    db.execute("PRAGMA max_page_count = 100000")
    sitting.decide(None, NOW)
    assert len(kept_words(keeping)) == kept + 1


def test_consent_taken_back_in_another_window_stops_the_next_commit(keeping: Keeping) -> None:
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    sitting.hear(judged("as_written"), NOW)
    consent.take_back(keeping.permit.folder, ["keep_log"])
    with pytest.raises(ConsentMissing):
        sitting.hear(judged("as_written", "kite"), NOW)
    assert kept_words(keeping) == ["pine"]


def test_sound_is_kept_only_where_clips_were_chosen(keeping: Keeping) -> None:
    folder = keeping.permit.folder
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    sitting.hear(judged("as_written"), NOW, SOUND)
    assert not folder.clips.exists()
    consent.give(folder, ["keep_clips"], NOW)
    sitting = Sitting(
        "i-e", READINGS, Keeping(keeping.log, keeping.permit, ClipPermit(folder)), NOW
    )
    sitting.hear(judged("slip"), NOW, SOUND)
    sitting.hear(judged("as_written"), NOW, SOUND)
    assert [path.name for path in clips.kept(folder.clips)] == [
        "2026-11-25_turn000002_try1.flac",
        "2026-11-25_turn000002_try2.flac",
    ]


def test_a_judgement_of_another_word_is_refused(keeping: Keeping) -> None:
    sitting = Sitting("i-e", READINGS, keeping, NOW)
    with pytest.raises(ValueError, match="came for 'pine'"):
        sitting.hear(judged("as_written", "kite"), NOW)
    with pytest.raises(ValueError, match="needs at least one try"):
        sitting.decide(None, NOW)
    sitting.hear(judged("slip"), NOW)
    with pytest.raises(ValueError, match="decide"):
        sitting.pass_by()


@given(st.lists(st.sampled_from((*VERDICTS, "pass", "stop")), max_size=12))
@settings(deadline=None)
def test_no_word_has_more_than_two_tries_and_none_is_lost(events: list[str]) -> None:
    sitting = Sitting("i-e", READINGS, None, NOW)
    heard = 0
    for event in events:
        if sitting.word is None or event == "stop":
            break
        if event == "pass":
            if not sitting.tries:
                sitting.pass_by()
            continue
        heard += 1
        if sitting.hear(judged(event, sitting.word.word), NOW) is Step.ASK_ADULT:
            sitting.decide("not", NOW)
        assert len(sitting.tries) < TRIES_MAX
    sitting.close(NOW)
    assert sum(len(done.turn.tries) for done in sitting.done) == heard
    assert all(1 <= len(done.turn.tries) <= TRIES_MAX for done in sitting.done)
    assert [done.turn.word for done in sitting.done] == [
        word for word in WORDS if word in {done.turn.word for done in sitting.done}
    ]


@pytest.mark.parametrize("verdict", VERDICTS)
def test_nothing_said_to_a_child_says_wrong(verdict: str) -> None:
    shown = reading("pine")
    sitting = Sitting("i-e", [shown], None, NOW)
    said = [kind_words.try_again(judged(verdict), shown), kind_words.farewell([])]
    if sitting.hear(judged(verdict), NOW) is Step.AGAIN:
        sitting.hear(judged(verdict), NOW)
    done = sitting.done[0] if sitting.done else sitting.decide(None, NOW)
    said += [kind_words.turn_end(done.turn, shown), kind_words.farewell(["pine"])]
    for harsh in ("wrong", "incorrect", "mistake", "error", "fail", "bad", "score", "%", "x "):
        assert not any(harsh in line.lower() for line in said)


def test_a_split_digraph_is_shown_joined() -> None:
    assert kind_words.graphemes(reading("pine")) == "p · i-e · n"
    assert "The i and the e work together." in kind_words.try_again(judged("slip"), reading("pine"))
