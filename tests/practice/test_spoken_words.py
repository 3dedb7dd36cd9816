"""What the voice says can be said: words and their stops, and no marks that are only seen."""

from __future__ import annotations

import re

import pytest

from companion.phonics.reading import reading
from companion.practice import kind_words, spoken_words
from companion.practice.verdicts import VERDICTS, Judgement

PINE = reading("pine")


def judged(verdict: str) -> Judgement:
    slip = verdict == "slip"
    return Judgement(
        word="pine", verdict=verdict, slip="short_for_split" if slip else None,
        gpc="i-e /AY/" if slip else None, heard="P IH N", place=None, unit=1 if slip else None,
        p={}, p_slip={}, loglik={}, ms=1.0, evidence=(),
    )  # fmt: skip


@pytest.mark.parametrize("verdict", [v for v in VERDICTS if v != "as_written"])
def test_before_a_second_try_the_same_is_said_as_shown_without_the_graphemes(verdict: str) -> None:
    said = spoken_words.again(judged(verdict), PINE)
    assert re.fullmatch(r"[A-Za-z' ,.]+", said)
    shown = kind_words.try_again(judged(verdict), PINE)
    assert shown.replace(f": {kind_words.graphemes(PINE)}.", ".") == said


def test_a_slip_on_a_split_digraph_is_told_by_both_its_letters() -> None:
    assert "The i and the e work together." in spoken_words.again(judged("slip"), PINE)
