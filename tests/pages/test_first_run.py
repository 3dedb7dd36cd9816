"""The first run: nothing is kept or heard before an adult has said yes to each thing by itself."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from reading_aloud import agreed
from served_pages import Served

from companion.cli import main
from companion.pages.family import SITE
from companion.record import consent, settings, today
from companion.record.consent_text import CHOICES, SECTIONS, TEXT_VERSION
from companion.record.home import ChildFolder


class Boxes(HTMLParser):
    """Every box that can be ticked, with whether it is."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ticked: dict[str, bool] = {}
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if tag == "input" and found.get("type") == "checkbox":
            self.ticked[str(found["name"])] = "checked" in found


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One served site for the tests after which nothing may be there."""
    served = Served(SITE, tmp_path_factory.mktemp("untouched") / "home")
    yield served
    served.close()


def everything(home: Path) -> dict[str, bytes]:
    return {str(p.relative_to(home)): p.read_bytes() for p in home.rglob("*") if p.is_file()}


def test_a_first_visit_shows_what_it_is_and_leads_to_the_first_step(untouched: Served) -> None:
    text = untouched.get("/").text
    assert 'href="/new"' in text
    assert "not a diagnosis" in text


def test_every_choice_is_asked_by_itself_and_none_is_ticked(untouched: Served) -> None:
    text = untouched.get("/new/answers?label=puffin").text
    assert Boxes(text).ticked == {choice.name: False for choice in CHOICES}
    shown = " ".join(re.sub(r"<[^>]+>", " ", text).split())
    for title, words in SECTIONS:
        assert title in shown
        assert words.replace("'", "&#39;") in shown
    assert TEXT_VERSION in text


def test_a_yes_is_recorded_as_the_command_records_it(
    pages: Served, home: Path, tmp_path: Path
) -> None:
    answer = pages.post("/new/answers", {"label": "puffin", "practise": "yes", "keep_log": "yes"})
    assert answer.headers["location"] == "/child/puffin/microphone"
    other = tmp_path / "other"
    said = ["consent", "--yes", "practise,keep_log", "--child", "puffin", "--home", str(other)]
    assert main(said) == 0

    def without_times(folder: ChildFolder) -> Any:
        record = json.loads(folder.consent.read_text())
        return {name: yes["text_version"] for name, yes in record["given"].items()}

    here, there = ChildFolder(home, "puffin"), ChildFolder(other, "puffin")
    assert without_times(here) == without_times(there)
    assert everything(home).keys() == everything(other).keys()


@pytest.mark.parametrize("ticked", [(), ("keep_log",), ("keep_log", "hand_in", "keep_clips")])
def test_without_a_yes_to_listening_nothing_is_recorded(
    untouched: Served, ticked: tuple[str, ...]
) -> None:
    answer = untouched.post("/new/answers", {"label": "puffin", **dict.fromkeys(ticked, "yes")})
    assert "Nothing was recorded" in answer.text
    assert not untouched.home.exists()


@pytest.mark.parametrize("said", ["no", "", "on", "YES", "1"])
def test_only_yes_is_a_yes(untouched: Served, said: str) -> None:
    untouched.post("/new/answers", {"label": "puffin", "practise": said})
    assert not untouched.home.exists()


def test_a_choice_without_the_one_it_needs_is_asked_again_with_the_ticks_kept(
    untouched: Served,
) -> None:
    fields = {"label": "puffin", "practise": "yes", "hand_in": "yes"}
    answer = untouched.post("/new/answers", fields)
    assert answer.status_code == 422
    assert "without keep_log" in answer.text
    ticked = Boxes(answer.text).ticked
    assert (ticked["practise"], ticked["hand_in"], ticked["keep_log"]) == (True, True, False)
    assert not untouched.home.exists()


def test_a_later_yes_is_added_to_those_given(pages: Served, home: Path) -> None:
    folder = agreed(home, "practise", label="puffin")
    text = pages.get("/new/answers?label=puffin").text
    assert "practise" not in Boxes(text).ticked
    pages.post("/new/answers", {"label": "puffin", "keep_log": "yes"})
    assert set(consent.read(folder).given) == {"practise", "keep_log"}


@pytest.mark.parametrize(
    "nickname",
    [
        "<script>alert(1)</script>",
        '"><img src=x onerror=alert(1)>',
        "../../etc",
        "a" * 21,
        "{{ 7 * 7 }}",
        "",
        " ",
        "Zoë",
    ],
)
def test_a_script_or_a_path_in_a_nickname_gets_nothing(untouched: Served, nickname: str) -> None:
    answer = untouched.client.get("/new/answers", params={"nickname": nickname})
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text
    assert "<img src=x" not in answer.text
    assert ">49<" not in answer.text
    posted = untouched.post("/new/answers", {"label": nickname, "practise": "yes"})
    assert posted.status_code == 409
    assert not untouched.home.exists()


def test_a_nickname_is_taken_in_place_of_the_picture(untouched: Served) -> None:
    answer = untouched.get("/new/answers?label=crab&nickname=Sea+Dog")
    assert 'name="label" value="sea dog"' in answer.text


def test_a_picture_that_another_child_has_is_not_offered(pages: Served, home: Path) -> None:
    agreed(home, label="puffin")
    text = pages.get("/new").text
    assert 'value="puffin"' not in text
    assert 'value="crab"' in text


def test_nothing_is_set_or_begun_for_a_child_without_consent(pages: Served, home: Path) -> None:
    folder = agreed(home)
    consent.take_back(folder, consent.NAMES)
    before = everything(home)
    for page in ("microphone", "loudness", "class", "settings", "begin"):
        fields = {"volume": "0.3", "today": "i-e", "begin": "anew"}
        answer = pages.post(f"/child/gull/{page}", fields)
        assert answer.status_code == 409
        assert "no adult has said yes" in answer.text
    assert everything(home) == before


def test_a_child_who_is_not_there_has_no_pages(pages: Served, home: Path) -> None:
    agreed(home)
    for label in ("nobody", "%2e%2e", "<b>", "GULL", "gull%2f..%2fgull"):
        for page in ("", "/read", "/settings"):
            assert pages.get(f"/child/{label}{page}").status_code == 404


def test_looking_changes_nothing(pages: Served, home: Path) -> None:
    agreed(home)
    before = everything(home)
    for path in ("", "/read", "/microphone", "/loudness", "/class", "/settings"):
        assert pages.get(f"/child/gull{path}").status_code in (200, 303)
    for path in ("/begin", "/read/press"):
        assert pages.get(f"/child/gull{path}").status_code == 405
    assert everything(home) == before


def test_settings_are_kept_for_the_child(pages: Served, home: Path) -> None:
    folder = agreed(home)
    fields = {"letters": "largest", "contrast": "yes", "ruler": "yes"}
    assert pages.post("/child/gull/settings", fields).headers["location"] == "/child/gull"
    chosen = settings.read(folder)
    assert (chosen.letters, chosen.contrast, chosen.ruler) == ("largest", True, True)
    assert (chosen.buttons, chosen.by_itself) == (False, False)


def test_what_the_class_is_learning_is_kept(pages: Served, home: Path) -> None:
    folder = agreed(home)
    pages.post("/child/gull/class", {"today": "i-e", "accent": "northern"})
    assert today.read(folder) == "i-e"
    assert settings.read(folder).accent == "northern"


def test_a_sound_that_is_none_is_told_and_not_kept(pages: Served, home: Path) -> None:
    folder = agreed(home)
    answer = pages.post("/child/gull/class", {"today": "qqq"})
    assert answer.status_code == 409
    assert today.read(folder) is None


def test_a_file_that_is_not_the_schools_is_told(pages: Served, home: Path) -> None:
    folder = agreed(home)
    answer = pages.client.post(
        "/child/gull/class",
        files={"file": ("x.family", b"<script>alert(1)</script>")},
        headers={"Origin": pages.launch.origin},
    )
    assert answer.status_code == 409
    assert "<script>alert" not in answer.text
    assert not folder.family.exists()
