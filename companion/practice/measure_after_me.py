"""Fit, or measure the worth of, the words said after the computer.

python -m companion.practice.measure_after_me PREPARED_FOLDER fit       # writes after_me.json
python -m companion.practice.measure_after_me PREPARED_FOLDER report    # verdicts without and with

Children are those of the partition, whom no training heard: the repeats are right readings of one
half of a child's words, and the other half is judged. Synthesised accents say the words of
`companion.practice.repeating` and then read others. Nothing is fitted on what it is measured on:
a calibration child, or an accent, is left out of the numbers that are used for it. It needs
espeak-ng and flite.
"""

from __future__ import annotations

import argparse
import collections
import json
import random
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table
from scipy.stats import binomtest

from companion.phonics.reading import Reading, reading
from companion.practice import trials
from companion.practice.after_me import FILE, Repeat, Usual, adjusted, fit
from companion.practice.evidence import Evidence, gather, swaps_partner
from companion.practice.marking import Marking, bundled
from companion.practice.repeating import WORDS, repeat
from companion.practice.turn import verdicts, weigh
from companion.record.own_vowels import PAIRS, OwnVowels
from fixtures_audio import rooms
from fixtures_audio.conditions import SPOKEN_ACCENTS, words
from fixtures_audio.make_fixtures import ROOM_DBFS, Unsayable, Voice, read_aloud, say
from speech.audio import Samples
from speech.phones import SHORT_LONG
from speech.scorer import PhoneScorer

SPLITS = 5
"""How often a child's words are halved; each reading is then judged so many times."""
READINGS, SLIPS = 60, 30
"""Right readings and slips of each voice."""
VOICES = {
    "espeak-ng": (("+f2", 60, 100, 1.08), ("+f4", 80, 115, 1.17)),
    "flite": (("", 50, 120, 1.1), ("", 50, 120, 1.25)),
}
"""Two readers of each accent: variant, pitch, words a minute, and warp towards a child."""


@dataclass(frozen=True)
class Said:
    """One clip, heard.

    Attributes
    ----------
    who : str
        The child or voice.
    accent : str
        The synthesised accent; ``""`` for a child.
    word : str
        What tells words apart: a word is either repeated or judged.
    truth : str
        ``as_written``, ``slip``, or ``repeat`` for a word said after the computer.
    reading : Reading
    evidence : Evidence
    """

    who: str
    accent: str
    word: str
    truth: str
    reading: Reading
    evidence: Evidence

    def repeat(self, marking: Marking) -> Repeat | None:
        """What it tells where its word is known."""
        return repeat(self.evidence, self.reading, marking)

    def verdict(self, own: OwnVowels | None, marking: Marking) -> str:
        """How it is judged, without a child's own numbers or with them."""
        evidence = self.evidence if own is None else adjusted(self.evidence, self.reading, own)
        explanations, _ = weigh(evidence, self.reading, marking)
        sure, _ = explanations.probabilities()
        p = verdicts(sure, evidence, self.reading, marking)
        return max(p, key=lambda name: p[name])


def children(folder: Path, part: str, scorer: PhoneScorer) -> Iterator[Said]:
    """Right readings and vowel slips of a part's children, ``calibration`` or ``test``."""
    for trial in trials.load(folder, part):
        if trial.verdict in ("as_written", "slip"):
            evidence = _evidence(trial.samples, trial.reading, scorer)
            yield Said(trial.speaker, "", trial.said, trial.verdict, trial.reading, evidence)


def accents(scorer: PhoneScorer) -> Iterator[Said]:
    """Repeats, right readings of other words and slips, by two readers of each accent."""
    for base, accent in SPOKEN_ACCENTS.items():
        engine = "flite" if base == "awb" else "espeak-ng"
        for number, (variant, pitch, wpm, warp) in enumerate(VOICES[engine]):
            voice = Voice(f"{base} {number}", engine, base + variant, pitch, wpm, warp)
            rng = random.Random(f"{base} {number}")
            others = [word for word in rng.sample(words(), len(words())) if word not in WORDS]
            for word in WORDS:
                yield _heard(voice, base, word, accent, "repeat", scorer)
            for word in others[:READINGS]:
                yield _heard(voice, base, word, accent, "as_written", scorer)
            yield from _slips(voice, base, others[READINGS:], accent, scorer)


