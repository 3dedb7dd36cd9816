"""The class pages, as a teacher meets them on a Friday: in a browser, with an invented class."""

from __future__ import annotations

import re
import shutil
import subprocess
import zipfile
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from threading import Event

import pytest
from playwright.sync_api import Browser, Page, expect
from saltmarrow_class import NAMES as EVERYBODY
from saltmarrow_class import SECRET, TODAY, class_book
from served_pages import Served, accessible, too_small
from starlette.responses import RedirectResponse, Response

from companion.pages.school_desk import IDLE, Work
from companion.pages.school_list import number_of
from companion.pages.school_site import site
from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.school import planning, register
from companion.school.book import Book, unlock
from companion.school.groups_kept import load
from companion.school.trouble import BookBusy

NAMES = EVERYBODY[:16]
"""axe-core needs a second for each hundred links: half a class is enough here."""
THIS_WEEK = Week.of(TODAY.date())
NEXT_WEEK = Week.of(TODAY.date() + timedelta(days=7))
I_E = Gpc.parse("i-e /AY/")
expect.set_options(timeout=90_000)
PAGES = (
    "/class", "/class/register", "/class/taught", "/class/list", "/class/list?week=2025-W50",
    "/class/take-in", "/class/grid", "/class/groups", "/class/plan",
    "/class/check", "/class/check?gpc=i-e%20/AY/", "/class/book", "/class/pupil/{code}",
    "/class/grid/{code}/88",
)  # fmt: skip
DOWNLOADS = (
    "/class/family-sheets.pdf", "/class/family-files", "/class/cards.pdf", "/class/practice.pdf",
    "/class/grid.pdf", "/class/grid.csv", "/class/pupil/{code}/history.pdf",
)  # fmt: skip


class Clock:
    """A clock that a test can turn."""

    def __init__(self) -> None:
        self.now = TODAY

    def __call__(self) -> datetime:
        return self.now


class School(Served):
    """The class pages, with their book and clock."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.clock = clock
        self.path = folder / "class-book.db"
        super().__init__(site(self.path, clock), folder)

    def open(self) -> None:
        """Open the book, as the form does."""
        assert self.post("/class/open", {"secret": SECRET.text}).status_code == 303

    def book(self) -> Book:
        return Book.open(self.path, unlock(self.path, SECRET))


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A class book with sixteen invented children, a week's list, and next week's nothing."""
    path = tmp_path_factory.mktemp("filled") / "class-book.db"
    with class_book(path, NAMES) as book:
        planning.keep(book, planning.plan(book, THIS_WEEK, [I_E]))
    return path.read_bytes()


@pytest.fixture
def school(tmp_path: Path, filled: bytes) -> Iterator[School]:
    """Pages of the filled book, closed as they are when the program starts."""
    (tmp_path / "class-book.db").write_bytes(filled)
    served = School(tmp_path, Clock())
    yield served
    served.close()


@pytest.fixture
def opened(school: School) -> School:
    school.open()
    return school


@pytest.fixture
def look(chromium: Browser) -> Iterator[Callable[[School], Page]]:
    """A browser that has opened a school's link and the book; complaints of its console fail."""
    contexts = []
    complaints: list[str] = []

    def open_page(school: School, width: int = 1280, height: int = 800) -> Page:
        context = chromium.new_context(
            viewport={"width": width, "height": height}, locale="en-GB", reduced_motion="reduce"
        )
        contexts.append(context)
        context.set_default_timeout(90_000)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda line: complaints.append(line.text) if line.type == "error" else None,
        )
        page.goto(school.link)
        return page

    yield open_page
    for context in contexts:
        context.close()
    refused = "status of 409"  # what a browser says of a page that tells trouble
    assert [each for each in complaints if refused not in each] == []


def first_code(school: School) -> str:
    with school.book() as book:
        return register.pupils(book)[0].code


def too_wide(page: Page) -> int:
    """By how many px the page is wider than the screen; tables scroll in their own frame."""
    found: int = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return found


def go(page: Page, school: School, path: str) -> None:
    page.goto(school.launch.origin + path)


# -- the door ------------------------------------------------------------------------------


