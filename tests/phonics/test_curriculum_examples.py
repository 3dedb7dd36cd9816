"""Every example word of the curriculum splits into the GPC under which it is printed.

Source: English Appendix 1: Spelling, in The national curriculum in England: Framework document,
Department for Education, 2013. Year 1 vowel table and consonants: as printed. Year 2 and the
endings of Year 1: from memory.
"""

from __future__ import annotations

import pytest

from companion.phonics.exceptions import exception_words
from companion.phonics.split import split

YEAR_1_VOWELS = {
    "ai /EY/": "rain wait train paid afraid",
    "oi /OY/": "oil join coin point soil",
    "ay /EY/": "day play say way stay",
    "oy /OY/": "boy toy enjoy annoy",
    "a-e /EY/": "made came same take safe",
    "e-e /IY/": "these theme complete",
    "i-e /AY/": "five ride like time side",
    "o-e /OW/": "home those woke hope hole",
    "u-e /UW/ or u-e /Y UW/": "June rule rude use tube tune",
    "ar /AA/": "car start park arm garden",
    "ee /IY/": "see tree green meet week",
    "ea /IY/": "sea dream meat each read",
    "ea /EH/": "head bread meant instead read",
    "er /ER/": "her term verb person",
    "er /AH/": "better under summer winter sister",
    "ir /ER/": "girl bird shirt first third",
    "ur /ER/": "turn hurt church burst Thursday",
    "oo /UW/": "food pool moon zoo soon",
    "oo /UH/": "book took foot wood good",
    "oa /OW/": "boat coat road coach goal",
    "oe /OW/": "toe goes",
    "ou /AW/": "out about mouth around sound",
    "ow /AW/": "now how brown down town",
    "ow /OW/": "own blow snow grow show",
    "ue /UW/ or ue /Y UW/": "blue clue true rescue Tuesday",
    "ew /UW/ or ew /Y UW/": "new few grew flew drew threw",
    "ie /AY/": "lie tie pie cried tried dried",
    "ie /IY/": "chief field thief",
    "igh /AY/": "high night light bright right",
    "or /AO/": "for short born horse morning",
    "ore /AO/": "more score before wore shore",
    "aw /AO/": "saw draw yawn crawl",
    "au /AO/": "author August astronaut",
    "au /AO/ or aur /AO/": "dinosaur",
    "air /EH AH/": "air fair pair hair chair",
    "ear /IH AH/": "dear hear beard near year",
    "ear /EH AH/": "bear pear wear",
    "are /EH AH/": "bare dare care share scared",
}

YEAR_1_CONSONANTS = {
    "ff /F/": "off",
    "ll /L/": "well",
    "ss /S/": "miss",
    "zz /Z/": "buzz",
    "ck /K/": "back",
    "n /NG/": "bank think honk sunk",
    "tch /CH/": "catch fetch kitchen notch hutch",
    "ch /CH/": "rich which much such",
    "ve /V/": "have live give",
    "y /IY/": "very happy funny party family",
    "ph /F/": "dolphin alphabet phonics elephant",
    "wh /W/": "when where which wheel while",
    "k /K/": "Kent sketch kit skin frisky",
}

YEAR_1_ENDINGS = {
    "s /S/": "cats rocks thanks",
    "s /Z/": "dogs spends",
    "es /IH Z/": "catches",
    "ng /NG/": "hunting buzzing jumping",
    "ed /IH D/": "hunted",
    "ed /D/": "buzzed",
    "ed /T/": "jumped",
    "er /AH/": "hunter buzzer jumper grander fresher quicker",
}

YEAR_2 = {
    "dge /JH/": "badge edge bridge fudge dodge",
    "ge /JH/": "age huge change charge bulge village",
    "g /JH/": "gem giant magic giraffe energy",
    "j /JH/": "jacket jar jog join adjust",
    "c /S/": "race ice cell city fancy",
    "kn /N/": "knock know knee",
    "gn /N/": "gnat gnaw",
    "wr /R/": "write written wrote wrong wrap",
    "le /AH L/": "table apple bottle little middle",
    "el /AH L/": "camel tunnel squirrel travel towel tinsel",
    "al /AH L/": "metal pedal capital hospital animal",
    "il /AH L/": "pencil fossil nostril",
    "y /AY/": "cry fly dry try reply July",
    "ie /AY/": "flies tries replies",
    "ie /IY/": "copies babies carries",
    "a /AO/": "all ball call always",
    "al /AO/": "walk talk",  # printed with 'all' as a before l; al is the grapheme taught
    "o /AH/": "other mother brother nothing Monday",
    "ey /IY/": "key donkey monkey chimney valley",
    "a /AA/": "want watch wander quantity squash",
    "or /ER/": "word work worm world worth",
    "ar /AO/": "war warm towards",
    "s /ZH/": "television treasure usual",
    "tion /SH AH N/": "station fiction motion national section",
}

