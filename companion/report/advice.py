"""One thing to do about each kind of slip: five minutes, pencil and paper, no computer.

Reviewed as a table: one row for each kind of slip, and one for words that were sounded out and not
joined. What is asked for is what a Year 1 class does, in a family's words. `source` says where a
row comes from; most of it is common practice, for which nobody has one source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

PRACTICE = "common practice, no source"
JOINING_LINE = (
    "Letters and Sounds, DfES, 2007, Phase 5 (from a school's account of it): the two letters of a "
    "split digraph are shown as one pair, drawn apart and joined by a line"
)

PAIRS: Mapping[str, tuple[str, str]] = {
    "a-e": ("cap", "cape"),
    "e-e": ("pet", "Pete"),
    "i-e": ("pin", "pine"),
    "o-e": ("hop", "hope"),
    "u-e": ("cub", "cube"),
}
"""For each split digraph two words that differ in it alone; common practice, no source."""

MORE_WORDS: Mapping[str, str] = {
    "a-e": "tap, tape, plan and plane",
    "e-e": "these, theme and scene",
    "i-e": "kit, kite, win and wine",
    "o-e": "not, note, rod and rode",
    "u-e": "tub, tube, us and use",
}

SOUNDED_OUT = "sounded_out"


@dataclass(frozen=True)
class Advice:
    """What to do about one kind of slip.

    Attributes
    ----------
    kind : str
        The slip's kind, or `SOUNDED_OUT`.
    name : str
        A heading in a parent's words.
    meaning : str
        What the child probably did, without blame.
    steps : tuple of str
        What to do, in order; five minutes together. `advice` fills in ``{grapheme}``, ``{first}``
        and ``{letters}`` ('i', 'i and the e'), ``{short}``, ``{long}`` and ``{more}`` (words).
    source : str
        Where it comes from, or that nobody knows.
    """

    kind: str
    name: str
    meaning: str
    steps: tuple[str, ...]
    source: str = PRACTICE


TABLE: tuple[Advice, ...] = (
    Advice(
        "short_for_split",
        "The e at the end was passed over",
        "{short} was read for {long}, or the like: the {first} with its short sound, as if no e "
        "came after. In {long} the {letters} work as a pair, with one letter between them.",
        (
            "Write {short}, and {long} beneath it, large. Read {short} together.",
            "Under {long}, draw a curved line from the {first} to the e. 'These two work together. "
            "They make one sound.' Say that sound together.",
            "Touch and say each part of {long}: the pair first, then from the start. Say it fast.",
            "Do the same with {more}. Your child draws the lines.",
        ),
        JOINING_LINE,
    ),
    Advice(
        "e_sounded",
        "The e at the end was said as well",
        "{long} was read with an extra sound at its end, or the like. The e is half of a pair and "
        "has no sound of its own.",
        (
            "Write {long} and join the {letters} with a curved line beneath.",
            "Count the sounds on your fingers: one for each letter before, one for the joined "
            "pair, one for the letter between. None is left over for the e.",
            "Your child holds up a finger for each sound, then says the whole word.",
            "Two or three more: {more}. Draw the line before you read.",
        ),
        JOINING_LINE,
    ),
    Advice(
        "split_for_short",
        "A long sound where the word has a short one",
        "{long} was read for {short}, or the like. Children often do this when the pairs with e "
        "are new, and they see them everywhere: it is a sign of learning.",
        (
            "Write on slips of paper: {short}, {long}, {more}.",
            "Sort them together into two heaps: with an e at the end, and without.",
            "Read the heap without the e: short sounds. Then the other heap.",
            "Mix them, and let your child turn them over one by one.",
        ),
    ),
    Advice(
        "one_letter_of_digraph",
        "One letter of the team was read by itself",
        "In {grapheme} the letters work together and make one sound. One of them was read alone, "
        "as in ran for rain. It is what most children of six do first.",
        (
            "Write a word with {grapheme}. Draw one bar under the letters of {grapheme}, and a dot "
            "under every other letter.",
            "Touch and say: one sound for each dot, one for the bar. Then say the word fast.",
            "Do it with three more words. Your child draws the bar first, and reads then.",
            "Hunt for {grapheme} on a page of a book you both like. Five are plenty.",
        ),
        "Sound buttons: common practice, no source. That children near seven read one letter of a "
        "pair: 'A phonological exploration of oral reading errors', Applied Psycholinguistics "
        "(read as an abstract)",
    ),
    Advice(
        "hard_for_soft_c",
        "c as in cat, where it is as in city",
        "Before e, i or y the c mostly says the sound of s. Schools teach this late, often in "
        "Year 2, so there is no hurry.",
        (
            "Write cat, city, cup, cent, cot and cell.",
            "Put a ring round the letter after each c.",
            "Where the ring holds e, i or y, the c says the sound of s. Read those three.",
            "Read all six, mixed.",
        ),
        "National curriculum, English Appendix 1: Spelling, DfE, 2013 (Year 2: the sound s spelt c "
        "before e, i and y); the game: common practice, no source",
    ),
    Advice(
        "soft_for_hard_c",
        "c as in city, where it is as in cat",
        "Only before e, i or y does the c say the sound of s. Elsewhere it is as in cat.",
        (
            "Write cup, cent, cat, city, cot and cell.",
            "Put a ring round the letter after each c.",
            "Where the ring holds a, o or u, the c is as in cat. Read those three.",
            "Read all six, mixed.",
        ),
        "National curriculum, English Appendix 1: Spelling, DfE, 2013 (Year 2: the sound s spelt c "
        "before e, i and y); the game: common practice, no source",
    ),
    Advice(
        "letter_reversal",
        "A look-alike letter was read",
        "b for d, or the like. Nearly every child does this for a while.",
        (
            "Write one of the two letters as tall as a hand. Your child goes over it with a finger "
            "and says its sound, starting where the pencil would start.",
            "Three times, then the same with the other letter.",
            "Write both, mixed, in a row of six. Your child touches and says each sound.",
            "End with a word that has only one of them.",
        ),
    ),
    Advice(
        "sound_added",
        "A sound came in that is not there",
        "An 'uh' between two letters (s-uh-top for stop), or an s at the end. Often it only means "
        "that the sounds were said one by one with too much voice.",
        (
            "Say the sounds of a word yourself, short and clean: s, not suh; t, not tuh.",
            "Put a dot under each letter that has a sound. Your child touches each dot once, and "
            "says one sound for each.",
            "'Is there a dot for that sound?' Look for it together.",
            "Say the word fast. Then two more words of that kind: stop, flag, spin.",
        ),
    ),
    Advice(
        "sound_missed",
        "A sound was left out",
        "Most often the last one, or one of two neighbours (cap for clap). The end of a word is "
        "harder to read than its beginning.",
        (
            "Put a dot under each letter that has a sound. Count the dots.",
            "Your child touches each dot and says its sound, to the very last one.",
            "Build the word: in, pin, spin. At each step ask what is new.",
            "Now a word with its end to look out for: ten, tent. Say it, then read on.",
        ),
        "That last consonants are missed more than first ones: Fowler, Shankweiler and Liberman, "
        "'On interpreting the error pattern in beginning reading' (read as an abstract); the "
        "steps: common practice, no source",
    ),
    Advice(
        "order_changed",
        "The sounds came in another order",
        "form for from, or a word read from its end. The letters were all seen; they only want "
        "taking from left to right.",
        (
            "Write the word on paper and cut it into its letters or letter teams.",
            "Put an arrow under the place where reading starts.",
            "Mix the pieces. Your child lays the word again and says each sound while putting it "
            "down.",
            "Read the word along the arrow, with a finger.",
        ),
    ),
    Advice(
        "other_gpc_value",
        "The other sound of the same letters",
        "Some letters have two sounds: ow as in cow, and ow as in snow. The sound chosen was a "
        "fair one, but not this word's.",
        (
            "'These letters can say two sounds. Let's try the other.' Say the word both ways.",
            "Ask which of the two is a word that you know. That is the one.",
            "Fold a sheet in two. Write a word for each sound at the top (cow and snow, for ow).",
            "Put four more words with {grapheme} where they belong, saying each aloud.",
        ),
        "Letters and Sounds, DfES, 2007, Phase 5, alternative pronunciations for reading; the "
        "sheet: common practice, no source",
    ),
    Advice(
        SOUNDED_OUT,
        "The sounds were said, and the word was not joined up",
        "Sounding out first is good reading. The next step is to say the sounds as one word.",
        (
            "Play it by ear, with no letters: you say r-ai-n slowly, your child says rain.",
            "Say it again with less of a gap, until the sounds run into each other.",
            "Then with a written word: a finger slides under it while the sounds are said "
            "without a stop.",
            "Three short words are enough. Change over: your child says the sounds, you join them.",
        ),
    ),
)
"""One row for each kind of slip, in the order of `companion.phonics.slips.SLIP_KINDS`."""

_ENDING_ED = Advice(
    "e_sounded",
    "The e in -ed was said",
    "jumped is said as if it ended in t, and in most words -ed is one sound.",
    (
        "Say together what you did today: I jumped, I looked, I played. Listen to the end.",
        "Write jump and jumped. Draw one bar under ed: 'This is one sound here.'",
        "Read jumped, looked and played.",
        "Then wanted and landed, where the e is heard: only after t or d.",
    ),
)

_BY_KIND = {each.kind: each for each in TABLE}


def advice(kind: str, grapheme: str = "", words: Sequence[str] = ()) -> Advice:
    """The row for a kind of slip, filled in for one grapheme.

    Parameters
    ----------
    kind : str
        The slip's kind, or `SOUNDED_OUT`.
    grapheme : str
        The grapheme it fell in, such as ``"i-e"``; empty where there is none.
    words : sequence of str
        The child's own words of that slip, to practise with.

    Raises
    ------
    KeyError
        There is no such kind.
    """
    row = _ENDING_ED if kind == "e_sounded" and grapheme == "ed" else _BY_KIND[kind]
    split = grapheme if grapheme in PAIRS else _split_of(grapheme)
    short, long = PAIRS[split]
    filling = {
        "grapheme": grapheme or "these letters",
        "first": split[0],
        "letters": f"{split[0]} and the e",
        "short": short,
        "long": long,
        "more": MORE_WORDS[split],
    }
    steps = [step.format(**filling) for step in row.steps]
    if words:
        steps.append(f"Words that slipped this week, to end with: {listed(words)}.")
    return Advice(row.kind, row.name, row.meaning.format(**filling), tuple(steps), row.source)


def listed(words: Sequence[str]) -> str:
    """``kite, nine and pine``."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _split_of(grapheme: str) -> str:
    """The split digraph of a vowel letter; that of i where there is none."""
    found = (f"{letter}-e" for letter in grapheme if f"{letter}-e" in PAIRS)
    return next(found, "i-e")
