"""What is held out stays out: of the partition, of synthetic material, of cuts."""

from __future__ import annotations

import random
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.phones import CONSONANTS, PAUSE, PHONES, SHORT_LONG, VOWELS
from speech.training.corpus import FRAME, MARGIN_S, Segment, Spoken, cut, said, training_runs
from speech.training.partition import MOST_IN_TRAINING, Partition, partition, stem
from speech.training.strings import dictionary_strings, material, plain, pseudo_word, slip_of

WORDS = (
    "boat", "lighthouse", "tide", "gull", "rope", "wave", "shell", "crab", "sand", "kite", "lamp",
    "harbour", "whistle", "storm", "anchor", "net", "buoy", "pebble", "mist", "sail",
)  # fmt: skip


def listing(seed: int) -> list[dict[str, object]]:
    """Invented children and adults of Saltmarrow Primary, each reading a few lines."""
    rng = random.Random(seed)
    ages = [rng.choice((5, 6, 7, 8)) for _ in range(20)]
    ages += [rng.choice((9, 10, 11)) for _ in range(15)] + [rng.choice((12, 30)) for _ in range(4)]
    rows: list[dict[str, object]] = []
    for number, age in enumerate(ages):
        rows += [
            {
                "speaker": f"s{number:02}",
                "age": age,
                "text": " ".join([WORDS[number % len(WORDS)], *rng.choices(WORDS, k=4), "the"]),
            }
            for _ in range(3)
        ]
    return rows


@given(st.integers(0, 10_000))
def test_no_speaker_and_no_stem_is_on_two_sides(seed: int) -> None:
    rows = listing(seed)
    parts = partition(rows)
    assert not parts.test_speakers & parts.calibration_speakers
    assert not parts.test_stems & parts.calibration_stems
    assert parts.held_stems == parts.test_stems | parts.calibration_stems
    age = {row["speaker"]: row["age"] for row in rows}
    held = parts.test_speakers | parts.calibration_speakers
    assert len(parts.test_speakers) == 9 and len(parts.calibration_speakers) == 6
    assert all(int(str(age[speaker])) <= 11 for speaker in held)


@given(st.integers(0, 10_000))
def test_only_words_that_training_can_spare_are_held_out(seed: int) -> None:
    rows = listing(seed)
    parts = partition(rows)
    held = parts.test_speakers | parts.calibration_speakers
    counts = dict.fromkeys((*WORDS, "the"), 0)
    for row in rows:
        if row["speaker"] not in held:
            for word in str(row["text"]).split():
                counts[word] += 1
    for word, count in counts.items():
        assert count <= MOST_IN_TRAINING or stem(word) not in parts.held_stems
    assert stem("the") not in parts.held_stems


def test_the_partition_does_not_depend_on_the_order_of_the_listing() -> None:
    rows = listing(1)
    assert partition(rows) == partition(rows[::-1]) == partition(listing(1))


@pytest.mark.parametrize(
    "family",
    [
        ("like", "likes", "liked", "liking"),
        ("hop", "hops", "hopped", "hopping"),
        ("hope", "hopes", "hoped", "hoping"),
        ("boat", "boats", "Boat's"),
        ("big", "bigger", "biggest"),
        ("carry", "carries", "carried"),
        ("slow", "slowly", "slower", "slowest"),
    ],
)
def test_inflections_of_a_word_have_one_stem(family: tuple[str, ...]) -> None:
    assert len({stem(word) for word in family}) == 1


def test_unlike_words_keep_unlike_stems() -> None:
    assert len({stem(word) for word in WORDS}) == len(WORDS)


ENTRIES = {
    "pine": "P AY1 N", "pines": "P AY1 N Z", "pin": "P IH1 N", "cape": "K EY1 P",
    "cap": "K AE1 P", "kite": "K AY1 T", "hope": "HH OW1 P", "tree": "T R IY1",
    "harbour": "HH AA1 R B ER0", "lighthouse": "L AY1 T HH AW2 S",
    "responsibility": "R IY0 S P AA2 N S AH0 B IH1 L AH0 T IY0",
}  # fmt: skip


def test_dictionary_strings_mark_the_stress_and_leave_out_long_words() -> None:
    strings = dictionary_strings(ENTRIES)
    assert strings["lighthouse"] == "L 'AY T HH AW S"
    assert strings["harbour"] == "HH 'AA R B ER"
    assert "responsibility" not in strings