def _slips(
    voice: Voice, base: str, chosen: Sequence[str], accent: str | None, scorer: PhoneScorer
) -> Iterator[Said]:
    made = 0
    for word in chosen:
        ready = reading(word, accent=accent)
        able = [slip for slip in ready.slips if swaps_partner(slip, ready.accepted)]
        if able and made < SLIPS:
            try:
                sound = say(voice, able[0].phones)
            except Unsayable:
                continue
            made += 1
            evidence = _evidence(_in_room(sound, voice, word), ready, scorer)
            yield Said(voice.name, base, word, "slip", ready, evidence)


def _heard(
    voice: Voice, base: str, word: str, accent: str | None, truth: str, scorer: PhoneScorer
) -> Said:
    ready = reading(word, accent=accent)
    sound = _in_room(read_aloud(voice, word), voice, word)
    return Said(voice.name, base, word, truth, ready, _evidence(sound, ready, scorer))


def _in_room(sound: Samples, voice: Voice, word: str) -> Samples:
    rng = np.random.default_rng(zlib.crc32(f"{voice.name} {word}".encode()))
    padded = np.concatenate([rooms.quiet(0.35), sound, rooms.quiet(0.5)])
    return np.asarray(padded + rooms.noise(len(padded), ROOM_DBFS, rng), np.float32)


def _evidence(sound: Samples, ready: Reading, scorer: PhoneScorer) -> Evidence:
    return gather(sound, scorer.hear(sound), ready)


def means(repeats: Iterable[tuple[str, Repeat]]) -> dict[str, float]:
    """Mean margin of each vowel, in nats."""
    found: dict[str, list[float]] = {vowel: [] for vowel in SHORT_LONG}
    for _, each in repeats:
        found[each.vowel].append(each.margin)
    return {vowel: float(np.mean(margins)) for vowel, margins in found.items()}


def spread(
    repeats: Sequence[tuple[str, Repeat]], mean: Mapping[str, float]
) -> tuple[float, dict[str, float]]:
    """Variance within speakers, pairs pooled, and between speakers, for each pair; by moments.

    A variance between may come out below 0, where chance made speakers more alike than they are.

    References
    ----------
    One-way random effects with unequal groups (Searle, Casella and McCulloch 1992, *Variance
    Components*, section 3.6; from memory), with the known mean of each vowel taken off.
    """
    groups: dict[str, dict[str, list[float]]] = {pair: {} for pair in PAIRS}
    for who, each in repeats:
        pair = each.vowel if each.vowel in PAIRS else SHORT_LONG[each.vowel]
        groups[pair].setdefault(who, []).append(each.margin - mean[each.vowel])
    gaps = {pair: [np.array(gap) for gap in group.values()] for pair, group in groups.items()}
    every = [gap for group in gaps.values() for gap in group]
    within = sum(float(gap.var()) * len(gap) for gap in every) / sum(len(gap) - 1 for gap in every)
    between = {
        pair: sum(len(gap) * (float(gap.mean()) ** 2 - within / len(gap)) for gap in group)
        / sum(map(len, group))
        for pair, group in gaps.items()
    }
    return within, between


def _repeats(said: Iterable[Said], truth: str, marking: Marking) -> list[tuple[str, Repeat]]:
    pairs = [(each.who, each.repeat(marking)) for each in said if each.truth == truth]
    return [(who, found) for who, found in pairs if found is not None]


def usual_of(own: Sequence[tuple[str, Repeat]], spoken: Sequence[tuple[str, Repeat]]) -> Usual:
    """The usual numbers, from repeats of children and of accents.

    The corpus's children share one first language, so how far British accents lie apart in each
    pair is taken from synthesised ones, and added to how far children do in all pairs together.
    """
    mean = means(own)
    within, among = spread(own, mean)
    _, apart = spread(spoken, means(spoken))
    children = max(0.0, sum(among.values()) / len(PAIRS))
    between = {pair: children + max(0.0, apart[pair]) for pair in PAIRS}
    return Usual(mean, within, between, "measured")


def save(usual: Usual, path: Path = FILE) -> None:
    """Write the numbers with a line that says what they were fitted on."""
    rounded = {
        "fitted_on": "right readings of the calibration children of the partition; between adds "
        "the synthesised accents of fixtures_audio.conditions",
        "mean": {vowel: round(margin, 2) for vowel, margin in usual.mean.items()},
        "within": round(usual.within, 2),
        "between": {pair: round(apart, 2) for pair, apart in usual.between.items()},
    }
    path.write_text(json.dumps(rounded, indent=1) + "\n", encoding="utf-8")


Counts = collections.Counter[tuple[bool, str, str]]
"""How often each truth had each verdict, without (False) and with (True) a child's numbers."""


