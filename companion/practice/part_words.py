"""What is shown with each part of a sitting, in plain words for a child and the adult beside."""

from __future__ import annotations

from companion.practice import kind_words
from companion.practice.ending import OffScreen
from companion.practice.plan import Apply, Meet, Part, Practise, Revisit, SightWord


def lines(part: Part) -> list[str]:
    """The lines that open a part of a sitting."""
    match part:
        case Revisit():
            return ["First, some words with sounds you have met before."]
        case Meet():
            return meet(part)
        case Practise():
            return [part.title]
        case SightWord():
            return [sight(part), *([part.aid] if part.aid else [])]
        case Apply():
            return ["Read this to your grown-up:", part.caption]
        case OffScreen():
            return ["Now away from the screen.", part.line]


def meet(part: Meet) -> list[str]:
    """Today's GPC: its letters, a word for its sound, and the teacher's aid to it."""
    grapheme = part.gpcs[0].grapheme
    like = f", as in {' and '.join(part.exemplars)}" if part.exemplars else ""
    said = [f"Today's sound: {grapheme}{like}.", kind_words.together(grapheme)]
    if part.aid and part.aid.phrase:
        said.append(part.aid.phrase)
    if part.aid and part.aid.picture:
        said.append(f"Look for the picture: {part.aid.picture}.")
    return said


def sight(part: SightWord) -> str:
    """The exception word with its hard part in brackets."""
    word = part.word.word
    if len(part.hard) == len(word):
        return f"A word to know by sight: {word}"
    marked = "".join(f"[{each}]" if n in part.hard else each for n, each in enumerate(word))
    whole = marked.replace("][", "")  # neighbouring marks as one: s[a][i]d becomes s[ai]d
    return f"A word with a part to know by heart, in brackets: {whole}"
