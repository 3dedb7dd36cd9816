"""``wordhearth consent``: read what is heard and kept, answer each choice, see and take back."""

from __future__ import annotations

import argparse
import textwrap
from datetime import datetime

from companion.commands import household
from companion.record import consent, erasure, proof
from companion.record.consent_text import CHOICES, SECTIONS, TEXT_VERSION
from companion.record.home import ChildFolder, children
from companion.record.trouble import ConsentMissing, RecordTrouble

NAME = "consent"
HELP = "say yes or no to each thing the program may do; see, change or withdraw it"

ALL = "all"
WIDTH = 80


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    names = "\n".join(f"  {choice.name:11} {choice.question}" for choice in CHOICES)
    parser.description = (
        "Without an option: shows what is heard and kept, then asks each choice. Only a typed\n"
        "'y' or 'yes' is a yes. The choices are separate:\n"
        f"{names}\n"
    )
    parser.epilog = (
        "examples:\n"
        "  wordhearth consent                           read and answer\n"
        "  wordhearth consent --show                    what has been answered\n"
        "  wordhearth consent --yes practise,keep_log   an adult's yes, without questions\n"
        "  wordhearth consent --withdraw keep_log       stop keeping and erase the log\n"
        "  wordhearth consent --withdraw                take all back and erase everything\n"
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--show", action="store_true", help="show the words and what was answered")
    what.add_argument(
        "--yes",
        metavar="CHOICES",
        type=_choices,
        help="record a yes to these, separated by commas, as an adult who has read the words",
    )
    what.add_argument(
        "--withdraw",
        metavar="CHOICES",
        nargs="?",
        const=(ALL,),
        type=_choices_or_all,
        help="take these back and erase what they allowed to be kept; alone or 'all': everything",
    )
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        folder = household.folder(args)
        if args.withdraw:
            return _withdraw(folder, args.withdraw)
        if args.yes:
            return _say_yes(folder, args.yes)
        if args.show:
            return _show(folder)
        return _ask(folder)
    except RecordTrouble as error:
        household.tell(error)
        return 1


def _choices(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    unknown = [name for name in names if name not in consent.NAMES]
    if unknown or not names:
        raise argparse.ArgumentTypeError(
            f"{text!r}: the choices are {', '.join(consent.NAMES)}, separated by commas"
        )
    return names


def _choices_or_all(text: str) -> tuple[str, ...]:
    return (ALL,) if text.strip() == ALL else _choices(text)


def _ask(folder: ChildFolder) -> int:
    _print_words()
    before = consent.read(folder)
    print(f"Your answers, for '{folder.label}'. Enter is no.\n")
    agreed: list[str] = []
    for number, choice in enumerate(CHOICES, start=1):
        head = f"{number}. {choice.question}"
        if before.holds(choice.name):
            given = before.given[choice.name].at
            print(f"{head}\n   Yes, since {_day(given)}. To take it back: --withdraw {choice.name}")
            continue
        if choice.needs and not before.holds(choice.needs) and choice.needs not in agreed:
            print(f"{head}\n   Not asked: it needs '{choice.needs}'.")
            continue
        print(_wrapped(f"{head} {choice.meaning}", indent=3))
        if _is_yes():
            agreed.append(choice.name)
    after = consent.give(folder, agreed, household.now())
    print()
    _print_state(folder, after)
    return 0


def _is_yes() -> bool:
    try:
        return input("   Yes or no? [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        raise ConsentMissing(
            "Your answers ended before the last question, so nothing was recorded",
            "no more could be read from the keyboard",
            "Run it again in a terminal, or give the answers with --yes.",
        ) from None


def _say_yes(folder: ChildFolder, names: tuple[str, ...]) -> int:
    after = consent.give(folder, names, household.now())
    _print_state(folder, after)
    print("\nThe words this says yes to: wordhearth consent --show")
    return 0


def _show(folder: ChildFolder) -> int:
    _print_words()
    _print_state(folder, consent.read(folder))
    others = [label for label in children(folder.home) if label != folder.label]
    if others:
        print(f"Other children here: {', '.join(others)}")
    return 0


def _withdraw(folder: ChildFolder, names: tuple[str, ...]) -> int:
    before = proof.look(folder)
    may_be_at_school = folder.handing.exists()
    if names == (ALL,):
        done = erasure.withdraw_all(folder)
        rest = f"Nothing is kept of '{folder.label}' any more in {folder.home}."
    else:
        done = erasure.withdraw(folder, names)
        rest = "What other choices allow is as it was."
    taken = ", ".join(done.choices) if done.choices else "nothing (none of it had been given)"
    print(f"Taken back: {taken}.")
    readings = f", with {done.turns} single readings" if done.turns else ""
    print(f"Erased: {done.files} file{'' if done.files == 1 else 's'}{readings}. {rest}")
    _print_proof(folder, before)
    if may_be_at_school and "hand_in" in done.choices:
        print("A summary already handed over is with the school: ask the school to erase it.")
    return 0


def _print_proof(folder: ChildFolder, before: proof.Before) -> None:
    """What is gone, what is left, and what a search for it finds."""
    found = proof.search(folder, before)
    for each in found.removed:
        print(f"  gone: {each.name} ({each.size:,} bytes)")
    for each in found.remaining:
        print(f"  left: {each.name} ({each.size:,} bytes)")
    if not found.moments:
        return
    if not found.searched:
        print(f"No file at all is left in {folder.home}.")
        return
    looked = (
        f"Looked through {found.searched} file{'' if found.searched == 1 else 's'} in "
        f"{folder.home} for {found.moments} of the moments at which readings were kept"
    )
    if found.found_in:
        print(_wrapped(f"{looked}: still in {', '.join(found.found_in)}.", indent=0))
    else:
        print(_wrapped(f"{looked}: found in none.", indent=0))


def _print_words() -> None:
    print(f"What Wordhearth hears and keeps. Version {TEXT_VERSION}\n")
    for title, text in SECTIONS:
        print(_wrapped(f"{title}: {text}", indent=3))
    print()


def _print_state(folder: ChildFolder, given: consent.Consent) -> None:
    print(f"Recorded for '{folder.label}':")
    for choice in CHOICES:
        yes = given.given.get(choice.name)
        if yes is None:
            answer = "no"
        elif given.holds(choice.name):
            answer = f"yes, since {_day(yes.at)}, version {yes.text_version}"
        else:
            answer = f"no longer: the words have changed since {_day(yes.at)}"
        print(f"  {choice.name:11} {answer}")
    print(f"Kept in {folder.path}")


def _day(at: datetime) -> str:
    return f"{at:%d %B %Y}".lstrip("0")


def _wrapped(text: str, indent: int) -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent=" " * indent)