@given(st.integers(0, 10_000), st.sets(st.sampled_from(["pine", "cape", "kite", "tree", "pin"])))
def test_material_never_says_a_word_held_out(seed: int, held: set[str]) -> None:
    words = dictionary_strings(ENTRIES)
    stems = {stem(word) for word in held}
    strings = material(words, stems, 60, random.Random(seed))
    assert len(strings) == 60
    banned = {plain(p) for word, p in words.items() if stem(word) in stems}
    assert not banned & {plain(string) for string in strings}
    assert all(set(plain(string).split()) <= set(PHONES) for string in strings)


def test_without_the_ban_a_slip_would_say_a_word_held_out() -> None:
    """The check above can fail: *met* with its vowel's partner is *meet*."""
    met, meet = {"met": "M 'EH T"}, {"meet": "M 'IY T"}
    free = material(met, (), 300, random.Random(3))
    assert "M IY T" in {plain(string) for string in free}
    banned = material(met | meet, {stem("meet")}, 300, random.Random(3))
    assert "M IY T" not in {plain(string) for string in banned}


@given(st.integers(0, 10_000))
def test_a_slip_changes_one_sound_and_a_pseudo_word_has_a_vowel(seed: int) -> None:
    rng = random.Random(seed)
    base = "K L 'EY P"
    slip = slip_of(base, rng)
    assert abs(len(slip.split()) - len(base.split())) <= 1
    if len(slip.split()) == len(base.split()):
        changed = [(a, b) for a, b in zip(base.split(), slip.split(), strict=True) if a != b]
        assert len(changed) <= 1
    said_phones = plain(pseudo_word(rng)).split()
    assert any(phone in VOWELS for phone in said_phones)
    assert set(said_phones) <= set(VOWELS + CONSONANTS)


def test_partners_go_both_ways() -> None:
    assert all(SHORT_LONG[SHORT_LONG[vowel]] == vowel for vowel in SHORT_LONG)


@st.composite
def utterances(draw: st.DrawFn) -> Spoken:
    """Words of one to four sounds with silences between, in samples that number themselves."""
    at, segments = draw(st.integers(0, 30)), []
    words = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    for word, sounds in enumerate(words):
        for _ in range(sounds):
            length = draw(st.integers(2, 20))
            phone = draw(st.sampled_from(PHONES))
            segments.append(Segment(phone, word, at * FRAME, (at + length) * FRAME))
            at += length + (draw(st.integers(0, 25)) if draw(st.booleans()) else 0)
    total = (at + draw(st.integers(0, 30))) * FRAME
    names = draw(st.lists(st.sampled_from(WORDS), min_size=len(words), max_size=len(words)))
    samples = np.arange(total, dtype=np.float32)
    return Spoken("clip", "s00", 6, tuple(names), samples, tuple(segments))


@given(utterances(), st.data())
def test_a_cut_keeps_its_sounds_and_stops_at_its_neighbours(
    spoken: Spoken, data: st.DataObject
) -> None:
    first = data.draw(st.integers(0, len(spoken.segments) - 1))
    last = data.draw(st.integers(first, len(spoken.segments) - 1))
    clip = cut(spoken, first, last)
    start, end = int(clip.samples[0]), int(clip.samples[-1]) + 1
    inner_start, inner_end = spoken.segments[first].start, spoken.segments[last].end
    assert start <= inner_start and end >= inner_end
    margin = int(MARGIN_S * 16000)
    assert inner_start - start <= margin and end - inner_end <= margin
    if first:
        assert start >= spoken.segments[first - 1].end
    if last + 1 < len(spoken.segments):
        assert end <= spoken.segments[last + 1].start
    sounds = [symbol for symbol in clip.phones.split() if symbol != PAUSE]
    assert sounds == [segment.phone for segment in spoken.segments[first : last + 1]]


@given(utterances())
def test_a_pause_is_written_exactly_where_there_is_a_long_silence(spoken: Spoken) -> None:
    long = sum(
        after.start - before.end >= 12 * FRAME for before, after in pairwise(spoken.segments)
    )
    assert said(spoken.segments).split().count(PAUSE) == long


@given(utterances(), st.sets(st.sampled_from(WORDS)))
def test_training_hears_every_allowed_sound_and_no_other(spoken: Spoken, held: set[str]) -> None:
    parts = Partition(frozenset(), frozenset(), frozenset(stem(word) for word in held), frozenset())
    heard = [n for first, last in training_runs(spoken, parts) for n in range(first, last + 1)]
    allowed = [
        number
        for number, segment in enumerate(spoken.segments)
        if spoken.words[segment.word] not in held
    ]
    assert heard == allowed
