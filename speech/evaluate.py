"""Evaluate the ear on a manifest: ``python -m speech.evaluate MANIFEST``.

Prints what the phone scorer makes of the clips by itself (forced choice, phone error rate,
detection) and what the program's verdicts are worth (false slips, slips found, could not tell,
right kind, calibration), over all rows and by condition, age and kind of slip, with 95% Wilson
intervals; and draws a picture. Verdicts come from ``wordhearth judge --json``, run as a program
of its own unless the file holds its output already.
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from rich.progress import track

from speech import drawing
from speech import evaluate_figures as figures
from speech.curves import Detection, Share, calibration_error
from speech.evaluate_figures import Figures, Heard
from speech.evaluate_listening import listen
from speech.evaluate_rows import BANDS, VERDICTS, Row, RowTrouble, parse
from speech.scorer import PhoneScorer
from speech.trouble import Trouble

JUDGE = ("-m", "companion", "judge", "--json")
"""The program whose verdicts are evaluated, known to `speech` by its command line alone."""
FALSE_SLIPS = (0.02, 0.03, 0.05)
"""Shares of right readings flagged at which detection is printed."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Evaluate a manifest; 1 where something in it could not be used."""
    args = _parser().parse_args(arguments)
    try:
        rows, errors = _rows(args.manifest, judge=not args.listener_only)
        scorer = PhoneScorer.load()
        shown = track(rows, "listening", len(rows), disable=not sys.stderr.isatty())
        heard = list(zip(rows, listen(shown, args.manifest.parent, scorer), strict=True))
    except Trouble as error:
        print(error, file=sys.stderr)
        return 1
    for line in report(heard, errors, args.by):
        print(line)
    if args.picture:
        _draw(heard, args.picture)
        print(f"\npicture: {args.picture}")
    return 1 if errors else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m speech.evaluate", description=(__doc__ or "").split("\n\n")[1],
        epilog="The bundled clips: python -m speech.evaluate fixtures_audio/manifest.jsonl. "
        "More of them, in many conditions: python -m fixtures_audio.make_conditions --help.",
    )  # fmt: skip
    parser.add_argument(
        "manifest", type=Path, metavar="MANIFEST",
        help="JSON lines as in fixtures_audio/manifest.jsonl, or what wordhearth judge --json "
        "made of them, kept in the same folder",
    )  # fmt: skip
    parser.add_argument(
        "--by", nargs="+", default=["condition"], metavar="KEY",
        help="keys of the rows to group by (default: condition); also voice, source, accent",
    )  # fmt: skip
    parser.add_argument(
        "--picture", type=Path, default=Path("evaluation.svg"), metavar="FILE.svg",
        help="where the curves are drawn (default: evaluation.svg)",
    )  # fmt: skip
    parser.add_argument(
        "--listener-only", action="store_true", help="ask for no verdicts: hear the clips only"
    )
    return parser


def _rows(manifest: Path, judge: bool) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    try:
        text = manifest.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RowTrouble(
            f"The manifest {manifest} cannot be read", f"{error}", "Name a file of JSON lines."
        ) from error
    rows, errors = parse(text.splitlines())
    if judge and rows and not any(row.judged for row in rows):
        rows, errors = parse(_judged(manifest))
    if not rows:
        raise RowTrouble(
            f"There is nothing to evaluate in {manifest}",
            errors[0] if errors else "it holds no rows",
            "Look at the first error, or name another manifest.",
        )
    return rows, errors


def _judged(manifest: Path) -> list[str]:
    done = subprocess.run(
        [sys.executable, *JUDGE, str(manifest)], capture_output=True, text=True, encoding="utf-8"
    )
    if done.returncode not in (0, 1) or not done.stdout:
        raise RowTrouble(
            f"{manifest} could not be judged",
            done.stderr.strip() or f"the judging program stopped with code {done.returncode}",
            "Try wordhearth judge on it by itself, or evaluate with --listener-only.",
        )
    return done.stdout.splitlines()


