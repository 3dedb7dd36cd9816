"""Nothing is listened to or kept without a recorded yes.

UK General Data Protection Regulation, Articles 4(11), 7, 8 and 13 (from memory): consent is
specific, given by a clear act, as easy to take back as to give, and informed.
"""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.record import consent, consent_text, erasure
from companion.record.consent import ClipPermit, LogPermit, PractisePermit
from companion.record.consent_text import CHOICES, SECTIONS
from companion.record.home import ChildFolder, child_folder, children
from companion.record.trouble import BadLabel, ConsentMissing, ConsentUnreadable, HomeUnwritable

NOW = datetime(2026, 11, 25, 8, 45, 30, 250, tzinfo=UTC)


def test_four_separate_choices_are_all_no_until_given(puffin: ChildFolder) -> None:
    assert consent.NAMES == ("practise", "keep_log", "hand_in", "keep_clips")
    assert not any(consent.read(puffin).holds(name) for name in consent.NAMES)
    assert not puffin.path.exists()


def test_a_yes_to_one_choice_is_not_a_yes_to_another(puffin: ChildFolder) -> None:
    consent.give(puffin, ["practise"], NOW)
    kept = consent.read(puffin)
    assert [name for name in consent.NAMES if kept.holds(name)] == ["practise"]
    assert kept.given["practise"].at == NOW.replace(microsecond=0)
    assert kept.given["practise"].text_version == consent_text.TEXT_VERSION


@pytest.mark.parametrize(
    ("permit", "choices"),
    [
        (PractisePermit, ["practise"]),
        (LogPermit, ["keep_log"]),
        (ClipPermit, ["keep_log", "keep_clips"]),
    ],
)
def test_a_permit_exists_only_while_its_choice_is_recorded(
    puffin: ChildFolder, permit: type[consent.Permit], choices: list[str]
) -> None:
    with pytest.raises(ConsentMissing) as refused:
        permit(puffin)
    assert "wordhearth consent" in refused.value.mend
    consent.give(puffin, choices, NOW)
    held = permit(puffin)
    held.confirm()
    consent.take_back(puffin, choices)
    with pytest.raises(ConsentMissing):
        held.confirm()


def test_a_copied_permit_is_still_asked_for_its_consent(puffin: ChildFolder, home: Path) -> None:
    consent.give(puffin, ["practise"], NOW)
    held = PractisePermit(puffin)
    with pytest.raises(ConsentMissing):
        dataclasses.replace(held, folder=ChildFolder(home, "gull"))


def test_consent_to_other_words_does_not_count(
    puffin: ChildFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    consent.give(puffin, ["practise", "keep_log"], NOW)
    monkeypatch.setattr(consent, "TEXT_VERSION", "2 (1 January 2027)")
    with pytest.raises(ConsentMissing, match="words agreed to have changed"):
        PractisePermit(puffin)
    consent.give(puffin, ["practise"], NOW)
    PractisePermit(puffin)
    with pytest.raises(ConsentMissing):
        LogPermit(puffin)


def test_giving_again_keeps_the_first_date(puffin: ChildFolder) -> None:
    consent.give(puffin, ["practise"], NOW)
    consent.give(puffin, ["practise"], NOW.replace(year=2027))
    assert consent.read(puffin).given["practise"].at.year == 2026


@pytest.mark.parametrize("choice", ["hand_in", "keep_clips"])
def test_a_choice_with_nothing_to_act_on_is_refused_whole(puffin: ChildFolder, choice: str) -> None:
    with pytest.raises(ConsentMissing, match="keep_log"):
        consent.give(puffin, ["practise", choice], NOW)
    assert not consent.read(puffin).given


def test_taking_the_log_back_takes_back_what_needs_it(puffin: ChildFolder) -> None:
    consent.give(puffin, consent.NAMES, NOW)
    assert consent.take_back(puffin, ["keep_log"]) == ("keep_log", "hand_in", "keep_clips")
    assert consent.read(puffin).holds("practise")


def test_one_childs_consent_is_not_anothers(puffin: ChildFolder, home: Path) -> None:
    consent.give(puffin, ["practise"], NOW)
    with pytest.raises(ConsentMissing, match="listen to the child"):
        PractisePermit(ChildFolder(home, "gull"))
    assert children(home) == ("puffin",)


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"format": 1}', '{"format": 2, "given": {}}', "\x00\xff",
     '{"format": 1, "given": {"everything": {"at": "2026-11-25T08:45:00+00:00"}}}',
     '{"format": 1, "given": {"practise": {"at": "2026-11-25", "text_version": "1"}}}',
     '{"format": 1, "given": {"practise": {"at": "soon", "text_version": "1"}}}',
     '{"format": 1, "given": ["practise"]}'],
)  # fmt: skip
def test_a_damaged_record_is_no_consent_and_is_left_alone(puffin: ChildFolder, text: str) -> None:
    puffin.path.mkdir(parents=True)
    puffin.consent.write_bytes(text.encode("latin-1"))
    with pytest.raises(ConsentUnreadable):
        PractisePermit(puffin)
    with pytest.raises(ConsentUnreadable):
        consent.give(puffin, ["practise"], NOW)
    assert puffin.consent.read_bytes() == text.encode("latin-1")


