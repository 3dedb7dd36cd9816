"""The grown-ups' pages, asked as a browser asks: what they show, change, hand out and refuse."""

from __future__ import annotations

import io
import json
import shutil
import socket
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from invented_week import GPCS, NOW, TUESDAY, WEEK, practise, read, repeat, settle, with_sound
from served_pages import Served

from companion.pages.family import SITE
from companion.pages.serve import Site
from companion.phonics.gpc import table
from companion.phonics.wordlists import load
from companion.record import codes, consent
from companion.record.consent import LogPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Turn
from companion.record.weeks import Week
from companion.report import family_file, home_school, sealed
from companion.report.family_lines import FamilyFile
from companion.report.week_text import span_in_words

THIS = f"week={WEEK}"


@pytest.fixture
def pages(home: Path) -> Iterator[Served]:
    """The family's pages without the listener, which nothing here needs."""
    served = Served(Site("family", "Wordhearth's pages", SITE.routes), home)
    yield served
    served.close()


@pytest.fixture(scope="module")
def week_read(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with a week of puffin's, to be copied: each commit waits for the disk."""
    home = tmp_path_factory.mktemp("week")
    practise(settle(home))
    return home


@pytest.fixture
def puffin(pages: Served, week_read: Path) -> ChildFolder:
    shutil.copytree(week_read, pages.home, dirs_exist_ok=True)
    return ChildFolder(pages.home, "puffin")


def overrule_of(folder: ChildFolder, number: int) -> str | None:
    with Log.open(folder.log) as log:
        return log.turn(number).turn.overrule


def test_the_week_says_what_was_read_and_what_to_do(pages: Served, puffin: ChildFolder) -> None:
    text = pages.get(f"/child/puffin/week?{THIS}").text
    assert "i-e as in kite: The e at the end was passed over" in text
    assert "Heard 8 times" not in text and "Heard 7 times" in text  # pine 4, and one of each other
    assert "20 words read: 13 as written, 7 with a slip" in text
    assert "Worth practising" in text and "Secure" in text
    assert "16 readings on 4 days in 4 words: 9 as written, 7 with a slip." in text
    assert "<svg" in text and 'role="img"' in text


def test_a_week_without_readings_and_a_child_without_a_log_are_no_fault(
    pages: Served, puffin: ChildFolder
) -> None:
    assert "Nothing was read in this week" in pages.get("/child/puffin/week?week=2020-W10").text
    consent.give(ChildFolder(pages.home, "gull"), ["practise"], NOW)
    for page in ("week", "readings"):
        text = pages.get(f"/child/gull/{page}").text
        assert "Nothing has been read by gull yet" in text and "/new/answers?label=gull" in text
    assert pages.get("/child/gull/week.pdf").status_code == 303
    assert pages.get("/child/gull/school").status_code == 200
    assert "No readings" in pages.get("/child/gull/kept").text


@pytest.mark.parametrize(
    "path",
    [
        "/child/puffin/week?week=yesterday",
        "/child/puffin/week?week=2026-W60",
        "/child/nobody/week",
        "/child/puffin/take-back?choice=everything",
        "/child/puffin/clip/1/1",
        "/erased/1",
    ],
)
def test_what_is_not_there_is_said_to_be_not_there(
    pages: Served, puffin: ChildFolder, path: str
) -> None:
    found = pages.get(path)
    assert found.status_code == 404 and "There is no such page here" in found.text


def test_one_press_overrules_and_another_takes_it_back(pages: Served, puffin: ChildFolder) -> None:
    with Log.open(puffin.log) as log:
        number = log.turns()[0].id
    fields = {"turn": str(number), "week": str(WEEK)}
    for mark in ("as_written", "not", "skip"):
        done = pages.post("/child/puffin/correct", {**fields, "mark": mark})
        assert done.status_code == 303
        assert done.headers["location"] == f"/child/puffin/readings?{THIS}#turn-{number}"
        assert overrule_of(puffin, number) == mark
    pages.post("/child/puffin/correct", {**fields, "mark": "undo"})
    assert overrule_of(puffin, number) is None


def test_corrections_show_as_a_rate_of_false_alarms(pages: Served, puffin: ChildFolder) -> None:
    with Log.open(puffin.log) as log:
        slips = [kept.id for kept in log.turns() if kept.turn.tries[-1].slip]
    pages.post("/child/puffin/correct", {"turn": str(slips[0]), "mark": "as_written", "week": ""})
    for page in (f"week?{THIS}", f"readings?{THIS}"):
        text = pages.get(f"/child/puffin/{page}").text
        assert "you corrected 1 of these (14%)" in text
        assert "anywhere from 0% to 58%" in text  # 1 of 7, Clopper and Pearson 0.4% to 57.9%


@pytest.mark.parametrize(
    ("fields", "status"),
    [
        ({"turn": "1", "mark": "wrong"}, 400),
        ({"turn": "x", "mark": "not"}, 400),
        ({"turn": "999", "mark": "not"}, 404),
        ({"turn": "9" * 30, "mark": "not"}, 404),
        ({}, 400),
    ],
)
def test_a_correction_that_makes_no_sense_changes_nothing(
    pages: Served, puffin: ChildFolder, fields: dict[str, str], status: int
) -> None:
    assert pages.post("/child/puffin/correct", fields).status_code == status
    with Log.open(puffin.log) as log:
        assert {kept.turn.overrule for kept in log.turns()} == {None}


def test_nothing_is_corrected_without_consent_to_the_present_words(
    pages: Served, puffin: ChildFolder
) -> None:
    data = json.loads(puffin.consent.read_text())
    data["given"]["keep_log"]["text_version"] = "0 (long ago)"
    puffin.consent.write_text(json.dumps(data))
    text = pages.get(f"/child/puffin/readings?{THIS}").text
    assert "disabled" in text and "/new/answers?label=puffin" in text
    done = pages.post("/child/puffin/correct", {"turn": "1", "mark": "not"})
    assert done.status_code == 409 and overrule_of(puffin, 1) is None


def test_a_script_in_a_word_or_a_lists_name_is_shown_as_text(
    pages: Served, puffin: ChildFolder
) -> None:
    evil = "<script>alert(1)</script>"
    with Log.open(puffin.log) as log:
        permit = LogPermit(puffin)
        sitting = log.start_sitting(permit, evil, None, TUESDAY)
        slip = read("pine", "slip")
        for word in (evil, '"><img src=x onerror=alert(1)>') * 2:
            log.add_turn(permit, sitting, Turn(word, slip.gpcs, slip.tries), TUESDAY)
    for page in ("week", "readings"):
        text = pages.get(f"/child/puffin/{page}?{THIS}").text
        assert evil not in text and "<img src=x" not in text
        assert "&lt;script&gt;" in text


def test_the_pdf_is_one_page_of_that_week(pages: Served, puffin: ChildFolder) -> None:
    found = pages.get(f"/child/puffin/week.pdf?{THIS}")
    assert found.headers["content-type"] == "application/pdf"
    assert f"reading-week-{WEEK}.pdf" in found.headers["content-disposition"]
    assert found.content.startswith(b"%PDF-") and found.content.count(b"/Type /Page\n") == 1


def test_everything_is_handed_out_as_a_zip(pages: Served, puffin: ChildFolder) -> None:
    found = pages.get("/child/puffin/everything.zip")
    assert found.headers["content-disposition"].startswith("attachment")
    with zipfile.ZipFile(io.BytesIO(found.content)) as archive:
        whole = json.loads(archive.read("everything.json"))
    assert len(whole["readings"]) == 20 and whole["child"] == "puffin"


def test_a_clip_is_played_in_parts_for_seven_days_and_no_longer(
    pages: Served, puffin: ChildFolder
) -> None:
    consent.give(puffin, ["keep_clips"], NOW)
    new, old = 1, 2
    path = with_sound(puffin, new)
    with_sound(puffin, old, NOW - timedelta(days=8))
    text = pages.get(f"/child/puffin/readings?{THIS}").text
    assert f"/child/puffin/clip/{new}/1" in text and f"/clip/{old}/1" not in text
    whole = pages.get(f"/child/puffin/clip/{new}/1")
    assert whole.headers["content-type"] == "audio/flac" and whole.content == path.read_bytes()
    part = pages.get(f"/child/puffin/clip/{new}/1", Range="bytes=4-9")
    assert part.status_code == 206 and part.content == path.read_bytes()[4:10]
    assert pages.get(f"/child/puffin/clip/{old}/1").status_code == 404


def test_withdrawing_one_choice_erases_what_it_allowed_and_shows_it(
    pages: Served, puffin: ChildFolder
) -> None:
    sure = pages.get("/child/puffin/take-back?choice=keep_log").text
    assert "20 single readings" in sure and "cannot be brought back" in sure
    done = pages.post("/child/puffin/take-back", {"choice": "keep_log"})
    told = pages.get(done.headers["location"]).text
    assert "log.db:" in told and "None of them was found" in told
    assert "consent.json" in told.partition("What is left of puffin")[2]
    assert not puffin.log.exists() and consent.read(puffin).holds("practise")
    assert not consent.read(puffin).holds("keep_log")


def test_withdrawing_listening_erases_nothing_and_says_so(
    pages: Served, puffin: ChildFolder
) -> None:
    sure = pages.get("/child/puffin/take-back?choice=practise").text
    assert "Nothing that is kept is erased by this" in sure
    pages.post("/child/puffin/take-back", {"choice": "practise"})
    assert puffin.log.exists() and not consent.read(puffin).holds("practise")


def test_erasing_everything_leaves_nothing_and_proves_it(
    pages: Served, puffin: ChildFolder
) -> None:
    consent.give(ChildFolder(pages.home, "gull"), ["practise", "keep_log"], NOW)
    done = pages.post("/child/puffin/take-back", {"choice": "all"})
    told = pages.get(done.headers["location"]).text
    assert "Nothing is kept of puffin any more" in told
    assert "20 single readings" in told and "None of them was found" in told
    assert not puffin.path.exists()
    assert pages.get("/child/puffin/week").status_code == 404
    assert pages.get("/child/gull/kept").status_code == 200
    assert pages.get(done.headers["location"]).status_code == 200, "a reload shows it again"


def test_a_get_erases_and_corrects_nothing(pages: Served, puffin: ChildFolder) -> None:
    pages.get("/child/puffin/take-back?choice=all")
    assert pages.get("/child/puffin/correct?turn=1&mark=skip").status_code == 405
    assert puffin.log.exists() and overrule_of(puffin, 1) is None


def from_school() -> FamilyFile:
    order = table().order()
    return FamilyFile(
        class_code=codes.draw(),
        pupil=codes.draw(),
        public_key=bytes(range(32)),
        week=WEEK,
        accent=None,
        order=order,
        taught=frozenset(order.gpcs[:60]),
        words=load("i-e"),
        phrases={},
        pictures={},
        exceptions={},
    )


def test_what_the_school_sent_is_loaded_and_a_week_is_handed_in_sealed(
    pages: Served, puffin: ChildFolder
) -> None:
    consent.give(puffin, ["hand_in"], NOW)
    assert "Nothing yet" in pages.get("/child/puffin/school").text
    text = family_file.to_text(from_school())
    pages.post("/child/puffin/school/join", files={"file": ("puffin.family", text.encode())})
    told = pages.get(f"/child/puffin/school?{THIS}").text
    assert "sounds taught so far" in told and "20 words on 4 days" in told
    for part in ("kinds of slips", "different words", "sounded out", "corrected", "accent"):
        assert part in told.partition("Besides, as numbers")[2], part
    made = pages.post("/child/puffin/school/hand-in", {"week": str(WEEK), "form": "sealed"})
    assert made.headers["content-disposition"].startswith("attachment")
    assert sealed.is_sealed(made.content)
    assert not any(word.encode() in made.content for word in (*GPCS, "puffin"))
    table_made = pages.post("/child/puffin/school/hand-in", {"week": str(WEEK), "form": "csv"})
    assert b"i-e" in table_made.content and b"pine" not in table_made.content


def test_no_summary_is_made_without_a_yes_to_it(pages: Served, puffin: ChildFolder) -> None:
    home_school.join(PractisePermit(puffin), family_file.to_text(from_school()))
    told = pages.get(f"/child/puffin/school?{THIS}").text
    assert "No adult has said yes to summaries" in told and "hand-in" not in told
    made = pages.post("/child/puffin/school/hand-in", {"week": str(WEEK), "form": "sealed"})
    assert made.status_code == 409 and not puffin.handing.exists()


def test_a_file_that_is_none_of_the_schools_is_refused_with_what_to_do(
    pages: Served, puffin: ChildFolder
) -> None:
    for sent in (b"\xff\xfe\x00", b"Once upon a time there was a lighthouse."):
        done = pages.post("/child/puffin/school/join", files={"file": ("x.family", sent)})
        assert done.status_code == 409 and "What to do" in done.text
    assert not puffin.family.exists()


def test_old_readings_are_let_go_beside_the_pages(pages: Served, puffin: ChildFolder) -> None:
    consent.give(puffin, ["keep_clips"], NOW)
    repeat(puffin, [20])
    with_sound(puffin, 21, NOW - timedelta(days=30))
    pages.get("/child/puffin/week")
    tidying = pages.starlette.state.tidying
    tidying.wait(puffin)
    with Log.open(puffin.log) as log:
        assert log.count() == 20 and len(log.past_weeks()) == 1
    assert not list(puffin.clips.iterdir())
    assert tidying.see_to(puffin, NOW.date()) is None, "once a day"


def test_erasing_waits_for_what_is_being_tidied(pages: Served, puffin: ChildFolder) -> None:
    """Else the thread would write into the file that is being erased, or make it anew."""
    repeat(puffin, range(10, 60))
    pages.get("/child/puffin/week")
    done = pages.post("/child/puffin/take-back", {"choice": "all"})
    assert "Nothing is kept of puffin any more" in pages.get(done.headers["location"]).text
    assert list(pages.home.iterdir()) == []


def test_every_week_with_readings_can_be_chosen(pages: Served, puffin: ChildFolder) -> None:
    repeat(puffin, [3])
    text = pages.get(f"/child/puffin/week?{THIS}").text
    assert text.count("<option") == 2
    assert "Week before" in text and "Week after" not in text


def test_while_this_week_is_empty_the_last_one_with_readings_is_shown(
    pages: Served, puffin: ChildFolder
) -> None:
    for page in ("week", "readings"):
        assert span_in_words(WEEK) in pages.get(f"/child/puffin/{page}").text
    assert "Nothing has been read yet this week" in pages.get("/child/puffin/week").text
    asked = pages.get(f"/child/puffin/week?week={Week.of(NOW.date())}").text
    assert "Nothing was read in this week" in asked
    with Log.open(puffin.log) as log:
        permit = LogPermit(puffin)
        log.add_turn(permit, log.start_sitting(permit, "i-e", None, NOW), read("pine"), NOW)
    assert span_in_words(Week.of(NOW.date())) in pages.get("/child/puffin/week").text


def test_the_school_is_spoken_of_only_where_a_summary_was_made(
    pages: Served, puffin: ChildFolder
) -> None:
    consent.give(puffin, ["hand_in"], NOW)
    done = pages.post("/child/puffin/take-back", {"choice": "hand_in"})
    assert "ask the school to erase it" not in pages.get(done.headers["location"]).text
    consent.give(puffin, ["hand_in"], NOW)
    home_school.join(PractisePermit(puffin), family_file.to_text(from_school()))
    pages.post("/child/puffin/school/hand-in", {"week": str(WEEK), "form": "sealed"})
    done = pages.post("/child/puffin/take-back", {"choice": "hand_in"})
    assert "ask the school to erase it" in pages.get(done.headers["location"]).text


def test_no_answer_waits_for_the_browser_to_acknowledge_its_beginning(pages: Served) -> None:
    """A connection inherits this from the socket that listens; without it a page took 40 ms more
    on every connection that was used again."""
    listener = pages._listener
    assert listener.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0
    with socket.create_server(("127.0.0.1", 0)) as plain:
        plain.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        with socket.create_connection(plain.getsockname()), plain.accept()[0] as accepted:
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0
