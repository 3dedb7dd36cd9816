"""Fit the marking's numbers on calibration children, or report verdicts on test children.

python -m companion.practice.calibrate PREPARED_FOLDER fit
python -m companion.practice.calibrate PREPARED_FOLDER report
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.progress import track
from scipy.optimize import minimize
from scipy.stats import binomtest

from companion.practice import trials
from companion.practice.evidence import Evidence, candidates, gather
from companion.practice.marking import Marking, bundled
from companion.practice.trials import Trial
from companion.practice.turn import verdicts, weigh
from companion.practice.verdicts import VERDICTS
from speech.ears import Ears

START = Marking(
    trust=0.4, trust_live=0.1, slip=-2.0, other_word=-1.0, sounded_out=0.0, silent=-1.0,
    no_speech=4.0, other_phone=3.0, restart=3.0, aside=4.0, apart=3.0, e_sounded=0.0,
    other_vowel=-1.5, consonant=-3.0, agreed=-1000.0, clear=8.0, sure_as_written=0.5,
    sure_slip=0.7, sure_else=0.5,
)  # fmt: skip
"""Where fitting starts; ``restart``, ``sounded_out`` and
``rare_slip`` are set by hand: the corpus has no such readings that are marked."""
FITTED = ("trust", "slip", "other_word", "silent", "no_speech", "other_phone")
TOLERATED_FALSE_SLIPS = 0.05
TOLERATED_UNSURE = 0.15
"""On calibration children; the promises are 5% and 15% on others."""
SHARE = {"as_written": 0.4, "slip": 0.35, "other_word": 0.15, "silent": 0.1}
"""Weight of each truth in fitting: common practice, no source."""


@dataclass(frozen=True)
class Heard:
    """A trial with its evidence."""

    trial: Trial
    evidence: Evidence

    @property
    def true_slip(self) -> int | None:
        """Which of the reading's slips was said, if it is among them."""
        strings, owners = candidates(self.trial.reading)
        if self.trial.verdict != "slip" or self.trial.said not in strings:
            return None
        owner = owners[strings.index(self.trial.said)]
        return owner if owner >= 0 else None


def hear(folder: Path, part: str, ears: Ears) -> list[Heard]:
    """Every trial of a part, heard once."""
    found = list(trials.load(folder, part))
    return [
        Heard(trial, gather(trial.samples, trial.reading, ears, bundled()))
        for trial in track(found, description=f"hearing {len(found)} {part} trials")
    ]


def loss(heard: Sequence[Heard], marking: Marking) -> float:
    """Mean negative log-probability of the truth, truths weighted by ``SHARE``."""
    total = {verdict: [0.0, 0] for verdict in SHARE}
    for item in heard:
        explanations, _ = weigh(item.evidence, item.trial.reading, marking)
        sure, slips = explanations.probabilities()
        truth = item.trial.verdict
        share = sure[truth]
        if item.true_slip is not None:
            share = float(slips[item.true_slip])
        total[truth][0] -= np.log(max(share, 1e-6))
        total[truth][1] += 1
    return sum(SHARE[v] * cost / max(count, 1) for v, (cost, count) in total.items())


def fit(heard: Sequence[Heard]) -> Marking:
    """Weights by least loss, then thresholds by tolerated false slips."""

    def with_numbers(numbers: Sequence[float]) -> Marking:
        return replace(START, **dict(zip(FITTED, numbers, strict=True)))

    found = minimize(
        lambda numbers: loss(heard, with_numbers(numbers)),
        [getattr(START, name) for name in FITTED],
        method="Nelder-Mead",
        options={"maxfev": 600, "xatol": 0.02, "fatol": 1e-4},
    )
    marking = with_numbers(found.x)
    chosen = {
        (slip, right): _shares(heard, replace(marking, sure_slip=slip, sure_as_written=right))
        for slip in np.arange(0.3, 0.95, 0.03).tolist()
        for right in np.arange(0.3, 0.95, 0.03).tolist()
    }
    slip, right = max(chosen, key=lambda place: chosen[place].worth)
    return replace(marking, sure_slip=slip, sure_as_written=right)


@dataclass(frozen=True)
class _Shares:
    """False slips of right readings; slips found and slips passed as right; unsure of both."""

    false_slips: float
    found: float
    missed: float
    unsure: float

    @property
    def worth(self) -> float:
        """Slips found less slips passed as right, dearly paying for what is not tolerated."""
        excess = max(0.0, self.false_slips - TOLERATED_FALSE_SLIPS)
        return self.found - self.missed - 20 * excess - 5 * max(0.0, self.unsure - TOLERATED_UNSURE)


def _shares(heard: Sequence[Heard], marking: Marking) -> _Shares:
    own = [verdict(item, marking) for item in heard if item.trial.verdict == "as_written"]
    slips = [verdict(item, marking) for item in heard if item.trial.verdict == "slip"]
    return _Shares(
        own.count("slip") / len(own),
        slips.count("slip") / len(slips),
        slips.count("as_written") / len(slips),
        max(own.count("unsure") / len(own), slips.count("unsure") / len(slips)),
    )


def verdict(item: Heard, marking: Marking) -> str:
    """The verdict of a heard trial."""
    explanations, _ = weigh(item.evidence, item.trial.reading, marking)
    sure, _ = explanations.probabilities()
    p = verdicts(sure, item.evidence, item.trial.reading, marking)
    return max(p, key=lambda name: p[name])


def report(heard: Sequence[Heard], marking: Marking, title: str) -> None:
    """Print verdicts by truth with 95% Wilson intervals."""
    console = Console(highlight=False)
    for new in (True, False):
        mine = [item for item in heard if item.trial.new == new]
        console.print(f"\n{title}: {'words new to training' if new else 'words in training'}")
        for truth in SHARE:
            group = [item for item in mine if item.trial.verdict == truth]
            if not group:
                continue
            named = [verdict(item, marking) for item in group]
            console.print(f"{truth} ({len(group)} trials):")
            for name in VERDICTS:
                if name in named:
                    console.print(f"    {name:12s} {_share(named.count(name), len(named))}")
            kinds = [
                _kind_right(item, marking)
                for item, name in zip(group, named, strict=True)
                if name == truth == "slip"
            ]
            if kinds:
                console.print(f"    right kind   {_share(sum(kinds), len(kinds))} of slips found")


def _kind_right(item: Heard, marking: Marking) -> bool:
    explanations, _ = weigh(item.evidence, item.trial.reading, marking)
    _, slips = explanations.probabilities()
    best = item.trial.reading.slips[int(slips.argmax())]
    return item.true_slip is not None and (
        best.kind == item.trial.reading.slips[item.true_slip].kind
    )


def _share(count: int, total: int) -> str:
    interval = binomtest(count, total).proportion_ci(method="wilson")
    return f"{count / total:6.1%}  95% {interval.low:.1%} to {interval.high:.1%}"


def main() -> None:
    """Fit or report."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("what", choices=("fit", "report"))
    args = parser.parse_args()
    ears = Ears.load()
    if args.what == "fit":
        heard = hear(args.folder, "calibration", ears)
        marking = fit([item for item in heard if item.trial.new])
        marking.save("words new to training, said by the calibration children of the partition")
        report(heard, marking, "calibration children")
        print({field.name: round(getattr(marking, field.name), 3) for field in fields(marking)})
    else:
        report(hear(args.folder, "test", ears), Marking.load(), "test children")


if __name__ == "__main__":
    main()
