"""What a stage shows and takes: an answer counts for the scene it was meant for, once."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import anyio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.pages.stage import LEVEL_STEPS, Scene, Stage, level_step


def heard(stage: Stage, count: int, ending: threading.Event | None = None) -> list[str]:
    """The first events that a tab gets."""

    async def take() -> list[str]:
        found: list[str] = []
        events = stage.events(lambda scene: f"<p>{scene.name}\n</p>", ending or threading.Event())
        with anyio.move_on_after(3):
            async for event in events:
                found.append(event)
                if len(found) == count:
                    break
        await events.aclose()  # type: ignore[attr-defined]
        return found

    with ThreadPoolExecutor(1) as apart:  # the browser tests' driver has a loop in this thread
        return apart.submit(anyio.run, take).result(20)


def test_an_answer_to_the_scene_shown_is_taken_once() -> None:
    stage = Stage()
    stage.show("word", ("read",))
    assert stage.press(1, "read")
    assert stage.pressed.is_set()
    assert (stage.answer(0), stage.answer(0)) == ("read", None)
    assert not stage.pressed.is_set()


def test_an_answer_to_a_scene_that_is_gone_does_nothing() -> None:
    stage = Stage()
    stage.show("word", ("read",))
    stage.press(1, "read")  # pressed, and not yet taken when the next scene comes
    stage.show("word", ("read",))
    assert stage.answer(0) is None
    assert not stage.press(1, "read")
    assert stage.answer(0) is None


@pytest.mark.parametrize("answer", ["", "stop", "READ", "done; drop"])
def test_an_answer_that_a_scene_does_not_offer_does_nothing(answer: str) -> None:
    stage = Stage()
    stage.show("word", ("read",))
    assert not stage.press(1, answer)
    assert stage.answer(0) is None


def test_turning_sound_buttons_on_interrupts_nobody() -> None:
    stage = Stage()
    stage.show("word", ("read",), buttons=False, line="Read it.")
    assert stage.turn_over(1, "buttons")
    assert stage.scene == Scene(1, "word", {"buttons": True, "line": "Read it."}, {"read"})
    assert not stage.pressed.is_set()
    assert not stage.turn_over(1, "line")  # nothing that is not yes or no
    assert not stage.turn_over(0, "buttons")


def test_a_tab_gets_the_scene_at_once_and_each_one_after_it() -> None:
    stage = Stage()
    stage.show("hello")
    threading.Timer(0.1, stage.show, ("word",)).start()
    assert heard(stage, 2) == [
        "event: scene\ndata: <p>hello\ndata: </p>\n\n",
        "event: scene\ndata: <p>word\ndata: </p>\n\n",
    ]


def test_a_tab_sees_the_level_move_and_the_end_come() -> None:
    stage = Stage()
    stage.show("word")
    stage.level(-20)
    assert heard(stage, 2)[1] == f"event: level\ndata: {level_step(-20)}\n\n"
    stage.close()
    assert heard(stage, 9)[-1] == "event: over\ndata: \n\n"


def test_a_program_that_is_being_stopped_lets_its_tabs_go() -> None:
    ending = threading.Event()
    threading.Timer(0.1, ending.set).start()
    stage = Stage()
    stage.show("word")
    assert len(heard(stage, 9, ending)) == 1


def test_a_stage_knows_whether_a_tab_shows_it() -> None:
    stage = Stage()
    seen: list[float] = []
    stage.show("word")
    threading.Timer(0.15, lambda: seen.append(stage.unwatched_s)).start()
    threading.Timer(0.3, stage.close).start()
    heard(stage, 9)
    assert seen == [0.0]
    assert 0 < stage.unwatched_s < 3


@given(st.floats(-200, 20))
def test_a_louder_sound_never_lowers_the_sign(dbfs: float) -> None:
    step = level_step(dbfs)
    assert 0 <= step < LEVEL_STEPS
    assert level_step(dbfs + 1) >= step
    assert (level_step(-100), level_step(0)) == (0, LEVEL_STEPS - 1)
