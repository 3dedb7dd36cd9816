import json
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.cli import main
from companion.phonics.decodable import Taught, check, named
from companion.phonics.gpc import Gpc, table
from companion.phonics.listmaker import ListMakerError, MadeList, make
from companion.phonics.own_words import Corrections, correct
from companion.phonics.pseudowords import fitting
from companion.phonics.split import split
from companion.phonics.suitable import is_blocked, known_words, lines
from companion.phonics.wordlists import load

ORDER = table().order()

# The graphemes of the Year 1 pages of English Appendix 1: Spelling (Department for Education,
# 2013): the vowel digraphs and trigraphs, and of the consonants those that are GPCs of one place.
PRINTED = """
    ff ll ss zz ck tch ve y ph wh ai oi ay oy a-e e-e i-e o-e u-e ar ee ea er ir ur oo oa oe ou
    ow ue ew ie igh or ore aw au air ear are
"""
YEAR_1 = PRINTED.split()
SECOND_VALUES = ("ow /OW/", "ie /IY/", "ea /EH/", "ear /EH AH/", "n /NG/", "y /IY/", "er /ER/")
SPLIT_DIGRAPHS = ("a-e", "e-e", "i-e", "o-e", "u-e")
ONE_LIST = 12


@cache
def made(name: str, seed: int = 0, count: int = ONE_LIST) -> MadeList:
    targets = named("y /IY/" if name == "y" else name, ORDER)
    return make(targets, taught_up_to(name), ORDER, count=count, seed=seed)


def taught_up_to(name: str) -> Taught:
    return Taught.up_to(named("y /IY/" if name == "y" else name, ORDER)[-1], ORDER)


def of_role(lists: MadeList, role: str) -> list[str]:
    return [each.word for each in lists.why if each.role == role]


@pytest.mark.parametrize("name", [*YEAR_1, *SECOND_VALUES])
def test_a_list_of_twelve_for_each_year_1_gpc_is_decodable_by_what_is_taught(name: str) -> None:
    for seed in (0, 1):
        words = made(name, seed).words
        assert len(words.words) == len(set(words.words)) == ONE_LIST
        assert check(" ".join(words.words), taught_up_to(name)).broken == ()


@pytest.mark.parametrize("name", [*YEAR_1, *SECOND_VALUES])
def test_every_year_1_list_has_words_with_its_gpc_and_a_decodable_caption(name: str) -> None:
    lists = made(name)
    targets = set(named("y /IY/" if name == "y" else name, ORDER))
    holding = of_role(lists, "target")
    assert len(holding) >= 3
    assert all(targets & set(split(word)[0].gpcs) for word in holding)
    if lists.words.caption is not None:
        assert check(lists.words.caption, taught_up_to(name)).broken == ()


@pytest.mark.parametrize("name", SPLIT_DIGRAPHS)
def test_a_split_digraph_list_is_balanced(name: str) -> None:
    lists = made(name)
    roles = {role: of_role(lists, role) for role in ("target", "older", "exception", "made-up")}
    assert {role: len(words) >= 1 for role, words in roles.items()} == dict.fromkeys(roles, True)
    assert len(roles["target"]) >= 4
    assert len(roles["older"]) >= 2
    assert len(roles["made-up"]) == 2
    assert lists.words.pseudo == tuple(roles["made-up"])
    caption = lists.words.caption
    assert caption is not None
    graphemes = {
        unit.grapheme for word in caption.split() for unit in split(word.strip(".,!:"))[0].units
    }
    assert name in graphemes


@pytest.mark.parametrize("name", SPLIT_DIGRAPHS)
def test_a_contrast_pair_differs_in_its_target_alone_and_does_not_stand_together(
    name: str,
) -> None:
    words = made(name).words
    ((short, long),) = words.pairs
    assert abs(words.words.index(short) - words.words.index(long)) > 1
    ours, theirs = split(long)[0], split(short)[0]
    differing = [
        (a.grapheme, b.grapheme)
        for a, b in zip(ours.units, theirs.units, strict=True)
        if a.phonemes != b.phonemes
    ]
    assert differing == [(name, name[0])]


@pytest.mark.parametrize("name", SPLIT_DIGRAPHS)
def test_words_whose_e_belongs_to_another_syllable_are_not_taken_for_split_digraphs(
    name: str,
) -> None:
    lookalikes = {"paper", "spider", "over", "fever", "meter", "super", "poster", "have", "give"}
    lookalikes |= {"love", "come", "some", "one", "gone", "there", "were", "done", "where", "are"}
    for seed in range(10):
        assert lookalikes.isdisjoint(of_role(made(name, seed, 20), "target"))


@pytest.mark.parametrize("name", ["a-e", "igh", "oa", "wh"])
def test_older_words_practise_gpcs_taught_at_widening_steps_before(name: str) -> None:
    place = ORDER.place(named(name, ORDER)[0]) or 0
    older = [each.gpc for each in made(name).why if each.role == "older"]
    steps = [place - (ORDER.place(gpc) or 0) for gpc in older if gpc is not None]
    assert steps == [step for step in steps if step >= 1]
    assert len(set(steps)) == len(steps)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from([*YEAR_1, *SECOND_VALUES]), st.integers(0, 10**6))