def test_a_teacher_starts_a_class_book_adds_pupils_and_prints_their_sheets(
    tmp_path: Path, look: Callable[[School], Page]
) -> None:
    school = School(tmp_path, Clock())
    page = look(school)
    accessible(page)
    page.get_by_label("Passphrase", exact=True).fill("three short words")
    page.get_by_label("The same again").fill("three short wards")
    page.get_by_role("button", name="Start the class book").click()
    expect(page.get_by_role("alert")).to_contain_text(
        "the two passphrases are not the same", ignore_case=True
    )
    assert not school.path.exists()
    page.get_by_label("Passphrase", exact=True).fill("three short words")
    page.get_by_label("The same again").fill("three short words")
    page.get_by_role("button", name="Start the class book").click()
    expect(page.get_by_role("heading", name="Register")).to_be_visible()
    page.get_by_label("Names, one on a line").fill("Kerra\n<script>alert(1)</script>\n")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator("table.register tbody tr")).to_have_count(2)
    expect(page.locator("input[name=name] >> nth=0")).to_have_value("<script>alert(1)</script>")
    codes = page.locator("th .code").all_inner_texts()
    assert len(set(codes)) == 2 and all(re.fullmatch("[0-9A-Z]{6}", code) for code in codes)
    sheets = page.get_by_role("link", name="Sheets").first.get_attribute("href")
    answer = page.request.get(school.launch.origin + str(sheets))
    assert answer.headers["content-type"] == "application/pdf" and answer.body()[:5] == b"%PDF-"
    page.get_by_role("button", name="Close").click()
    expect(page.get_by_role("heading", name="Open the class book")).to_be_visible()
    school.close()


def test_a_wrong_passphrase_opens_nothing(school: School, look: Callable[[School], Page]) -> None:
    page = look(school)
    page.get_by_label("Passphrase").fill("not the passphrase")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("The class book stays shut")
    page.get_by_label("Passphrase").fill(SECRET.text)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Week from Monday 1 December 2025")).to_be_visible()


@pytest.mark.parametrize("path", [*PAGES, *DOWNLOADS])
def test_a_closed_book_shows_nothing(school: School, path: str) -> None:
    answer = school.get(path.format(code=first_code(school)))
    assert (answer.status_code, answer.headers["location"]) == (303, "/class/door")
    assert school.post("/class/register/add", {"number": "3"}).headers["location"] == "/class/door"


def test_the_book_closes_itself_when_nothing_was_asked_for_a_while(opened: School) -> None:
    opened.clock.now += IDLE - timedelta(minutes=1)
    assert opened.get("/class/register").status_code == 200
    opened.clock.now += IDLE - timedelta(minutes=1)
    assert opened.get("/class/register").status_code == 200
    opened.clock.now += IDLE + timedelta(minutes=1)
    assert opened.get("/class/register").headers["location"] == "/class/door"


def test_another_sites_form_changes_nothing(opened: School) -> None:
    answer = opened.client.post(
        "/class/register/add", data={"number": "5"}, headers={"Origin": "http://saltmarrow.example"}
    )
    assert answer.status_code == 403
    with opened.book() as book:
        assert len(register.pupils(book)) == len(NAMES)


# -- every page ----------------------------------------------------------------------------


def test_every_page_is_accessible_and_its_targets_are_large_enough(
    opened: School, look: Callable[..., Page]
) -> None:
    """Opened in a browser at 1024 by 768, the smaller of the two screens that are supported."""
    opened.post("/class/groups/make", {"week": str(NEXT_WEEK), "adults": "2", "slots": "2",
                                       "each": "1", "do": "make"})  # fmt: skip
    opened.post("/class/plan/make", {"week": str(NEXT_WEEK), "gpc": str(I_E), "count": "12"})
    page = look(opened, 1024, 768)
    for path in PAGES:
        go(page, opened, path.format(code=first_code(opened)))
        assert page.locator("h1").count() == 1, path
        accessible(page)
        assert too_small(page) == [], path
        assert too_wide(page) <= 0, path
        page.set_viewport_size({"width": 512, "height": 384})  # the same screen at 200%
        assert too_wide(page) <= 0, f"{path} at 200%"
        page.set_viewport_size({"width": 1024, "height": 768})


def test_looking_changes_nothing(opened: School) -> None:
    before = opened.path.read_bytes()
    for path in (*PAGES, *DOWNLOADS):
        assert opened.get(path.format(code=first_code(opened))).status_code == 200, path
    assert opened.path.read_bytes() == before


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="sudo apt install poppler-utils")
def test_names_are_in_no_file_print_or_address(opened: School) -> None:
    """But for the history, where the teacher asks for it."""
    for path in DOWNLOADS:
        data = opened.get(path.format(code=first_code(opened))).content
        if data[:2] == b"PK":
            archive = zipfile.ZipFile(BytesIO(data))
            assert len(archive.namelist()) == len(NAMES)
            data = b"".join(archive.read(name) for name in archive.namelist())
        if data[:5] == b"%PDF-":
            reader = ["pdftotext", "-raw", "-", "-"]
            data = subprocess.run(reader, input=data, capture_output=True, check=True).stdout
        assert len(data) > 40
        assert [name for name in NAMES if name.encode() in data] == [], path


