"""``wordhearth class list``: a week's words for the whole class or a group."""

from __future__ import annotations

import argparse

from companion.commands import classroom, household
from companion.phonics import wordlists
from companion.phonics.decodable import Taught, check, exception_words
from companion.phonics.wordlists import WordList, WordListError
from companion.record.weeks import Week
from companion.school import teaching
from companion.school.book import Book
from speech.trouble import Trouble

NAME = "class list"
HELP = "a week's words for the whole class or a group"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "words", nargs="?", metavar="LIST", help="a list file or a bundled list's name; none: show"
    )
    classroom.add_week(parser, "this", "the week it is for")
    parser.add_argument(
        "--group",
        type=int,
        default=teaching.WHOLE_CLASS,
        metavar="N",
        help="the list of that week's group N instead of the whole class's",
    )
    parser.add_argument("--clear", action="store_true", help="take the list out")
    classroom.add_book(parser)
    parser.epilog = "Make one with: wordhearth list --gpc i-e > ours.txt"


def run(args: argparse.Namespace) -> int:
    """Set the list if one is given, then show it and what of it is not yet decodable."""
    try:
        week = classroom.week(args.week)
        with classroom.opened(args, key=False) as book:
            if args.words or args.clear:
                words = None if args.clear else wordlists.load(args.words)
                teaching.set_weekly_list(book, week, words, max(0, args.group))
            _show(book, week, max(0, args.group))
    except (Trouble, WordListError) as error:
        household.tell(error)
        return 1
    return 0


def _show(book: Book, week: Week, group: int) -> None:
    words = teaching.weekly_list(book, week, group)
    whom = f"group {group}" if group else "the whole class"
    if words is None:
        print(f"{whom.capitalize()} has no list for {week}.")
        return
    print(f"# {week}, {whom}")
    print(wordlists.to_text(words), end="")
    for line in _not_decodable(book, words):
        print(line)


def _not_decodable(book: Book, words: WordList) -> list[str]:
    gpcs = teaching.taught(book)
    real = [word for word in words.words if word not in words.pseudo]
    found = check("\n".join([*real, words.caption or ""]), Taught(gpcs, exception_words(gpcs)))
    return [f"# not yet decodable: {each.word}: {each.gap.why}" for each in found.broken]
