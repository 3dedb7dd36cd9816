"""``wordhearth practise``: a sitting, by microphone or with recordings."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Collection, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from companion.commands import household, practise_plan, teaching
from companion.commands.practise_screen import JsonScreen, Screen, TerminalScreen
from companion.phonics.accents import ACCENTS
from companion.phonics.gpc import TableError
from companion.phonics.reading import Reading, WordError
from companion.phonics.wordlists import WordList, WordListError, load, names
from companion.practice import recordings
from companion.practice.after_me import own_of
from companion.practice.keeping import keeping
from companion.practice.listening import listen, live_turn, open_microphone
from companion.practice.plan import Meet, Part, Plan, Practise, Revisit, SightWord, readings
from companion.practice.sitting import TRIES_MAX, Done, Keeping, Sitting, Step
from companion.practice.turn import judge
from companion.record.consent import PractisePermit
from companion.record.consent_text import child_line
from companion.record.home import ChildFolder
from companion.record.own_vowels import OwnVowels
from companion.record.retention import tidy
from speech import audio
from speech.audio import AudioError, Utterance
from speech.capture import EarLost, EarMissing, Microphone
from speech.ears import Ears
from speech.live import LiveListener
from speech.trouble import Trouble
from speech.voice import Voice, VoiceMissing

NAME = "practise"
HELP = "a sitting: read a word list aloud and have each word heard"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "A sitting of 3 to 5 minutes, in the classroom's order: a few words with sounds that are\n"
        "due, today's sound, words to practise, an exception word, a caption, and one thing to do\n"
        "away from the screen. With --list, that list and nothing else.\n"
        "Shows one word at a time, listens, and says kindly what to do next: two tries at most,\n"
        "and the last one counts. Each word is kept, where an adult agreed to a log, before the\n"
        "next is shown. Ctrl-C ends the sitting; what was read stays. An adult is asked where\n"
        "the program cannot tell. Needs a consent: see wordhearth consent --help."
    )
    parser.epilog = (
        "--audio takes recordings in place of the microphone (WAV, FLAC, OGG/Opus, MP3; one word\n"
        "each, at most 30 s):\n"
        "  a folder      each word takes the file called after it (pine.wav), and pine-2.wav is\n"
        "                its second try; words without a file are passed by\n"
        "  files called after words of the list    each goes with its word\n"
        "  other files   the first goes with the list's first word, and so on in order\n"
        "\n"
        f"bundled lists: {', '.join(names())}\n"
        "A list of your own is a text file with a word on each line.\n"
        "\n"
        "examples:\n"
        "  wordhearth practise --today i-e                      the class has reached i-e\n"
        "  wordhearth practise                                  the next sitting\n"
        "  wordhearth practise --plan                           what it would hold (--why)\n"
        "  wordhearth practise --list i-e --child puffin\n"
        "  wordhearth practise --list my-words.txt --audio clips/\n"
        "  wordhearth practise --list i-e --audio kite.wav --json\n"
    )
    parser.add_argument(
        "--list",
        metavar="NAME",
        help="a bundled list, or the path of a list of your own, in place of a planned sitting",
    )
    practise_plan.add_arguments(parser)
    parser.add_argument(
        "--audio", nargs="+", type=Path, metavar="PATH", help="recordings to listen to; see below"
    )
    parser.add_argument(
        "--accent",
        choices=ACCENTS,
        metavar="ACCENT",
        help=f"whose vowels count as right: {', '.join(ACCENTS)} (default: all of them)",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        return _run(args)
    except EarMissing as error:
        household.tell(error, "Recordings need no microphone: see --audio in --help.")
        return 1
    except (Trouble, TableError, WordError, WordListError) as error:
        household.tell(error)
        return 1


@dataclass(frozen=True)
class _Ready:
    """A sitting that can begin: everything that can be wrong beforehand has been looked at.

    ``plan`` is None where a list was asked for.
    """

    folder: ChildFolder
    permit: PractisePermit
    words: WordList
    plan: Plan | None
    readings: tuple[Reading, ...]
    clips: dict[str, tuple[Path, ...]] | None
    accent: str | None

    @property
    def shown(self) -> tuple[Reading, ...]:
        """The words to be read: all of the list, or those that have a recording."""
        if self.clips is None:
            return self.readings
        return tuple(each for each in self.readings if each.word in self.clips)

    def parts(self) -> tuple[dict[str, list[Part]], list[Part]]:
        """The parts that begin with each word to be read, and those after the last one."""
        if self.plan is None:
            return {}, []
        shown = {each.word for each in self.shown}
        begun: dict[str, list[Part]] = {}
        waiting: list[Part] = []
        for number, each in enumerate(self.plan.words):
            waiting += (part for part in self.plan.before(number) if _has_words(part, shown))
            if each.word in shown:
                begun[each.word], waiting = waiting, []
        return begun, [*waiting, *self.plan.before(len(self.plan.words))]

    @property
    def passed_by(self) -> tuple[str, ...]:
        """The words that have no recording."""
        return tuple(each.word for each in self.readings if each not in self.shown)


def _has_words(part: Part, shown: Collection[str]) -> bool:
    """Whether a part has a word to be read, or needs none."""
    match part:
        case Revisit() | Practise():
            return any(each.word in shown for each in part.words)
        case SightWord():
            return part.word.word in shown
    return True


def _run(args: argparse.Namespace) -> int:
    folder = household.folder(args)
    if args.plan or args.why:
        practise_plan.preview(args, folder)
        return 0
    ready = _made_ready(args, folder)
    screen: Screen = JsonScreen() if args.json else TerminalScreen(sys.stdin.isatty())
    with _keeping(folder) as keeping, ExitStack() as open_ear:
        ears = Ears.load()
        source: _Source
        if ready.clips is None:
            ear = open_ear.enter_context(open_microphone(ready.permit))
            source = _Live(ready.permit, ear, ears.live, screen)
        else:
            source = _Recorded(ready.clips)
        return _sit(ready, keeping, source, ears, screen)


def _made_ready(args: argparse.Namespace, folder: ChildFolder) -> _Ready:
    permit = PractisePermit(folder)
    plan = None
    if args.list:
        words = load(args.list)
    else:
        taught = practise_plan.taught(args, folder)
        plan = practise_plan.planned(folder, taught, household.now().date())
        words = plan.word_list
    read = readings(words, args.accent, teaching.corrections(args))
    clips = None if args.audio is None else recordings.by_word(args.audio, words.words)
    practise_plan.keep_today(args, permit)
    return _Ready(folder, permit, words, plan, read, clips, args.accent)


@contextmanager
def _keeping(folder: ChildFolder) -> Iterator[Keeping | None]:
    with keeping(folder) as kept:
        if kept is None:
            tidy(folder, None, household.now().date())
        else:
            household.tidy_aloud(folder, kept.log)
        yield kept


class _Source(Protocol):
    """Where tries come from."""

    def meet(self, part: Part) -> None:
        """A part of the sitting has been shown."""

    def hear(self, reading: Reading, number: int) -> Utterance | None:
        """Try `number`, from 0, at a word; None where there is none."""

    def end(self, done: Done) -> None:
        """The word's turn is over."""