def test_a_page_that_is_not_there_says_so(opened: School) -> None:
    for path in ("/class/pupil/AAAAAA", "/class/grid/AAAAAA/1", "/class/cards.pdf?group=7",
                 f"/class/grid/{first_code(opened)}/999"):  # fmt: skip
        answer = opened.get(path)
        assert answer.status_code in (404, 409) and "<h1>" in answer.text


# -- lessons and lists ---------------------------------------------------------------------


def test_what_is_marked_as_taught_opens_new_words(
    opened: School, look: Callable[[School], Page]
) -> None:
    page = look(opened)
    go(page, opened, "/class/taught")
    page.get_by_label("Taught next").select_option(label="ow as in snow")
    page.get_by_role("button", name="Mark as taught").click()
    go(page, opened, "/class/list?week=2025-W50")
    page.get_by_label("For", exact=True).select_option(label="ow as in snow")
    page.get_by_role("button", name="Make a list").click()
    expect(page.get_by_role("heading", name="Words with ow")).to_be_visible()
    expect(page.locator(".notice")).to_contain_text("can be read by what is taught")


def test_a_teachers_own_list_is_measured_word_by_word(
    opened: School, look: Callable[[School], Page]
) -> None:
    page = look(opened)
    go(page, opened, "/class/list?week=2025-W50")
    page.get_by_text("Or write your own").click()
    page.get_by_label("One word on a line").fill("kite\nsaid\nsoldier\n")
    page.locator("details[open] button", has_text="Keep this list").click()
    expect(page.locator(".notice")).to_contain_text("2 of 3 words can be read by what is taught")
    row = page.get_by_role("row", name="soldier")
    expect(row).to_contain_text("Not yet:")
    expect(page.get_by_role("row", name="said")).to_contain_text("a and i wait in the middle")


def test_a_list_that_cannot_be_read_says_what_to_do_and_changes_nothing(opened: School) -> None:
    answer = opened.post(
        "/class/list/keep", {"week": str(THIS_WEEK), "group": "0", "do": "keep", "text": "p1ne"}
    )
    assert answer.status_code == 409 and "letters a to z" in answer.text
    with opened.book() as book:
        assert planning.lists(book, THIS_WEEK)[0].title == "Words with i-e"


# -- the grid ------------------------------------------------------------------------------


def test_a_mark_of_the_grid_leads_to_the_evidence_behind_it(
    opened: School, look: Callable[[School], Page]
) -> None:
    page = look(opened)
    go(page, opened, "/class/grid?state=practise")
    mark = page.locator("a.cell[aria-label*='practise']").first
    name, words = str(mark.get_attribute("aria-label")).split(";")[0].split(":")[0].split(", ")
    mark.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{name}, {words}")
    expect(page.locator(".notice")).to_contain_text("Practise. It rests on what was read at home")
    for told in ("Readings", "Slips", "Could not tell", "Days and words", "Corrected by an adult",
                 "Accent chosen at home"):  # fmt: skip
        expect(page.locator("dt", has_text=told)).to_be_visible()


def test_filters_leave_only_what_was_asked_for(opened: School) -> None:
    def labels(query: str) -> list[str]:
        return re.findall(r'aria-label="([^"]+: [^"]+)"', opened.get(f"/class/grid?{query}").text)

    every, some = labels("show=all"), labels("state=practise")
    assert len(some) < len(every)
    practise = [label for label in every if ": practise" in label]
    assert sorted(practise) == sorted(label for label in some if ": practise" in label)
    changed = labels("changed=yes")
    assert {each for each in every if "last week" in each} == {
        each for each in changed if "last week" in each
    }


def test_what_the_teacher_hears_is_in_the_grid_where_home_said_nothing(
    opened: School, look: Callable[[School], Page]
) -> None:
    child = f"{NAMES[9]}, i-e as in kite"  # nothing ever comes from every tenth invented home
    page = look(opened)
    go(page, opened, "/class/grid")
    page.locator(f"a.cell[aria-label='{child}: not enough listened']").click()
    expect(page.get_by_text("That says nothing about the child.")).to_be_visible()
    page.get_by_role("link", name="Check by ear").click()
    boxes = page.locator("input[name=read]")
    expect(boxes).to_have_count(6)
    for n in range(6):
        boxes.nth(n).check()
    page.get_by_role("button", name="Keep what I heard").click()
    expect(page.get_by_role("status")).to_contain_text("heard from 1")
    go(page, opened, "/class/grid")
    expect(page.locator(f"a.cell[aria-label^='{child}: secure']")).to_have_attribute(
        "aria-label", re.compile("by your own check")
    )


