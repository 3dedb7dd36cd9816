"""``wordhearth after-me``: two minutes of words to say after the computer, for their vowels."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Protocol

from companion.commands import household
from companion.phonics.accents import ACCENTS
from companion.practice import recordings
from companion.practice.listening import listen, open_microphone
from companion.practice.repeating import LEAST, WORDS, AfterMe
from companion.record import own_vowels
from companion.record.consent import PractisePermit
from companion.record.home import FIRST_CHILD
from speech import audio
from speech.audio import AudioError, Samples
from speech.capture import EarMissing, Microphone
from speech.scorer import PhoneScorer
from speech.trouble import Trouble
from speech.voice import Voice, VoiceMissing

NAME = "after-me"
HELP = "two minutes of words to say after the computer, to know this child's vowels"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        f"The computer says {len(WORDS)} words, one by one; the child says each after it.\n"
        "Nothing is read and nothing is marked. From how the vowels sound, five small numbers are\n"
        "kept with the child's other things and used whenever this child reads, so that an accent\n"
        "is less often taken for a slip. No sound is kept, and no voice can be recognised by the\n"
        "numbers. A word that was not heard well is asked for once more, and else left out. Doing\n"
        "it again puts new numbers in the place of the old; Ctrl-C stops it and changes nothing.\n"
        "It needs the consent to practise (wordhearth consent) and espeak-ng, the voice."
    )
    parser.epilog = (
        "--audio takes recordings of the repeated words in place of voice and microphone, named\n"
        "as for wordhearth practise: a folder with cat.wav, cake.wav and so on (cat-2.wav is\n"
        "heard where cat.wav was not clear); words without one are left out.\n"
        f"The words: {', '.join(WORDS[:10])},\n  {', '.join(WORDS[10:])}\n"
        "\n"
        "examples:\n"
        "  wordhearth after-me\n"
        "  wordhearth after-me --child puffin --accent scottish\n"
        "  wordhearth after-me --audio repeated/\n"
        "  wordhearth after-me --forget            erase the numbers\n"
    )
    parser.add_argument(
        "--audio", nargs="+", type=Path, metavar="PATH", help="recordings to listen to; see below"
    )
    parser.add_argument(
        "--accent",
        choices=ACCENTS,
        metavar="ACCENT",
        help=f"whose vowels count as right: {', '.join(ACCENTS)} (default: all of them)",
    )
    parser.add_argument("--forget", action="store_true", help="erase this child's numbers")
    parser.add_argument("--json", action="store_true", help="print one JSON object at the end")
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        return _forget(args) if args.forget else _run(args)
    except VoiceMissing as error:
        household.tell(error, "Saying words after the computer needs its voice.")
    except EarMissing as error:
        household.tell(error, "Recordings need no microphone: see --audio in --help.")
    except Trouble as error:
        household.tell(error)
    return 1


def _forget(args: argparse.Namespace) -> int:
    folder = household.folder(args)
    gone = own_vowels.forget(folder)
    if args.json:
        print(json.dumps({"child": folder.label, "erased": bool(gone)}))
    else:
        print("The numbers are erased." if gone else "There were none to erase.")
    return 0


class _Source(Protocol):
    """Where repeats come from."""

    def repeat(self, word: str, number: int) -> Samples | None:
        """Say a word and hear it said after, for the `number`-th time from 0; None: no more."""


class _Live:
    """The computer's voice, and the microphone."""

    def __init__(self, permit: PractisePermit, ear: Microphone) -> None:
        self._permit, self._ear = permit, ear
        self._voice = Voice()

    def repeat(self, word: str, number: int) -> Samples | None:
        self._voice.say_word(word)
        return listen(self._permit, self._ear, lambda _level: None).samples


class _Recorded:
    """Recordings, in the place of both."""

    def __init__(self, clips: Mapping[str, tuple[Path, ...]]) -> None:
        self._clips = clips

    def repeat(self, word: str, number: int) -> Samples | None:
        tries = self._clips.get(word, ())
        try:
            return audio.read(tries[number]).samples if number < len(tries) else None
        except AudioError as error:
            household.tell(error, "The word was left out.")
            return None


def _run(args: argparse.Namespace) -> int:
    folder = household.folder(args)
    permit = PractisePermit(folder)
    clips = None if args.audio is None else recordings.by_word(args.audio, WORDS)
    with ExitStack() as open_ear:
        scorer = PhoneScorer.load()
        source: _Source
        if clips is None:
            source = _Live(permit, open_ear.enter_context(open_microphone(permit)))
        else:
            source = _Recorded(clips)
        after_me = AfterMe(args.accent)
        _hear_all(after_me, source, scorer, quiet=args.json)
    own = after_me.own()
    if own is not None:
        own_vowels.keep(permit, own)
    if args.json:
        print(json.dumps(_facts(after_me, own)))
    else:
        print("\n".join(_lines(after_me, own, folder.label)))
    return 0 if own is not None else 1


def _hear_all(after_me: AfterMe, source: _Source, scorer: PhoneScorer, quiet: bool) -> None:
    if not quiet:
        print("Listen, and say each word after the computer. Nothing of the sound is kept.\n")
    number = 0
    while after_me.word is not None:
        place, count = after_me.place
        samples = source.repeat(after_me.word.word, number)
        if samples is None:
            after_me.pass_by()
            told = "left out"
        elif after_me.hear(samples, scorer):
            told = "thank you"
        else:
            told = "and once more" if after_me.again else "left out"
        number = int(after_me.again)
        if not quiet:
            print(f"  {place:2d} of {count}  {told}", flush=True)


def _facts(after_me: AfterMe, own: own_vowels.OwnVowels | None) -> dict[str, Any]:
    """What `--json` prints; numbers in nats, in the order of `own_vowels.PAIRS`."""
    return {
        "heard": after_me.heard,
        "of": len(WORDS),
        "left_out": list(after_me.left_out),
        "kept": own is not None,
        "longer": None if own is None else list(own.longer),
    }


def _lines(after_me: AfterMe, own: own_vowels.OwnVowels | None, label: str) -> list[str]:
    heard = f"\n{after_me.heard} of {len(WORDS)} words were heard well."
    if own is None:
        return [
            heard,
            f"That is too few to go by ({LEAST} are needed), so nothing was changed. Try again in "
            "a quieter room, nearer to the microphone: wordhearth microphone says what to change.",
        ]
    who = "" if label == FIRST_CHILD else f" --child {json.dumps(label)}"
    letters = ("a, a-e", "e, e-e", "i, i-e", "o, o-e", "u, u-e")
    return [
        heard,
        "These numbers are kept, and used from now on. 0 is as most children say these vowels;",
        "above it they lean to the long one, below it to the short one:",
        *(f"  {pair:8s} {n:+.2f}" for pair, n in zip(letters, own.longer, strict=True)),
        f"To erase them: wordhearth after-me{who} --forget",
    ]
