"""Every scene of the child's page, in a browser: reachable, readable, large enough, and calm.

What is asked: WCAG 2.2, levels A and AA, by axe-core; 64 px for what a child presses; an x-height
of 8 mm (30.2 CSS px) or more; no sideways scrolling at 1280 x 800, 1024 x 768 and at 200% zoom of
the first (640 x 400 CSS px).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page
from reading_aloud import agreed, room_of
from served_pages import Served, accessible, too_small

from companion.pages.family import SITE
from companion.pages.lettering import joined, lettered
from companion.pages.room import Run
from companion.phonics.reading import reading
from companion.practice.spoken_words import READ_ON

PRESS = ("pause", "done")
WORD = {"buttons": False, "pseudo": False, "line": "", "listening": True, "place": (3, 14)}
PINE = lettered(reading("pine"))
SCENES: dict[str, tuple[str, tuple[str, ...], dict[str, Any]]] = {
    "hello": ("hello", ("go on", *PRESS), {"line": "Nothing you read is kept.", "silent": True}),
    "part": ("part", ("go on", *PRESS), {"lines": ["Now some words to read."]}),
    "meet": (
        "meet",
        ("go on", "hear", *PRESS),
        {"grapheme": joined("a-e"), "exemplars": ("cake",), "together": "The a and the e work "
         "together.", "phrase": "bake a cake", "picture": "a cake"},
    ),
    "word": ("word", ("read", *PRESS), {**WORD, "word": PINE}),
    "long word": ("word", ("read", *PRESS), {**WORD, "word": lettered(reading("playground"))}),
    "sight word": (
        "word", ("read", *PRESS), {**WORD, "word": lettered(reading("said"), (1, 2)), "line":
                                   READ_ON, "listening": False},
    ),
    "made-up word": (
        "word", ("read", *PRESS), {**WORD, "word": lettered(reading("vone")), "pseudo": True,
                                   "buttons": True},
    ),
    "ask": (
        "ask", ("as written", "not as written", "skip", "go on", *PRESS),
        {"word": PINE, "buttons": True, "place": (3, 14)},
    ),
    "answer": (
        "answer", ("go on", "hear", *PRESS),
        {"word": PINE, "buttons": True, "place": (3, 14), "line": "Good try. The word is pine."},
    ),
    "caption": (
        "caption", ("go on", *PRESS), {"caption": "Mike rode his bike nine miles to the lake."}
    ),
    "rest": ("rest", ("carry on", "done"), {"why": "left alone"}),
    "trouble": (
        "trouble", ("again", "done"),
        {"what": "The microphone stopped", "why": "it was unplugged", "mend": "Plug it back in."},
    ),
    "stopped": (
        "stopped", (), {"what": "The log is in use", "why": "another has it", "mend": "Close it."}
    ),
    "end": (
        "end", (),
        {"farewell": "Thank you for reading. All done.", "words": ["pine", "kite", "playground"],
         "off": "Write a sentence with the word pine in it.", "line": "Nobody else can."},
    ),
    "say it after me": ("after", ("read", *PRESS), {"listening": True, "place": (3, 20)}),
    "after saying it": ("after_end", (), {"heard": 18, "count": 20, "kept": True}),
    "check": ("check", (), {"seconds": 5}),
    "checked": ("checked", (), {"device": "default", "advice": ("Move nearer.",), "trouble": None}),
}  # fmt: skip
"""Name to what the thread shows: the scene, its answers and its facts."""


class Shown(Run):
    """Shows what a test tells it to, for as long as the test lasts."""

    def play(self) -> None:
        self.ending.wait()

    def scene(self, name: str, **changed: Any) -> None:
        template, answers, facts = SCENES[name]
        self.stage.show(template, answers, **(facts | changed))


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    served = Served(SITE, tmp_path_factory.mktemp("scenes"))
    yield served
    served.close()


@pytest.fixture(scope="module")
def shown(pages: Served) -> Iterator[Shown]:
    run = Shown(agreed(pages.home), "Reading")
    room_of(pages).enter(run)
    yield run
    run.leave()
    run.join(5)


@pytest.fixture(scope="module")
def page(pages: Served, shown: Shown, chromium: Browser) -> Iterator[Page]:
    with chromium.new_context(viewport={"width": 1280, "height": 800}) as context:
        context.set_default_timeout(30_000)
        page = context.new_page()
        complaints: list[str] = []
        page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
        page.goto(pages.link)
        page.goto(f"{pages.launch.origin}/child/gull/read")
        yield page
        assert complaints == []


def show(page: Page, shown: Shown, name: str, **changed: Any) -> None:
    shown.scene(name, **changed)
    page.wait_for_selector(f'[data-scene="{shown.stage.scene.number}"]')


@pytest.mark.parametrize("name", SCENES)
def test_a_scene_can_be_reached_read_and_pressed_by_everybody(
    page: Page, shown: Shown, name: str
) -> None:
    show(page, shown, name)
    accessible(page)
    assert too_small(page, 64) == []
    for width, height in ((1280, 800), (1024, 768), (640, 400)):
        page.set_viewport_size({"width": width, "height": height})
        beyond = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(beyond) <= 0, (width, height)
        big = page.query_selector(".big-button")
        if big is not None and height > 400:
            assert big.bounding_box()["y"] + big.bounding_box()["height"] <= height
    page.set_viewport_size({"width": 1280, "height": 800})


X_HEIGHT = """selector => { const style = getComputedStyle(document.querySelector(selector));
    const pen = document.createElement('canvas').getContext('2d');
    pen.font = `${style.fontSize} ${style.fontFamily}`;
    return [pen.measureText('x').actualBoundingBoxAscent,
            document.fonts.check(`${style.fontSize} Andika`)]; }"""


@pytest.mark.parametrize("name", ["word", "long word", "caption"])
@pytest.mark.parametrize("letters", ["large", "larger", "largest"])
def test_what_is_read_is_eight_millimetres_high_in_andika(
    page: Page, shown: Shown, name: str, letters: str
) -> None:
    show(page, shown, name)
    page.evaluate(
        "size => { document.body.className = document.body.className.replace("
        "/letters-\\w+/, 'letters-' + size) }", letters,
    )  # fmt: skip
    for width, least in ((1280, 8), (1024, 8), (640, 4)):  # at 200% a px is two
        page.set_viewport_size({"width": width, "height": 800})
        height_px, andika = page.evaluate(X_HEIGHT, ".word, .caption")
        assert andika
        assert height_px / 96 * 25.4 >= least
    page.set_viewport_size({"width": 1280, "height": 800})


def test_both_letters_of_a_split_digraph_are_tied_from_one_to_the_other(
    page: Page, shown: Shown
) -> None:
    show(page, shown, "word", buttons=True)
    boxes = page.evaluate(
        """() => { const box = e => e.getBoundingClientRect().toJSON();
        return [[...document.querySelectorAll('.letter')].map(box),
                box(document.querySelector('.mark.tie')),
                [...document.querySelectorAll('.mark.dot')].map(box)]; }"""
    )
    (p, i, n, e), tie, (under_p, under_n) = boxes
    assert i["left"] < tie["left"] < i["right"]
    assert e["left"] < tie["right"] < e["right"]
    assert tie["top"] >= i["bottom"] - 1
    for letter, dot in ((p, under_p), (n, under_n)):
        assert letter["left"] < (dot["left"] + dot["right"]) / 2 < letter["right"]


def test_sound_buttons_come_when_asked_for(page: Page, shown: Shown) -> None:
    show(page, shown, "word")
    assert page.query_selector(".mark.dot") is None
    page.click("#buttons")
    page.wait_for_selector(".mark.tie")
    assert page.get_attribute("#buttons", "aria-pressed") == "true"
    assert page.evaluate("document.activeElement.id") == "buttons"


def test_the_keyboard_goes_from_button_to_button_and_the_big_one_is_first(
    page: Page, shown: Shown
) -> None:
    show(page, shown, "word")
    page.reload()
    focused = "document.activeElement.innerText"
    names = [page.evaluate(focused)]
    for key in ("Tab", "Tab", "Shift+Tab", "Shift+Tab", "Shift+Tab"):
        page.keyboard.press(key)
        names.append(page.evaluate(focused))
    assert names[:3] == ["I’ve read it", "Pause", "I’m done"]
    assert names[3:] == ["Pause", "I’ve read it", "Sound buttons"]
    show(page, shown, "part")  # whose big button takes over from a button that is gone
    assert page.evaluate(focused) == "Go on"


def test_the_focus_can_be_seen(page: Page, shown: Shown) -> None:
    show(page, shown, "word")
    page.reload()
    page.keyboard.press("Tab")
    style = page.evaluate(
        "(s => [s.outlineStyle, s.outlineWidth])(getComputedStyle(document.activeElement))"
    )
    assert style == ["solid", "4px"]


def test_a_press_reaches_the_program_and_the_page_is_not_loaded_anew(
    page: Page, shown: Shown
) -> None:
    show(page, shown, "word")
    page.reload()
    page.evaluate("window.kept = 1")
    page.keyboard.press("Space")
    assert shown.stage.answer(5) == "read"
    show(page, shown, "answer")
    assert page.evaluate("window.kept") == 1


def test_what_is_new_is_told_to_a_screen_reader(page: Page, shown: Shown) -> None:
    show(page, shown, "word")
    assert "I’m listening" in page.inner_text("#said")
    assert "pine" in page.inner_text("#said")
    assert page.get_attribute("#said", "role") == "status"
    assert page.get_attribute(".trail", "aria-label") == "Word 3 of 14"


def test_the_sign_moves_with_the_voice(page: Page, shown: Shown) -> None:
    show(page, shown, "word")
    width = "getComputedStyle(document.querySelector('.b3')).strokeWidth"
    quiet = page.evaluate(width)
    shown.stage.level(-14)
    page.wait_for_selector('.sign[data-level="5"]')
    assert page.evaluate(width) != quiet  # thicker, and not only of another colour
    shown.stage.level(-80)
    page.wait_for_selector('.sign[data-level="0"]')


def test_nothing_moves_where_less_motion_is_asked_for(page: Page, shown: Shown) -> None:
    page.emulate_media(reduced_motion="reduce")
    show(page, shown, "word")
    shown.stage.level(-14)
    page.wait_for_selector('.sign[data-level="5"]')
    assert page.evaluate("document.getAnimations().length") == 0
    page.emulate_media(reduced_motion="no-preference")


@pytest.mark.parametrize("media", [{"contrast": "more"}, {"forced_colors": "active"}])
def test_more_contrast_is_given_where_it_is_asked_for(
    page: Page, shown: Shown, media: dict[str, str]
) -> None:
    page.emulate_media(**media)  # type: ignore[arg-type]
    show(page, shown, "word", buttons=True)
    ink, paper = page.evaluate(
        "(s => [s.color, s.backgroundColor])(getComputedStyle(document.body))"
    )
    page.emulate_media(contrast="no-preference", forced_colors="none")
    assert (ink, paper) == ("rgb(0, 0, 0)", "rgb(255, 255, 255)")


def test_the_ruler_goes_down_line_by_line_with_the_arrow_keys(page: Page, shown: Shown) -> None:
    show(page, shown, "caption")
    page.evaluate("document.body.classList.add('ruler')")
    place = "parseFloat(getComputedStyle(document.querySelector('.caption-box'), '::after').top)"
    caption = page.query_selector(".caption")
    assert caption is not None
    line = caption.evaluate("e => parseFloat(getComputedStyle(e).lineHeight)")
    first = page.evaluate(place)
    page.keyboard.press("ArrowDown")
    assert page.evaluate(place) == pytest.approx(first + line, abs=2)
    page.keyboard.press("ArrowUp")
    assert page.evaluate(place) == pytest.approx(first, abs=2)
    page.evaluate("document.body.classList.remove('ruler')")


def test_nothing_on_the_page_scores_times_rewards_or_says_wrong(page: Page, shown: Shown) -> None:
    for name in SCENES:
        show(page, shown, name)
        text = page.inner_text("#stage").lower()
        for word in ("wrong", "score", "point", "streak", "star", "prize", "%", "seconds left"):
            assert word not in text, (name, word)


def test_a_program_that_is_gone_is_said_to_be(chromium: Browser, tmp_path_factory: Any) -> None:
    served = Served(SITE, tmp_path_factory.mktemp("gone"))
    run = Shown(agreed(served.home), "Reading")
    room_of(served).enter(run)
    run.scene("word")
    with chromium.new_context() as context:
        page = context.new_page()
        page.goto(served.link)
        page.goto(f"{served.launch.origin}/child/gull/read")
        page.wait_for_selector(".scene-word")
        threading.Thread(target=served.close).start()
        page.wait_for_selector("#lost:not([hidden])", timeout=30_000)
        assert "Every word already marked is safe" in page.inner_text("#lost")
