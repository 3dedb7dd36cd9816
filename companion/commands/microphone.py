"""``wordhearth microphone``: five seconds of the microphone, and what to change."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from companion.commands import household
from companion.practice.listening import open_microphone
from companion.record.consent import PractisePermit
from speech import audio, soundcheck, voice
from speech.capture import EarMissing
from speech.levels import FRAME
from speech.soundcheck import CHECK_S, Soundcheck, Take
from speech.trouble import Trouble

NAME = "microphone"
HELP = "check the microphone in five seconds: level, noise, clipping, delay"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Listens for five seconds, measures how loud you are, how noisy the room is, whether\n"
        "loud sounds are cut off and how long sound takes to arrive, and says what to change.\n"
        "A short whistle is played to time its way back; then read a word or two aloud from\n"
        "where your child sits. Nothing is kept. Opening the microphone needs the consent to\n"
        "practise: see wordhearth consent --help. With --audio a recording is measured instead."
    )
    parser.epilog = (
        "examples:\n"
        "  wordhearth microphone\n"
        "  wordhearth microphone --quiet             no whistle\n"
        "  wordhearth microphone --audio kite.wav    is this recording good enough?\n"
    )
    parser.add_argument("--audio", type=Path, metavar="FILE", help="a recording to measure instead")
    parser.add_argument("--quiet", action="store_true", help="play no whistle")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        heard, device = _recorded(args.audio) if args.audio else _live(args)
        check = soundcheck.weigh(heard)
    except EarMissing as error:
        household.tell(error, "A recording needs no microphone: see --audio in --help.")
        return 1
    except Trouble as error:
        household.tell(error)
        return 1
    if args.json:
        print(json.dumps({**device, **_facts(check)}, ensure_ascii=False))
    else:
        print("\n".join(_lines(check, device)))
    return 0


def _recorded(path: Path) -> tuple[Take, dict[str, Any]]:
    samples = audio.read(path).samples
    if len(samples) < FRAME:
        raise audio.EmptyAudio(
            f"{path.name} is too short to be measured", "it holds less than 10 ms of sound",
            "Record at least one word.",
        )  # fmt: skip
    return Take(samples), {"recording": str(path)}


def _live(args: argparse.Namespace) -> tuple[Take, dict[str, Any]]:
    permit = PractisePermit(household.folder(args))
    with open_microphone(permit) as microphone:
        if not args.json:
            print(
                f"Listening for {CHECK_S:g} seconds: after the whistle, read a word aloud.",
                flush=True,
            )
        heard = soundcheck.take(microphone, None if args.quiet else voice.play)
        return heard, {"device": microphone.device_name, "rate": microphone.device_rate}


def _facts(check: Soundcheck) -> dict[str, Any]:
    """What `--json` prints; levels in dB below full scale, times in milliseconds."""
    loudness = check.loudness
    return {
        "peak_dbfs": round(loudness.peak_dbfs, 1),
        "speech_dbfs": round(loudness.speech_dbfs, 1),
        "noise_dbfs": round(loudness.noise_dbfs, 1),
        "above_noise_db": round(loudness.above_noise_db, 1),
        "clipped_share": round(loudness.clipped_share, 5),
        "said": check.said,
        "round_trip_ms": _milliseconds(check.round_trip_s),
        "latency_ms": _milliseconds(check.latency_s),
        "lost_pieces": check.lost_pieces,
        "findings": list(check.findings),
        "advice": list(check.advice),
    }


def _milliseconds(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds * 1000, 1)


def _lines(check: Soundcheck, device: dict[str, Any]) -> list[str]:
    loudness = check.loudness
    if "recording" in device:
        lines = [f"recording   {device['recording']}"]
    else:
        lines = [f"microphone  {device['device']}, {device['rate']:,} samples a second"]
    if check.said:
        lines += [
            f"voice       {loudness.speech_dbfs:.0f} dB, where 0 is the loudest that fits",
            f"room        {loudness.noise_dbfs:.0f} dB: {loudness.above_noise_db:.0f} dB below "
            "the voice",
            f"cut off     {loudness.clipped_share:.1%} of the loud part",
        ]
    else:
        lines += ["voice       none heard", f"room        {loudness.noise_dbfs:.0f} dB"]
    if check.round_trip_s is not None:
        lines.append(f"delay       {check.round_trip_s * 1000:.0f} ms for the whistle to come back")
    elif check.latency_s is not None:
        lines.append(
            f"delay       {check.latency_s * 1000:.0f} ms on the way in, as the sound system says; "
            "the whistle was not heard"
        )
    lines.append("")
    if not check.findings:
        return [*lines, "All is well: a child reading there can be heard."]
    return [*lines, "What to change:", *(f"- {advice}" for advice in check.advice)]
