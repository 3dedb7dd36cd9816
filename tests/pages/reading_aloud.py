"""A child before a page: a tab that follows the stage, and recordings read into the microphone."""

from __future__ import annotations

import re
import subprocess
import threading
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import httpx
from served_pages import Served

from companion.pages.room import Room
from companion.pages.sitting_run import Order, SittingRun
from companion.practice.choosing import Shown
from companion.practice.cut_off import CutOff
from companion.practice.ending import OffScreen
from companion.practice.plan import Apply, Part, Plan, Practise, SightWord
from companion.practice.teaching import up_to
from companion.record import consent
from companion.record.home import ChildFolder
from companion.record.settings import Settings

LISTENS = "I’m listening"
AGAIN = "Have another look"
CLIPS = Path(__file__).parents[2] / "fixtures_audio" / "synthesised"


def clip(word: str, phones: str | None = None) -> Path:
    """A recording of a word, or of what was said in its place."""
    return min(CLIPS.glob(f"{word}.{phones or '*'}.*.opus"))


def spoken(word: str, folder: Path) -> Path:
    """A recording of any word: one of the fixtures, or else espeak-ng's."""
    if found := sorted(CLIPS.glob(f"{word}.*.opus")):
        return found[0]
    path = folder / f"{word}.wav"
    command = ["espeak-ng", "-v", "en-gb", "-s", "130", "-w", str(path), word]
    subprocess.run(command, check=True, timeout=20)
    return path


def agreed(home: Path, *choices: str, label: str = "gull") -> ChildFolder:
    """A child whose adult has said yes."""
    folder = ChildFolder(home, label)
    consent.give(folder, choices or ("practise", "keep_log"), datetime.now().astimezone())
    return folder


def short_plan(words: Sequence[str], *after: Part) -> Plan:
    """A sitting of a few words."""
    shown = tuple(Shown(word, "list") for word in words)
    parts = (Practise(shown, "Words with i-e"), *after)
    return Plan("i-e", "Words with i-e", parts, (), up_to("i-e"))


ENDING = (Apply("The kite is mine."), OffScreen("say", "kite", "Say a sentence with kite in it."))
SAID = SightWord(Shown("said", "exception"), (1, 2), "Sailors and Ida dream")


def room_of(pages: Served) -> Room:
    """The room of a served site."""
    room = pages.starlette.state.room
    assert isinstance(room, Room)
    return room


def begin(
    pages: Served,
    folder: ChildFolder,
    plan: Plan,
    settings: Settings | None = None,
    goes_on: CutOff | None = None,
) -> SittingRun:
    """Begin a sitting of a plan."""
    room = room_of(pages)
    run = SittingRun(Order(folder, plan, settings or Settings(), goes_on), room.ears)
    room.enter(run)
    return run


class Tab:
    """A tab of a browser, as far as the program can tell: it follows the stage's events."""

    def __init__(self, pages: Served, label: str = "gull") -> None:
        self._pages = pages
        self._path = f"/child/{label}/read"
        self._news = threading.Condition()
        self._closing = False
        self.scene: tuple[int, str] = (0, "wait")
        self.html = ""
        self.seen: list[str] = []
        self.levels: list[int] = []
        self._thread = threading.Thread(target=self._follow, daemon=True)
        self._thread.start()

    def _follow(self) -> None:
        client = httpx.Client(
            base_url=self._pages.launch.origin, cookies=self._pages.client.cookies, timeout=30
        )
        with client, client.stream("GET", f"{self._path}/events") as answer:
            name, data = "", []
            for line in answer.iter_lines():
                if self._closing:
                    return
                if line.startswith("event: "):
                    name, data = line.removeprefix("event: "), []
                elif line.startswith("data: "):
                    data.append(line.removeprefix("data: "))
                elif not line and name:
                    self._take(name, "\n".join(data))
                    name = ""

    def _take(self, name: str, data: str) -> None:
        with self._news:
            if name == "level":
                self.levels.append(int(data))
            elif name == "scene":
                found = re.search(r'scene-(\w+)[^"]*" data-scene="(\d+)"', data)
                assert found, data
                self.scene, self.html = (int(found[2]), found[1]), data
                self.seen.append(found[1])
            self._news.notify_all()

    def wait(self, name: str, says: str = "", within_s: float = 60.0) -> str:
        """Wait for a scene in whose page something stands.

        A scene that another follows at once is not always seen: a tab gets the latest.
        """

        def there() -> bool:
            return self.scene[1] == name and says in self.html

        with self._news:
            assert self._news.wait_for(there, within_s), f"{name} never came: {self.seen}"
            return self.html

    @property
    def word(self) -> str:
        """The word that is shown."""
        found = re.search(r'class="word[^>]*><span class="hidden-text">([^<:]+)', self.html)
        assert found, self.html
        return found[1]

    def press(self, answer: str, number: int | None = None) -> None:
        """Press a button of the scene shown, or of an earlier one."""
        fields = {"scene": str(self.scene[0] if number is None else number), "answer": answer}
        assert self._pages.post(f"{self._path}/press", fields).status_code == 303

    def close(self) -> None:
        """Close the tab."""
        self._closing = True
        self._thread.join(8)


def read_aloud(card: Any, tab: Tab, path: Path) -> None:
    """Wait until the page listens, and read."""
    tab.wait("word", LISTENS)
    time.sleep(0.25)
    player = card.play(path)
    assert player.wait(timeout=10) == 0