def report(heard: Sequence[Heard], errors: Sequence[str], by: Sequence[str]) -> Iterator[str]:
    """The lines that are printed."""
    clips = len({row.clip for row, _ in heard})
    yield f"{len(heard)} rows of {clips} clips; shares with 95% Wilson intervals in %"
    for error in errors:
        yield f"could not be judged: {error}"
    yield from _overall(heard)
    for key in by:
        groups = figures.grouped(heard, _about(key))
        yield from _table(f"by {key}", groups)
        yield from _verdicts(f"truth, by {key}", groups)
    ages = figures.grouped(heard, lambda row: row.age_band)
    yield from _table("by age", {band: ages[band] for band in BANDS if band in ages})
    yield from _table("by kind of slip", figures.grouped(heard, lambda row: row.truth_slip))


def _about(key: str) -> Callable[[Row], str | None]:
    return lambda row: row.about.get(key)


def _overall(heard: Sequence[Heard]) -> Iterator[str]:
    all_of_it = Figures.of(heard)
    yield "\nthe phone scorer by itself"
    yield f"  forced choice              {all_of_it.choice}"
    yield f"  phone error rate           {all_of_it.phone_errors} of {all_of_it.phones} phones"
    yield f"  likeliest slip, kind right {figures.listener_kind(heard)}"
    yield from _detection(figures.by_listener(heard))
    if not any(row.judged for row, _ in heard):
        return
    yield "\nverdicts"
    yield f"  false slips                {all_of_it.false_slips}"
    yield f"  slips found                {all_of_it.found}"
    yield f"  slips called as written    {all_of_it.passed}"
    yield f"  right kind, of those found {all_of_it.kind}"
    yield f"  could not tell, of all     {all_of_it.unsure}"
    yield f"  silence called a reading   {figures.heard_in_silence(heard)}"
    yield from _detection(figures.by_verdict(heard))
    bins = figures.calibration(heard)
    yield f"  expected calibration error {calibration_error(bins):.3f} (10 bins)"
    for each in bins:
        if each.count:
            yield (
                f"    {each.low:.1f}-{each.high:.1f}: said {each.confidence:.3f}, "
                f"right {Share(round(each.right * each.count), each.count)}"
            )
    yield from _verdicts("truth", {"": heard})


def _detection(curve: Detection | None) -> Iterator[str]:
    if curve is None:
        return
    found = ", ".join(f"{curve.found_at(share):.1%} at {share:.0%}" for share in FALSE_SLIPS)
    yield f"  equal error rate           {curve.equal_error:.1%}; found {found} false slips"


def _table(title: str, groups: dict[str, list[Heard]]) -> Iterator[str]:
    if not groups:
        return
    columns = ("verdict right", "could not tell", "false slips", "slips found", "right kind",
               "forced choice")  # fmt: skip
    width = max(len(name) for name in (title, *groups)) + 2
    yield f"\n{title:{width}}" + "".join(f"{name:28}" for name in columns) + "PER    ECE"
    for name, group in groups.items():
        found = Figures.of(group)
        shares = (found.right, found.unsure, found.false_slips, found.found, found.kind,
                  found.choice)  # fmt: skip
        error = calibration_error(figures.calibration(group))
        yield (
            f"{name:{width}}"
            + "".join(f"{share!s:28}" for share in shares)
            + f"{found.phone_errors:7}"
            + ("-" if math.isnan(error) else f"{error:.3f}")
        )


def _verdicts(title: str, groups: Mapping[str, Sequence[Heard]]) -> Iterator[str]:
    """How often each truth got each verdict, in each group."""
    rows = {
        f"{truth:13}{name}": counts
        for name, group in groups.items()
        for truth, counts in figures.verdict_counts(group).items()
    }
    if not rows:
        return
    width = max(len(name) for name in (title, *rows)) + 2
    yield f"\n{title:{width}}" + "".join(f"{verdict:>12}" for verdict in VERDICTS)
    for name, counts in rows.items():
        yield f"{name:{width}}" + "".join(f"{counts[verdict]:12}" for verdict in VERDICTS)


def _draw(heard: Sequence[Heard], path: Path) -> None:
    curves = {
        name: curve
        for name, curve in (
            ("verdicts", figures.by_verdict(heard)),
            ("phone scorer alone", figures.by_listener(heard)),
        )
        if curve
    }
    bins = figures.calibration(heard)
    confused = figures.confusions(heard)
    path.write_text(drawing.picture(curves, bins, confused), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