YEAR_1_SPELT = (
    "the a do to today of said says are were was is his has I you your they be he me she we no go "
    "so by my here there where love come some one once ask friend school put push pull full house "
    "our"
)

YEAR_2_SPELT = (
    "door floor poor because find kind mind behind child children wild climb most only both old "
    "cold gold hold told every everybody even great break steak pretty beautiful after fast last "
    "past father class grass pass plant path bath hour move prove improve sure sugar eye could "
    "should would who whole any many clothes busy people water again half money Mr Mrs parents "
    "Christmas"
)

YEAR_1_EXCEPTIONS, YEAR_2_EXCEPTIONS = YEAR_1_SPELT.split(), YEAR_2_SPELT.split()

OTHER_EXAMPLES = (
    "pocket rabbit carrot thunder sunset unhappy undo unload unfair unlock football playground "
    "farmyard bedroom blackberry if pal us bus yes spends grandest freshest quickest enjoyment "
    "sadness careful playful hopeless plainness badly can't didn't hasn't couldn't it's I'll "
    "their they're hear quite quiet bare won son too two be bee blew knight"
)


def _cases(table: dict[str, str]) -> list[tuple[str, str]]:
    return [(gpc, word) for gpc, words in table.items() for word in words.split()]


@pytest.mark.parametrize(
    ("gpc", "word"),
    [
        *_cases(YEAR_1_VOWELS),
        *_cases(YEAR_1_CONSONANTS),
        *_cases(YEAR_1_ENDINGS),
        *_cases(YEAR_2),
    ],
)
def test_an_example_word_splits_into_the_gpc_it_is_printed_under(gpc: str, word: str) -> None:
    found = {str(found) for reading in split(word) for found in reading.gpcs}
    assert found & set(gpc.split(" or ")), f"{word}: {sorted(found)}"


@pytest.mark.parametrize("word", OTHER_EXAMPLES.split())
def test_the_other_example_words_use_taught_gpcs_or_say_which_part_is_not(word: str) -> None:
    for reading in split(word):
        letters = sorted(place for unit in reading.units for place in unit.letters)
        assert letters == [n for n, letter in enumerate(word) if letter.isalpha()]
        assert reading.regular == (reading.exception_part is None)


def test_the_common_exception_words_of_both_years_are_complete() -> None:
    known = exception_words()
    assert [w.word for w in known.values() if w.year == 1] == YEAR_1_EXCEPTIONS
    assert sorted(w.word for w in known.values() if w.year == 2) == sorted(YEAR_2_EXCEPTIONS)
    assert (len(YEAR_1_EXCEPTIONS), len(YEAR_2_EXCEPTIONS)) == (45, 64)


@pytest.mark.parametrize("word", [*YEAR_1_EXCEPTIONS, *YEAR_2_EXCEPTIONS])
def test_every_exception_word_has_its_undecodable_part_marked(word: str) -> None:
    for reading in split(word):
        assert not reading.regular
        assert reading.exception_part
        assert reading.exception_part.replace("…", "") in word.replace("…", "") or "…" in (
            reading.exception_part
        )


@pytest.mark.parametrize(
    ("word", "part"),
    [
        ("said", "ai"),
        ("friend", "ie"),
        ("school", "ch"),
        ("the", "e"),
        ("was", "a"),
        ("come", "ome"),
        ("people", "eo"),
        ("could", "oul"),
        ("busy", "u"),
    ],
)
def test_the_odd_part_of_an_exception_word_is_the_part_teachers_point_at(
    word: str, part: str
) -> None:
    assert split(word)[0].exception_part == part