class _Recorded:
    """Tries from recordings."""

    def __init__(self, clips: dict[str, tuple[Path, ...]]) -> None:
        self._clips = clips

    def meet(self, part: Part) -> None:
        """Nobody is there to be spoken to."""

    def hear(self, reading: Reading, number: int) -> Utterance | None:
        tries = self._clips.get(reading.word, ())
        return audio.read(tries[number]) if number < len(tries) else None

    def end(self, done: Done) -> None:
        """Nobody is there to be spoken to."""


class _Live:
    """Tries from the microphone, and a voice that says the word afterwards."""

    def __init__(
        self, permit: PractisePermit, ear: Microphone, live: LiveListener, screen: Screen
    ) -> None:
        self._permit, self._ear, self._live, self._screen = permit, ear, live, screen
        self._voice: Voice | None = Voice()

    def hear(self, reading: Reading, number: int) -> Utterance | None:
        turn = live_turn(self._live, reading)
        return listen(self._permit, self._ear, self._screen.level, turn)

    def meet(self, part: Part) -> None:
        """Say today's sound, and a word with it."""
        if isinstance(part, Meet):
            for gpc, exemplar in zip(part.gpcs, part.exemplars, strict=False):
                self._say([" ".join(gpc.phonemes)], exemplar)

    def end(self, done: Done) -> None:
        right = done.turn.tries[-1].verdict == "as_written"
        sounds = [] if right else [said[0] for said in done.reading.sounds]
        phones = done.reading.accepted[0] if done.reading.pseudo else None
        self._say(sounds, done.reading.word, phones)

    def _say(self, sounds: list[str], word: str, phones: str | None = None) -> None:
        if self._voice is None:
            return
        try:
            if sounds:
                self._voice.say_sounds(sounds)
            self._voice.say_word(word, phones)
        except VoiceMissing as error:
            household.tell(error)
            self._voice = None  # said once; the sitting goes on in silence