def judged_children(said: Sequence[Said], usual: Mapping[str, Usual], marking: Marking) -> Counts:
    """Each half of a child's words judged by the other half, in `SPLITS` halvings."""
    counts: Counts = collections.Counter()
    before = [each.verdict(None, marking) for each in said]
    told = [each.repeat(marking) if each.truth == "as_written" else None for each in said]
    for who in sorted({each.who for each in said}):
        mine = [number for number, each in enumerate(said) if each.who == who]
        spelt = sorted({said[number].word for number in mine})
        for split in range(SPLITS):
            half = set(random.Random(f"{who} {split}").sample(spelt, len(spelt) // 2))
            for side in (True, False):
                known = [told[n] for n in mine if (said[n].word in half) == side]
                own = fit([each for each in known if each is not None], usual[who])
                for number in mine:
                    if (said[number].word in half) != side:
                        truth = said[number].truth
                        counts[False, truth, before[number]] += 1
                        counts[True, truth, said[number].verdict(own, marking)] += 1
    return counts


def judged_accents(
    said: Sequence[Said], own: Sequence[tuple[str, Repeat]], marking: Marking
) -> dict[str, Counts]:
    """Readings of each accent, by numbers that know nothing of it."""
    found: dict[str, Counts] = {}
    for accent in SPOKEN_ACCENTS:
        others = _repeats((each for each in said if each.accent != accent), "repeat", marking)
        usual = usual_of(own, others)
        counts = found.setdefault(accent, collections.Counter())
        mine = [each for each in said if each.accent == accent]
        repeats = _repeats(mine, "repeat", marking)
        for each in mine:
            if each.truth != "repeat":
                numbers = fit([told for who, told in repeats if who == each.who], usual)
                counts[False, each.truth, each.verdict(None, marking)] += 1
                counts[True, each.truth, each.verdict(numbers, marking)] += 1
    return found


def table(rows: Mapping[str, tuple[Counts, int]]) -> Table:
    """Shares without and with, each with its 95% Wilson interval; counts are over so many splits.

    A reading judged in several splits counts once in the intervals.
    """
    shown = Table("readers", "", "right", "false slips", "could not tell", "slips", "slips found")
    for name, (counts, splits) in rows.items():
        for own in (False, True):
            right = sum(n for (_own, truth, _), n in counts.items() if truth == "as_written") / 2
            slips = sum(n for (_own, truth, _), n in counts.items() if truth == "slip") / 2
            shown.add_row(
                "" if own else name,
                "with" if own else "without",
                str(round(right / splits)),
                _share(counts[own, "as_written", "slip"], right, splits),
                _share(counts[own, "as_written", "unsure"], right, splits),
                str(round(slips / splits)),
                _share(counts[own, "slip", "slip"], slips, splits),
            )
    return shown


def _share(count: float, total: float, splits: int) -> str:
    interval = binomtest(round(count / splits), round(total / splits)).proportion_ci(
        method="wilson"
    )
    return f"{count / total:.1%} ({interval.low:.1%} to {interval.high:.1%})"


def report(
    calibration: Sequence[Said], test: Sequence[Said], spoken: Sequence[Said], marking: Marking
) -> Table:
    """Verdicts without and with, of all three."""
    own = _repeats(calibration, "as_written", marking)
    apart = _repeats(spoken, "repeat", marking)
    left_out = {
        who: usual_of([each for each in own if each[0] != who], apart)
        for who in {each.who for each in calibration}
    }
    bundled_usual = Usual.load()
    rows = {
        "calibration children": (judged_children(calibration, left_out, marking), SPLITS),
        "test children": (
            judged_children(test, {each.who: bundled_usual for each in test}, marking),
            SPLITS,
        ),
    }
    by_accent = judged_accents(spoken, own, marking)
    together: Counts = sum(by_accent.values(), collections.Counter())
    rows |= {f"accent {name}": (counts, 1) for name, counts in by_accent.items()}
    return table(rows | {"all accents": (together, 1)})


def main() -> None:
    """Fit or report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("what", choices=("fit", "report"))
    args = parser.parse_args()
    scorer = PhoneScorer.load()
    marking = bundled()
    total = len(SPOKEN_ACCENTS) * 2 * (len(WORDS) + READINGS + SLIPS)
    spoken = list(track(accents(scorer), description="hearing accents", total=total))
    calibration = list(children(args.folder, "calibration", scorer))
    if args.what == "fit":
        own = _repeats(calibration, "as_written", marking)
        save(usual_of(own, _repeats(spoken, "repeat", marking)))
        return
    test = list(children(args.folder, "test", scorer))
    Console(highlight=False, width=120).print(report(calibration, test, spoken, marking))


if __name__ == "__main__":
    main()