# -- groups --------------------------------------------------------------------------------


def made_groups(school: School, page: Page) -> None:
    go(page, school, "/class/groups")
    page.get_by_role("button", name="Make the groups").click()
    expect(page.locator(".group").first).to_be_visible()


def members(page: Page, group: int) -> list[str]:
    return page.locator(f"[data-group='{group}'] [data-pupil]").evaluate_all(
        "found => found.map(each => each.dataset.pupil)"
    )


def test_a_child_is_moved_with_the_keyboard_alone_and_stays(
    opened: School, look: Callable[[School], Page]
) -> None:
    page = look(opened)
    made_groups(opened, page)
    moved = members(page, 1)[0]
    page.locator(f"#to-1-{moved}").focus()
    page.keyboard.press("Home")  # the first of the other groups
    page.keyboard.press("Tab")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert moved in members(page, 2) and moved not in members(page, 1)
    expect(page.locator(f"[data-group='2'] [data-pupil='{moved}']")).to_contain_text("held by you")
    with page.expect_navigation():
        page.get_by_role("button", name="Work them out again").click()
    assert moved in members(page, 2)
    with opened.book() as book:
        kept = load(book, NEXT_WEEK)
        assert kept is not None and any(m.pupil == moved and m.keep for m in kept.moves)


def test_a_child_is_moved_by_dragging(opened: School, look: Callable[[School], Page]) -> None:
    page = look(opened)
    made_groups(opened, page)
    moved = members(page, 2)[0]
    with page.expect_navigation():
        page.locator(f"[data-group='2'] [data-pupil='{moved}'] .small").drag_to(
            page.locator("[data-group='1'] h2")
        )
    assert moved in members(page, 1)


def test_every_group_has_its_reason_its_words_and_three_to_six_children(
    opened: School, look: Callable[[School], Page]
) -> None:
    page = look(opened)
    made_groups(opened, page)
    for group in page.locator(".group").all():
        assert 3 <= group.locator("[data-pupil]").count() <= 6
        expect(group).to_contain_text("listed for")
        words = re.search(r"Check words: ([^.]+)\.", group.inner_text())
        assert words and len(words[1].split(", ")) == 6


def test_a_child_kept_out_is_told_and_can_be_let_in_again(opened: School) -> None:
    opened.post("/class/groups/make", {"week": str(NEXT_WEEK), "adults": "1", "slots": "2",
                                       "each": "1"})  # fmt: skip
    with opened.book() as book:
        kept = load(book, NEXT_WEEK)
        assert kept is not None
        group = kept.groups[0]
    listed = next(code for code in group.pupils if code not in group.check_first)
    out = {"week": str(NEXT_WEEK), "pupil": listed, "gpc": str(group.gpc)}
    opened.post("/class/groups/move", {**out, "do": "move", "to": "0"})
    page = opened.get("/class/groups").text
    assert "Kept out by you" in page and "you kept this child out of a group for it" in page
    opened.post("/class/groups/move", {**out, "do": "unlock"})
    assert "Kept out by you" not in opened.get("/class/groups").text


def test_an_old_tab_changes_no_group_that_is_no_more(opened: School) -> None:
    stale = {"week": str(NEXT_WEEK), "pupil": first_code(opened), "gpc": str(I_E), "do": "lock"}
    assert opened.post("/class/groups/move", stale).status_code == 409
    opened.post("/class/groups/make", {"week": str(NEXT_WEEK), "adults": "1", "slots": "1",
                                       "each": "1"})  # fmt: skip
    answer = opened.post("/class/groups/move", {**stale, "gpc": "s /S/"})
    assert answer.status_code == 409 and "another tab may have changed" in answer.text
    too_many = {"week": str(NEXT_WEEK), "adults": "0", "slots": "99", "each": "1"}
    assert opened.post("/class/groups/make", too_many).status_code == 409


def test_lists_of_groups_that_are_no_more_do_not_go_home(opened: School) -> None:
    make = {"week": str(NEXT_WEEK), "adults": "2", "slots": "2", "each": "1"}
    opened.post("/class/groups/make", make)
    opened.post("/class/plan/make", {"week": str(NEXT_WEEK), "gpc": str(I_E), "count": "12"})
    with opened.book() as book:
        before = planning.groups(book, NEXT_WEEK)
        assert set(planning.lists(book, NEXT_WEEK)) == {0, *before}
    opened.post("/class/groups/make", {**make, "adults": "1", "slots": "1"})
    with opened.book() as book:
        now = planning.groups(book, NEXT_WEEK)
        kept = planning.lists(book, NEXT_WEEK)
    assert set(kept) <= {0, *now}
    assert all(kept[number].target == gpc for number, gpc in now.items() if number in kept)