def _sit(
    ready: _Ready, keeping: Keeping | None, source: _Source, ears: Ears, screen: Screen
) -> int:
    sitting = Sitting(ready.words.name, ready.shown, keeping, household.now(), ready.accent)
    told = [
        child_line(keeping is not None, keeping is not None and keeping.clips is not None),
        *_for_the_adult(ready, keeping),
    ]
    screen.start(f"{ready.words.title}: {len(ready.shown)} words", told)
    begun, last = ready.parts()
    own = own_of(ready.folder)
    code = 0
    try:
        while sitting.word is not None:
            _show(begun.get(sitting.word.word, ()), source, screen)
            if not _take_turn(sitting, sitting.word, source, ears, screen, own):
                code = 1
        _show(last, source, screen)
    except KeyboardInterrupt:
        code = 130
    except EarLost as error:
        household.tell(error)
        code = 1
    sitting.close(household.now())
    facts = {
        "list": ready.words.name,
        "sitting": sitting.number,
        "kept": keeping is not None,
        "stopped": code == 130,
        "passed_by": ready.passed_by,
    }
    screen.end([done.turn.word for done in sitting.done], told[:1], facts)
    return code


def _show(parts: Iterable[Part], source: _Source, screen: Screen) -> None:
    for part in parts:
        screen.part(part)
        source.meet(part)


def _take_turn(
    sitting: Sitting,
    word: Reading,
    source: _Source,
    ears: Ears,
    screen: Screen,
    own: OwnVowels | None,
) -> bool:
    """One word, to its commit; False when a recording of it could not be heard."""
    screen.word(word, sitting.place)
    heard_all = True
    step = Step.AGAIN
    for number in range(TRIES_MAX):
        try:
            utterance = source.hear(word, number)
        except AudioError as error:
            screen.trouble(word, error)
            utterance, heard_all = None, False
        if utterance is None:
            break
        judgement = judge(utterance.samples, word, ears.scorer, own=own)
        step = sitting.hear(judgement, household.now(), utterance)
        screen.tried(judgement, word, step)
        if step is not Step.AGAIN:
            break
    if step is not Step.NEXT and not sitting.tries:
        sitting.pass_by()  # its recording could not be heard, which has been said
        return False
    if step is not Step.NEXT:
        unsure = sitting.tries[-1].verdict == "unsure"
        sitting.decide(screen.ask(word) if unsure else None, household.now())
    screen.done(sitting.done[-1])
    source.end(sitting.done[-1])
    return heard_all


def _for_the_adult(ready: _Ready, keeping: Keeping | None) -> list[str]:
    lines = []
    if keeping is None:
        lines.append("(Grown-up: no log was agreed to, so there will be no week sheet of this.)")
    if ready.passed_by:
        lines.append(f"(No recording, so passed by: {', '.join(ready.passed_by)}.)")
    return lines