@given(st.sets(st.sampled_from(consent.NAMES)), st.sets(st.sampled_from(consent.NAMES)))
def test_giving_and_taking_back_are_sets(
    tmp_path_factory: pytest.TempPathFactory, first: set[str], gone: set[str]
) -> None:
    folder = ChildFolder(tmp_path_factory.mktemp("home"), "puffin")
    if first & {"hand_in", "keep_clips"}:
        first |= {"keep_log"}
    consent.give(folder, first, NOW)
    consent.take_back(folder, gone)
    held = {name for name in consent.NAMES if consent.read(folder).holds(name)}
    dependent = {"hand_in", "keep_clips"} if "keep_log" in gone else set()
    assert held == first - gone - dependent


def test_the_words_say_what_the_law_asks() -> None:
    said = " ".join(f"{title} {text}" for title, text in SECTIONS).lower()
    for point in (
        "responsible", "parental responsibility", "listened to", "not kept", "not sent", "8 weeks",
        "who sees it", "it can be wrong", "not a diagnosis", "correct", "erase", "take back",
        "changes nothing for the child at school", "information commissioner", "senco",
        "recognise a voice", "data protection officer",
    ):  # fmt: skip
        assert point in said
    assert len({choice.question for choice in CHOICES}) == 4


@pytest.mark.parametrize(
    ("log", "clips", "says"),
    [(False, False, "nothing you read is kept"), (True, False, "grown-ups"), (True, True, "hear")],
)
def test_the_child_is_told_who_can_see(log: bool, clips: bool, says: str) -> None:
    assert says in consent_text.child_line(log, clips).lower()


@pytest.mark.parametrize("label", ["puffin", "Red Kite", "crab-2", "  seal "])
def test_a_nickname_or_a_picture_is_a_label(home: Path, label: str) -> None:
    folder = child_folder(label, home)
    consent.give(folder, ["practise"], NOW)
    assert children(home) == (label.strip().lower(),)


@pytest.mark.parametrize(
    "label",
    ["..", "../x", "a/b", "a\\b", "<script>", "x" * 21, "a  b", "née", "con.", "a_b", "-", "  ",
     "a\nb", "a\0b"],
)  # fmt: skip
def test_other_labels_are_refused(home: Path, label: str) -> None:
    with pytest.raises(BadLabel):
        child_folder(label, home)


def test_a_home_that_cannot_be_made_says_so(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file where the folder should be")
    with pytest.raises(HomeUnwritable, match="could not be written"):
        consent.give(ChildFolder(tmp_path / "home", "puffin"), ["practise"], NOW)


def test_withdrawing_everything_needs_no_readable_record(puffin: ChildFolder) -> None:
    consent.give(puffin, ["practise"], NOW)
    puffin.consent.write_text("{")
    erasure.withdraw_all(puffin)
    assert not puffin.path.exists()