# -- taking in -----------------------------------------------------------------------------


def test_long_work_shows_how_far_it_is_and_then_its_answer(opened: School) -> None:
    desk = opened.starlette.state.desk
    told, end = Event(), Event()

    def slow(tell: Callable[[int, int], None]) -> Response:
        tell(3, 10)
        told.set()
        assert end.wait(60)
        return RedirectResponse("/class/take-in/preview", 303)

    desk.work = Work(slow)
    assert told.wait(60)
    page = opened.get("/class/take-in/working").text
    assert '<progress id="far" max="10" value="3">' in page and "3 of 10" in page
    assert opened.get("/class/take-in/progress").text == "3 10 0"
    end.set()
    assert desk.work.wait(60)
    assert opened.get("/class/take-in/progress").text == "3 10 1"
    assert opened.get("/class/take-in/working").headers["location"] == "/class/take-in/preview"
    assert opened.get("/class/take-in/working").headers["location"] == "/class/take-in"


@pytest.mark.parametrize(
    ("text", "number"), [("0", 0), ("1199", 1199), ("", 0), ("-1", 0), ("²", 0), ("9" * 300, 0)]
)
def test_the_place_of_any_file_of_a_years_import_is_understood(text: str, number: int) -> None:
    """A class's year is 30 times 40 files: their places have four digits."""
    assert number_of(text) == number


def test_trouble_in_long_work_is_told_and_not_lost(opened: School) -> None:
    def fails(_tell: Callable[[int, int], None]) -> Response:
        raise BookBusy("The book is busy", "another program writes it", "Try again in a minute")

    desk = opened.starlette.state.desk
    desk.work = Work(fails)
    assert desk.work.wait(60)
    answer = opened.get("/class/take-in/working")
    assert answer.status_code == 409 and "Try again in a minute" in answer.text


def test_files_that_are_none_are_told_one_by_one_and_nothing_is_kept(opened: School) -> None:
    before = opened.path.read_bytes()
    odd = {"picture.png": b"\x89PNG", "empty.sealed": b"", "<b>.csv": b"a,b\r\n"}
    files = [("files", file) for file in odd.items()]
    answer = opened.post("/class/take-in/look", files=files)
    for _ in range(100):
        if answer.status_code != 303:
            break
        answer = opened.get(answer.headers["location"])
    assert "What these files would do" in answer.text
    assert answer.text.count("Not taken") == 3 and "&lt;b&gt;.csv" in answer.text
    assert 'name="take"' not in answer.text
    taken = opened.post("/class/take-in/take", {"do": "take", "take": "0"})
    assert taken.status_code in (200, 303)
    assert opened.path.read_bytes() == before


# -- the book ------------------------------------------------------------------------------


def test_the_year_is_erased_with_proof_and_only_when_the_code_was_written(
    opened: School, look: Callable[[School], Page]
) -> None:
    page = look(opened)
    go(page, opened, "/class/book")
    code = page.locator("dd.code").first.inner_text()
    page.get_by_text("The year: every child").click()
    page.get_by_role("button", name="Erase the year").click()
    expect(page.get_by_role("heading", name="Nothing was erased")).to_be_visible()
    go(page, opened, "/class/book")
    page.get_by_text("The year: every child").click()
    page.get_by_label(f"To go on, write the class's code, {code}").first.fill(code)
    page.get_by_role("button", name="Erase the year").click()
    expect(page.get_by_role("status")).to_contain_text(f"Erased: {len(NAMES)} children")
    expect(page.get_by_role("status")).to_contain_text("0 were found")
    with opened.book() as book:
        assert register.pupils(book, hidden=True) == ()
        assert book.code != code


def test_another_teacher_opens_the_book_with_a_new_passphrase_only(opened: School) -> None:
    new = "sand wall bell rain"
    answer = opened.post("/class/book/lock", {"way": "passphrase", "secret": new, "again": new,
                                              "keys": "new"})  # fmt: skip
    assert "give each family a new sheet" in answer.text
    opened.post("/class/close")
    assert opened.post("/class/open", {"secret": SECRET.text}).status_code == 409
    assert opened.post("/class/open", {"secret": new}).status_code == 303
    assert NAMES[0] in opened.get("/class/register").text
