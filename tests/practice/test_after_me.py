"""Words said after the computer: what is made of them, by hand and by their invariants."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.phonics.reading import reading
from companion.phonics.suitable import known_words
from companion.practice.after_me import (
    FAR,
    FILE,
    Repeat,
    Usual,
    adjusted,
    fit,
    offset,
    usual,
    vowel_of,
)
from companion.practice.evidence import Evidence, candidates, gather
from companion.practice.marking import bundled
from companion.practice.repeating import LEAST, WORDS, AfterMe, repeat
from companion.practice.turn import judge
from companion.record.own_vowels import MOST_NATS, PAIRS, STEP_NATS, OwnVowels
from speech.audio import Samples, read
from speech.phones import SHORT_LONG
from speech.scorer import PhoneScorer

CLIPS = Path(__file__).parents[2] / "fixtures_audio"
MEAN = {vowel: -6.0 if vowel in PAIRS else 6.0 for vowel in SHORT_LONG}
PLAIN = Usual(MEAN, within=6.0, between=dict.fromkeys(PAIRS, 2.0), name="by hand")
"""Two repeats count 2 / (2 + 6 / 2) = 0.4; four count 2 / (2 + 6 / 4) = 4/7."""

margins = st.floats(-60, 60, allow_nan=False)
repeats = st.lists(st.builds(Repeat, st.sampled_from(sorted(SHORT_LONG)), margins), max_size=30)


@pytest.fixture(scope="module")
def scorer() -> PhoneScorer:
    return PhoneScorer.load()


def clip(name: str) -> Samples:
    return read(CLIPS / "synthesised" / f"{name}.opus").samples


# -- arithmetic ------------------------------------------------------------------------------


def test_two_repeats_count_two_fifths_of_their_mean_distance_from_the_usual() -> None:
    # short: -4 is 2 above its usual -6; long: 9 is 3 above its usual 6; mean 2.5; times 0.4 is 1
    own = fit([Repeat("AE", -4.0), Repeat("EY", 9.0)], PLAIN)
    assert own == OwnVowels((1.0, 0.0, 0.0, 0.0, 0.0), "by hand")


def test_four_repeats_count_more_than_two() -> None:
    assert offset([2.0, 2.0], 6.0, 2.0) == 0.75  # 0.8 in steps of a quarter
    assert offset([2.0] * 4, 6.0, 2.0) == 1.25  # 8/7


def test_a_misheard_repeat_counts_as_no_further_than_two_deviations() -> None:
    far = FAR * np.sqrt(8.0)
    assert offset([-60.0, 1.0], 6.0, 2.0) == offset([-far, 1.0], 6.0, 2.0) == -1.0


def test_a_margin_between_long_and_short_changes_by_the_whole_number() -> None:
    kite = reading("kite")
    own = OwnVowels((0.0, 0.0, 1.5, 0.0, 0.0), "by hand")
    strings, _ = candidates(kite)
    long, short = strings.index("K AY T"), strings.index("K IH T")
    before = evidence_of(kite.word, np.arange(2.0 * len(strings)).reshape(2, -1))
    after = adjusted(before, kite, own).words
    assert after[:, long] - before.words[:, long] == pytest.approx([-0.75, -0.75])
    assert after[:, short] - before.words[:, short] == pytest.approx([0.75, 0.75])


def test_the_two_values_of_hop_move_together_against_hope() -> None:
    hope = reading("hope", accent="northern")
    strings, _ = candidates(hope)
    before = evidence_of("hope", np.zeros((1, len(strings))), "northern")
    after = adjusted(before, hope, OwnVowels((0.0, 0.0, 0.0, -1.0, 0.0), "by hand")).words[0]
    moved = {said: after[strings.index(said)] for said in ("HH OW P", "HH AA P", "HH AO P")}
    assert moved == {"HH OW P": 0.5, "HH AA P": -0.5, "HH AO P": -0.5}


def test_a_schwa_is_no_short_u() -> None:
    rocket = reading("rocket")
    assert "R AA K AH T" in rocket.accepted
    before = evidence_of("rocket", np.zeros((1, len(candidates(rocket)[0]))))
    after = adjusted(before, rocket, OwnVowels((0.0, 0.0, 0.0, 0.0, 2.0), "by hand"))
    assert (after.words[0, np.array(candidates(rocket)[1]) == -1] == 0).all()


def evidence_of(word: str, words: np.ndarray, accent: str | None = None) -> Evidence:
    ready = reading(word, accent=accent)
    silent = np.zeros(4000, np.float32)
    heard = gather(silent, PhoneScorer.load().hear(silent), ready)
    return replace(heard, words=words.astype(float))


# -- invariants ------------------------------------------------------------------------------


@given(repeats)
def test_numbers_are_few_coarse_and_bounded_whatever_is_heard(said: list[Repeat]) -> None:
    own = fit(said, PLAIN)
    for number in own.longer:
        assert abs(number) <= MOST_NATS
        assert number / STEP_NATS == round(number / STEP_NATS)


@given(repeats, st.randoms())
def test_the_order_of_words_does_not_matter(said: list[Repeat], chance: object) -> None:
    mixed = list(said)
    chance.shuffle(mixed)  # type: ignore[attr-defined]
    assert fit(mixed, PLAIN) == fit(said, PLAIN)


@given(st.lists(margins, min_size=1, max_size=20), st.floats(0.1, 20), st.floats(0.01, 20))
def test_a_number_lies_between_0_and_the_mean_gap(
    gaps: list[float], within: float, between: float
) -> None:
    number = offset(gaps, within, between)
    far = FAR * np.sqrt(within + between)
    mean = np.clip(gaps, -far, far).mean()
    assert min(0.0, mean) - STEP_NATS / 2 <= number <= max(0.0, mean) + STEP_NATS / 2


@pytest.mark.parametrize("pair", PAIRS)
def test_one_misheard_word_of_four_moves_less_than_a_quarter_of_the_usual_margin(pair: str) -> None:
    plain = usual()
    for gap in (-60.0, 60.0):
        number = offset([gap, 0.0, 0.0, 0.0], plain.within, plain.between[pair])
        least = min(abs(plain.mean[pair]), abs(plain.mean[SHORT_LONG[pair]]))
        assert abs(number) < least / 4


@given(st.sampled_from([word.word for word in known_words()][:300]))
def test_numbers_of_0_change_nothing(word: str) -> None:
    ready = reading(word)
    words = np.linspace(-50, 0, len(candidates(ready)[0]))[None]
    before = Evidence(
        spans=(), words=words, sounded_out=0.0, free=0.0, free_path=(), silence=0.0, speech=True,
        voiced=True, clipped=False,
    )  # fmt: skip
    assert (adjusted(before, ready, OwnVowels((0.0,) * 5, "by hand")).words == words).all()


# -- the words -------------------------------------------------------------------------------


def test_every_short_and_long_vowel_is_said_twice_in_words_of_one_vowel() -> None:
    vowels = [vowel_of(reading(word).accepted[0]) for word in WORDS]
    assert sorted(map(str, vowels)) == sorted([*SHORT_LONG] * 2)


@pytest.mark.parametrize("accent", [None, "southern", "northern", "scottish"])
def test_every_word_has_its_partner_among_its_candidates(accent: str | None) -> None:
    for word in WORDS:
        ready = reading(word, accent=accent)
        vowels = set(filter(None, map(vowel_of, ready.accepted)))
        partners = {vowel_of(slip.phones) for slip in ready.slips}
        assert {SHORT_LONG[vowel] for vowel in vowels} & partners, word


# -- hearing ---------------------------------------------------------------------------------


def test_a_word_said_after_leans_to_the_vowel_that_was_said(scorer: PhoneScorer) -> None:
    kite, kit = clip("kite.K-AY-T.gb-b"), clip("kite.K-IH-T.rp-a")
    word = reading("kite")
    right = repeat(gather(kite, scorer.hear(kite), word), word, bundled())
    other = repeat(gather(kit, scorer.hear(kit), word), word, bundled())
    assert right and other
    assert right.vowel == other.vowel == "AY"
    assert right.margin > 2 > -2 > other.margin


def test_silence_and_another_word_tell_nothing(scorer: PhoneScorer) -> None:
    word = reading("cake")
    for samples in (np.zeros(16_000, np.float32), clip("pine.P-AY-N.scotland-a")):
        assert repeat(gather(samples, scorer.hear(samples), word), word, bundled()) is None


def test_a_word_not_heard_is_asked_for_once_more_and_then_left_out(scorer: PhoneScorer) -> None:
    after_me = AfterMe()
    silence = np.zeros(16_000, np.float32)
    assert after_me.word and after_me.word.word == WORDS[0]
    assert not after_me.hear(silence, scorer)
    assert after_me.again and after_me.place == (1, len(WORDS))
    assert not after_me.hear(silence, scorer)
    assert not after_me.again and after_me.place == (2, len(WORDS))
    while after_me.word:
        after_me.pass_by()
    assert after_me.left_out == WORDS
    assert after_me.own() is None and LEAST > 0
    with pytest.raises(ValueError, match="every word"):
        after_me.pass_by()


def test_a_childs_numbers_turn_a_doubtful_margin_and_none_leave_it(scorer: PhoneScorer) -> None:
    kite = clip("kite.K-AY-T.gb-b")
    plain = judge(kite, reading("kite"), scorer)
    same = judge(kite, reading("kite"), scorer, own=OwnVowels((0.0,) * 5, usual().name))
    longer = judge(
        kite, reading("kite"), scorer, own=OwnVowels((0.0, 0.0, 2.0, 0.0, 0.0), usual().name)
    )
    assert same.p == plain.p
    assert longer.p_slip["short_for_split"] > plain.p_slip["short_for_split"]


def test_the_bundled_numbers_say_what_they_were_fitted_on() -> None:
    numbers = json.loads(FILE.read_text())
    assert "calibration children" in numbers["fitted_on"]
    assert all(usual().mean[pair] < 0 < usual().mean[SHORT_LONG[pair]] for pair in PAIRS)
