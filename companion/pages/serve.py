"""Serving the pages: a loopback socket, the browser, and an end by Ctrl-C."""

from __future__ import annotations

import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from starlette.routing import BaseRoute
from starlette.types import ASGIApp

from companion.pages import running
from companion.pages.app import Lifespan, make_app
from companion.pages.launch import HOST, Launch, link
from speech.trouble import Trouble

WAITING_MAX = 64
"""Connections that may wait while the program is still getting ready."""
END_S = 2
"""How long open connections may take to end once the program is told to stop."""


class PortTaken(Trouble):
    """The port that was asked for is not free."""


@dataclass(frozen=True)
class Site:
    """A set of pages to serve.

    Attributes
    ----------
    name : str
        A word for it, as the file of running programs names it.
    title : str
        What is printed: "Wordhearth's pages".
    routes : sequence of starlette routes
        The pages.
    first : str
        The path that the link leads to.
    lifespan : callable or None
        What begins and ends with the program.
    """

    name: str
    title: str
    routes: Sequence[BaseRoute]
    first: str = "/"
    lifespan: Lifespan | None = None


def serve(site: Site, home: Path, port: int = 0, browser: bool = True) -> int:
    """Serve until stopped; a second launch for the same home opens the first one instead.

    Parameters
    ----------
    site : Site
        The pages.
    home : Path
        The data home that they show.
    port : int
        0 takes any free one.
    browser : bool
        Whether to open the browser.

    Returns
    -------
    int
        0 when it ended, or when another launch was already serving this home.

    Raises
    ------
    PortTaken
        `port` is in use.
    """
    before = running.find(home, site.name)
    if before is not None:
        _say(f"{site.title} are already there, started from another window of this computer.")
        _say("One microphone and one log need one program, so this opens that one's pages.")
        _say(f"Good for one browser: {before}")
        if browser:
            _open(before)
        return 0
    with _listening(port) as listener:
        launch = Launch(home, listener.getsockname()[1])
        ending = threading.Event()
        app = make_app(launch, site.routes, site.first, site.lifespan, ending)
        _say(f"{site.title}: {launch.link}")
        _say("They are on this computer only. To stop: Ctrl-C in this window.")
        if browser:
            address = link(launch.port, app.key_for_one_browser())
            threading.Thread(target=_open, args=(address,), daemon=True).start()
        with running.note(home, site.name, launch):
            Server(configured(app), ending).run(sockets=[listener])
    return 0


class Server(uvicorn.Server):
    """A server that says when it is told to stop.

    Parameters
    ----------
    config : uvicorn.Config
    ending : Event
        Set as soon as it stops, before it waits for connections to end.
    """

    def __init__(self, config: uvicorn.Config, ending: threading.Event) -> None:
        super().__init__(config)
        self._ending = ending

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, and send each answer as it comes.

        Connections inherit the option from the socket that listens; asyncio sets it by itself only
        where a socket names its protocol. Without it the second part of an answer waits some 40 ms
        for the browser to say that it has the first (Nagle's algorithm, RFC 896, against delayed
        acknowledgement, RFC 1122 4.2.3.2; from memory).
        """
        for listener in sockets or ():
            listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        await super().startup(sockets)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop."""
        self._ending.set()
        await super().shutdown(sockets)


def configured(app: ASGIApp) -> uvicorn.Config:
    """How the server is set: quiet, no web sockets, no trust in what a proxy would say."""
    return uvicorn.Config(
        app,
        http="h11",
        ws="none",
        loop="asyncio",
        lifespan="on",
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=END_S,
    )


def _listening(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # elsewhere the option would let two programs share a port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
        listener.listen(WAITING_MAX)
    except OSError as error:
        listener.close()
        raise PortTaken(
            f"Port {port} cannot be used",
            f"another program has it, or this account may not take it ({error.strerror or error})",
            "Leave --port out to take any free one.",
        ) from error
    return listener


def _open(link: str) -> None:
    opened = False
    if sys.platform != "linux" or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    ):  # without a screen, a browser for terminals would take this one over
        with suppress(webbrowser.Error):
            opened = webbrowser.open(link)
    if not opened:
        _say("No browser could be opened from here: open the address above in one yourself.")


def _say(line: str) -> None:
    print(line, flush=True)
