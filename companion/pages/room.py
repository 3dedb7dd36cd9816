"""The room where one child reads: one microphone, so one thread at a time, and the listener."""

from __future__ import annotations

import sys
import threading
import traceback
from collections.abc import AsyncIterator
from concurrent.futures import Future
from contextlib import asynccontextmanager

import anyio
from starlette.applications import Starlette
from starlette.requests import Request

from companion.pages.stage import Stage
from companion.pages.troubles import TROUBLES, told
from companion.record.home import ChildFolder
from speech.ears import Ears
from speech.trouble import Trouble

END_S = 3.0
"""How long a sitting may take to close when the program is stopped."""


class RoomTaken(Trouble):
    """Somebody is reading already."""


class Run(threading.Thread):
    """A thread with a stage. Subclasses say what happens in `play`.

    Parameters
    ----------
    folder : ChildFolder
        The child it is for.
    title : str
        What the page is called.
    """

    def __init__(self, folder: ChildFolder, title: str) -> None:
        super().__init__(name=title, daemon=True)
        self.folder = folder
        self.title = title
        self.stage = Stage()
        self.ending = threading.Event()

    def play(self) -> None:
        """Show scenes until the end. A `Trouble` that leaves it becomes the last scene."""
        raise NotImplementedError

    def run(self) -> None:
        """Run `play`, and say on the stage what went wrong where something did."""
        try:
            self.play()
        except TROUBLES as error:
            self.stage.show("stopped", **told(error))
        except Exception:
            traceback.print_exc(file=sys.stderr)
            self.stage.show(
                "stopped",
                what="Wordhearth made a mistake",
                why="it met something it was not made for; the window where you started it says "
                "what",
                mend="Every word already marked is safe. Go back to the start and try again.",
            )
        finally:
            self.stage.close()

    def leave(self) -> None:
        """Ask the thread to end as soon as it can."""
        self.ending.set()
        self.stage.pressed.set()


class Room:
    """What the program keeps ready between requests."""

    def __init__(self) -> None:
        self._entering = threading.Lock()
        self._loading = threading.Thread(target=self._load, name="load ears", daemon=True)
        self.run: Run | None = None
        self.ears: Future[Ears] = Future()

    def prepare(self) -> None:
        """Load the listener beside the first page."""
        self._loading.start()

    def _load(self) -> None:
        try:
            self.ears.set_result(Ears.load())
        except BaseException as error:
            self.ears.set_exception(error)

    def enter(self, run: Run) -> None:
        """Start a run.

        Raises
        ------
        RoomTaken
            Another one is going on.
        """
        with self._entering:
            if self.run is not None and self.run.is_alive():
                raise RoomTaken(
                    "Somebody is reading already",
                    f"a sitting of '{self.run.folder.label}' is open in another window, and there "
                    "is one microphone",
                    "Finish that one, or press 'I'm done' there; then begin again.",
                )
            self.run = run
            run.start()

    def run_of(self, folder: ChildFolder) -> Run | None:
        """The child's run, going on or just ended."""
        run = self.run
        return run if run is not None and run.folder == folder else None

    def forget(self, folder: ChildFolder) -> None:
        """Drop the last scene of a child's run that has ended: whose words it shows was erased."""
        with self._entering:
            if self.run is not None and self.run.folder == folder and not self.run.is_alive():
                self.run = None

    def leave(self) -> None:
        """End what goes on, with everything kept."""
        run = self.run
        if run is not None and run.is_alive():
            run.leave()
            run.join(END_S)
        if self._loading.is_alive():
            self._loading.join(END_S)  # cut off in the middle, it would complain of missing files


@asynccontextmanager
async def lifespan(app: Starlette) -> AsyncIterator[None]:
    """The room opens with the program and is left with it."""
    room = Room()
    room.prepare()
    app.state.room = room
    yield
    await anyio.to_thread.run_sync(room.leave)


def room_of(request: Request) -> Room:
    """The program's room."""
    room = request.app.state.room
    assert isinstance(room, Room), "lifespan() sets it"
    return room
