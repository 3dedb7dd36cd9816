"""A stage: what a thread of the program shows, and what the people before it press.

The thread shows one scene after another and waits for an answer to it; any number of browser tabs
watch the same stage. An answer names the scene that it is meant for, so that a second tab, a
double press or the browser's back button cannot answer a scene that is gone.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import anyio

TICK_S = 0.03
"""How often a watching tab looks for something new."""
ALIVE_S = 5.0
"""How often a tab is told that the program still runs, when nothing else is said."""
LEVEL_STEPS = 6
"""How many steps the listening sign has, the quietest included."""
QUIETEST_DBFS, LOUDEST_DBFS = -60.0, -12.0
"""The sign's lowest and highest step: a quiet room, and a child near the microphone."""


@dataclass(frozen=True)
class Scene:
    """What is shown.

    Attributes
    ----------
    number : int
        From 1, another for each scene: an answer names it.
    name : str
        Its template is ``scene_NAME.html``.
    facts : mapping
        What the template names.
    answers : frozenset of str
        What may be answered to it.
    """

    number: int
    name: str
    facts: Mapping[str, Any]
    answers: frozenset[str]


def level_step(dbfs: float) -> int:
    """A level as a step of the listening sign, 0 to `LEVEL_STEPS` - 1."""
    share = (dbfs - QUIETEST_DBFS) / (LOUDEST_DBFS - QUIETEST_DBFS)
    return min(LEVEL_STEPS - 1, max(0, round(share * (LEVEL_STEPS - 1))))


class Stage:
    """One thread's scenes. Every method may be called from any thread."""

    def __init__(self) -> None:
        self._changed = threading.Lock()
        self._scene = Scene(0, "wait", {}, frozenset())
        self._change = 0
        self._level: int | None = None
        self._answers: queue.Queue[str] = queue.Queue()
        self.pressed = threading.Event()
        """Set while an answer waits: whatever takes long may be cut short by it."""
        self._watching = 0
        self._unwatched_since = time.monotonic()
        self._over = False

    # -- for the thread ----------------------------------------------------------------------

    def show(self, name: str, answers: tuple[str, ...] = (), **facts: Any) -> None:
        """Show a scene; answers to the one before no longer count."""
        with self._changed:
            self._scene = Scene(self._scene.number + 1, name, facts, frozenset(answers))
            self._change += 1
            self._level = None
            while not self._answers.empty():
                self._answers.get_nowait()
            self.pressed.clear()

    def level(self, dbfs: float) -> None:
        """Move the listening sign."""
        self._level = level_step(dbfs)

    def answer(self, within_s: float) -> str | None:
        """The answer to the scene shown; None when none came in time."""
        try:
            answer = self._answers.get(timeout=within_s) if within_s else self._answers.get_nowait()
        except queue.Empty:
            return None
        self.pressed.clear()
        return answer

    @property
    def unwatched_s(self) -> float:
        """Seconds since the last tab that showed the stage went away; 0 while there is one."""
        with self._changed:
            return 0.0 if self._watching else time.monotonic() - self._unwatched_since

    def close(self) -> None:
        """Nothing more will come."""
        self._over = True

    # -- for the pages -----------------------------------------------------------------------

    @property
    def scene(self) -> Scene:
        """What is shown now."""
        return self._scene

    @property
    def over(self) -> bool:
        """Whether the thread has ended; its last scene stays."""
        return self._over

    def press(self, number: int, answer: str) -> bool:
        """Answer a scene; False where it is gone or takes no such answer."""
        with self._changed:
            if number != self._scene.number or answer not in self._scene.answers:
                return False
            self._answers.put(answer)
            self.pressed.set()
            return True

    def turn_over(self, number: int, fact: str) -> bool:
        """Turn a yes-or-no fact of the scene shown; nobody is interrupted by it."""
        with self._changed:
            value = self._scene.facts.get(fact)
            if number != self._scene.number or not isinstance(value, bool):
                return False
            self._scene = replace(self._scene, facts={**self._scene.facts, fact: not value})
            self._change += 1
            return True

    async def events(
        self, page: Callable[[Scene], str], ending: threading.Event
    ) -> AsyncIterator[str]:
        """Server-sent events of one watching tab, as the HTML standard writes them.

        ``scene`` brings the scene's HTML, ``level`` a step of the listening sign, ``over`` the
        end; a comment says from time to time that the program is alive.

        Parameters
        ----------
        page : callable
            Makes a scene's HTML.
        ending : Event
            Set when the program is being stopped.
        """
        change: int | None = None
        level: int | None = None
        said = time.monotonic()
        with self._watched():
            while not ending.is_set():
                over = self._over
                if change != self._change:
                    change, level = self._change, None
                    yield _event("scene", await anyio.to_thread.run_sync(page, self._scene))
                    said = time.monotonic()
                elif over:
                    yield _event("over", "")
                    return
                elif level != self._level:
                    level = self._level
                    yield _event("level", str(level or 0))
                    said = time.monotonic()
                elif time.monotonic() - said > ALIVE_S:
                    said = time.monotonic()
                    yield ": still here\n\n"
                await anyio.sleep(TICK_S)

    @contextmanager
    def _watched(self) -> Iterator[None]:
        with self._changed:
            self._watching += 1
        try:
            yield
        finally:
            with self._changed:
                self._watching -= 1
                self._unwatched_since = time.monotonic()


def _event(name: str, data: str) -> str:
    lines = "".join(f"data: {line}\n" for line in data.splitlines() or [""])
    return f"event: {name}\n{lines}\n"
