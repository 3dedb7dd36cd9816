"""The GPC table and teaching order: what a teacher may edit, and what a broken file is told.

Phases: Letters and Sounds: Principles and Practice of High Quality Phonics, DfES, 2007.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.phonics.gpc import (
    COLUMNS,
    PHONES,
    Gpc,
    TableError,
    load_order,
    load_table,
    read_order,
    read_table,
    table,
)

HEADER = ",".join(COLUMNS) + "\n"
GOOD = "a,AE,any,letter,ant,1,1,handbook phase 2,\n"


@given(
    st.from_regex(r"[a-z]{1,4}|[aeiouy]-e", fullmatch=True),
    st.lists(st.sampled_from(PHONES), min_size=1, max_size=3),
)
def test_a_gpc_is_read_back_from_its_own_text(grapheme: str, phonemes: list[str]) -> None:
    gpc = Gpc(grapheme, tuple(phonemes))
    assert Gpc.parse(str(gpc)) == gpc


@pytest.mark.parametrize("text", ["", "i-e", "i-e /ay/", "I-E /AY/", "i-e /XX/", "i--e /AY/"])
def test_a_text_that_is_no_gpc_is_told_how_to_write_one(text: str) -> None:
    with pytest.raises(TableError) as caught:
        Gpc.parse(text)
    assert caught.value.what and caught.value.why and caught.value.mend


def test_the_table_has_the_handbooks_phases_in_order() -> None:
    graphemes = [gpc.grapheme for gpc in table().order().gpcs]
    early = "s a t p i n m d g o c k ck e u r h b f ff l ll ss j v w x y z zz qu ch sh th"
    assert " ".join(graphemes).startswith(early)
    phase_5 = "ay ou ie ea oy ir ue aw wh ph ew oe au a-e e-e i-e o-e u-e"
    met = list(dict.fromkeys(g for g in graphemes if f" {g} " in f" {phase_5} "))
    assert " ".join(met) == phase_5


def test_each_taught_gpc_has_its_own_place_and_an_exemplar_that_holds_its_letters() -> None:
    taught = [row for row in table().rows if row.place is not None]
    assert sorted(row.place or 0 for row in taught) == list(range(1, len(taught) + 1))
    for row in taught:
        letters = iter(row.exemplar.lower())
        assert all(x in letters for x in row.gpc.grapheme.replace("-", "")), row.exemplar


def test_no_two_values_of_a_grapheme_are_tried_at_the_same_place() -> None:
    for grapheme, rows in table().by_grapheme.items():
        ranks = [row.reading for row in rows]
        assert ranks == sorted(set(ranks)), grapheme


def test_soft_c_and_g_follow_the_split_digraphs_only_when_switched_on() -> None:
    soft_c = Gpc("c", ("S",))
    split_digraph, later = Gpc("u-e", ("Y", "UW")), Gpc("ear", ("EH", "AH"))
    off, on = table().order(), table().order(soft_c=True)
    assert (off.place(soft_c) or 0) > (off.place(later) or 0)
    assert (on.place(split_digraph) or 0) < (on.place(soft_c) or 0) < (on.place(later) or 0)
    assert sorted(on.gpcs) == sorted(off.gpcs)


def test_a_school_loads_its_own_order_with_remarks_and_bare_graphemes(tmp_path: Path) -> None:
    path = tmp_path / "our order.txt"
    path.write_text("# autumn\ns\na\now /OW/  # snow first\n", "utf-8")
    order = load_order(path)
    assert [str(gpc) for gpc in order.gpcs] == ["s /S/", "a /AE/", "ow /OW/"]
    assert order.up_to(Gpc("a", ("AE",))) == {Gpc("s", ("S",)), Gpc("a", ("AE",))}
    with pytest.raises(TableError, match="not in the teaching order"):
        order.up_to(Gpc("t", ("T",)))


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("s\nqq\n", 2, "qq"),
        ("s\n\nt /D/\n", 3, "t /D/"),
        ("s\na\ns\n", 3, "second time"),
        ("s\ni-e AY/\n", 2, "i-e AY/"),
    ],
)
def test_a_broken_order_file_names_its_line_and_the_mend(text: str, line: int, word: str) -> None:
    with pytest.raises(TableError) as caught:
        read_order(text, "order.txt", table())
    assert f"order.txt, line {line}" in caught.value.what
    assert word in str(caught.value)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("grapheme,phonemes\n", "line 1"),
        (HEADER + GOOD + "a,AE\n", "line 3"),
        (HEADER + GOOD + GOOD, "line 3"),
        (HEADER + "a1,AE,any,letter,ant,1,1,,\n", "line 2"),
        (HEADER + "a,QQ,any,letter,ant,1,1,,\n", "line 2"),
        (HEADER + "a,AE,somewhere,letter,ant,1,1,,\n", "line 2"),
        (HEADER + "a,AE,any,lettr,ant,1,1,,\n", "line 2"),
        (HEADER + "a,AE,any,letter,ant,first,1,,\n", "line 2"),
        (HEADER + "a,AE,any,letter,ant,1,0,,\n", "line 2"),
        (HEADER + "a,AE,any,letter,ant,1,1,,soft q\n", "line 2"),
        (HEADER, "holds no GPC"),
    ],
)
def test_a_broken_table_names_its_line_and_the_mend(text: str, where: str) -> None:
    with pytest.raises(TableError) as caught:
        read_table(text, "ours.csv")
    assert where in caught.value.what
    assert caught.value.mend


def test_a_missing_or_unreadable_table_says_so(tmp_path: Path) -> None:
    with pytest.raises(TableError, match="could not be read"):
        load_table(tmp_path / "none.csv")
    odd = tmp_path / "odd.csv"
    odd.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TableError, match="not plain text"):
        load_table(odd)


@given(st.text(max_size=200))
def test_no_text_makes_the_table_reader_fail_without_an_explanation(text: str) -> None:
    for read in (lambda: read_table(text, "x"), lambda: read_order(text, "x", table())):
        try:
            read()
        except TableError as error:
            assert error.what and error.why and error.mend