def test_no_list_holds_an_unsuitable_word_two_forms_of_one_word_or_two_that_sound_alike(
    name: str, seed: int
) -> None:
    lists = make(named("y /IY/" if name == "y" else name, ORDER), taught_up_to(name), seed=seed)
    known = {each.word for each in known_words()}
    real = [each.word for each in lists.why if each.role != "made-up"]
    for each in lists.why:
        assert not is_blocked(each.word)
        if each.role == "made-up":
            assert fitting(each.word) is not None
        elif each.role != "exception":
            assert each.word in known
    sounds = [split(word)[0].phones for word in real]
    assert len(set(sounds)) == len(sounds)
    for word in real:
        assert f"{word}s" not in real


def test_the_same_seed_makes_the_list_again_and_another_seed_another() -> None:
    arguments = (named("i-e", ORDER), taught_up_to("i-e"), ORDER)
    assert make(*arguments, seed=5) == make(*arguments, seed=5)
    assert make(*arguments, seed=5) != make(*arguments, seed=6)


def test_words_and_captions_of_recent_lists_are_not_used_again() -> None:
    recent: set[str] = set()
    for week in range(4):
        lists = make(
            named("i-e", ORDER), taught_up_to("i-e"), ORDER, seed=week, recent=frozenset(recent)
        )
        used = {*lists.words.words, *([lists.words.caption] if lists.words.caption else [])}
        assert recent.isdisjoint(used)
        recent |= used


def test_a_longer_list_has_two_exception_words_and_two_pairs() -> None:
    lists = made("i-e", count=24)
    assert len(lists.words.words) == 24
    assert len(of_role(lists, "exception")) == 2
    assert len(lists.words.pairs) == 2


def test_values_taught_together_share_a_list() -> None:
    lists = made("u-e", count=20)
    heard = {gpc for word in of_role(lists, "target") for gpc in split(word)[0].gpcs}
    assert {Gpc("u-e", ("UW",)), Gpc("u-e", ("Y", "UW"))} <= heard


def test_a_word_whose_split_a_teacher_has_corrected_is_listed_by_that_split() -> None:
    own = Corrections()
    for word in ("like", "time", "five", "nine", "ride"):
        own = own.plus(correct(word, " ".join([*word[:2], word[2:]])))  # l i ke: no split digraph
    arguments = (named("i-e", ORDER), taught_up_to("i-e"), ORDER)
    for seed in range(8):
        lists = make(*arguments, seed=seed, splitter=own.split)
        assert {row.word for row in own.rows}.isdisjoint(of_role(lists, "target"))


@pytest.mark.parametrize("count", [-1, 0, 5, 41])
def test_a_list_of_no_sensible_length_is_refused(count: int) -> None:
    with pytest.raises(ListMakerError, match="6 to 40"):
        make(named("i-e", ORDER), taught_up_to("i-e"), count=count)


def test_a_target_that_is_not_taught_is_refused() -> None:
    with pytest.raises(ListMakerError, match="not among the sounds taught"):
        make(named("o-e", ORDER), taught_up_to("igh"))


def test_too_few_decodable_words_are_refused_with_what_to_do() -> None:
    with pytest.raises(ListMakerError, match="Ask for fewer words"):
        make(named("a", ORDER), taught_up_to("a"))


def test_captions_hold_no_unsuitable_word_and_only_words_that_split() -> None:
    for number, caption in lines("captions.txt"):
        for word in caption.replace(",", " ").split():
            plain = word.strip(".,!?:")
            assert not is_blocked(plain), f"line {number}"
            assert split(plain)


def test_the_command_prints_a_list_file_that_loads_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = ["--home", str(tmp_path)]
    assert main(["list", "--gpc", "i-e", "--seed", "3", *home]) == 0
    file = tmp_path / "week.txt"
    file.write_text(capsys.readouterr().out, encoding="utf-8")
    first = load(str(file))
    assert first.words == made("i-e", 3).words.words
    assert main(["list", "--gpc", "i-e", "--seed", "3", "--avoid", str(file), "--json", *home]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["target"] == "i-e /AY/"
    assert set(first.words).isdisjoint(each["word"] for each in record["words"])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--gpc", "q-e"], "not in the teaching order"),
        (["--gpc", "i-e", "--count", "2"], "6 to 40"),
        (["--gpc", "i-e", "--avoid", "missing.txt"], "no such file"),
        (["--gpc", "i-e", "--taught", "igh"], "not among the sounds taught"),
    ],
)
def test_the_command_refuses_what_it_cannot_make(
    arguments: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["list", *arguments, "--home", str(tmp_path)]) == 1
    assert says in capsys.readouterr().err
