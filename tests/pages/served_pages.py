"""The pages served for real on a free port, and what is asked of every page in a browser."""

from __future__ import annotations

import socket
import threading
import time
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import Page
from starlette.applications import Starlette

from companion.pages.app import make_app
from companion.pages.launch import HOST, Launch
from companion.pages.serve import Server, Site, configured

AXE = Path(__file__).with_name("axe.min.js")
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
"""axe-core's names for the success criteria of WCAG 2.0, 2.1 and 2.2, levels A and AA."""


class Served:
    """A site served in this process, with a client that has opened its link."""

    def __init__(self, site: Site, home: Path) -> None:
        self.home = home
        self._listener = socket.create_server((HOST, 0))
        self.launch = Launch(home, self._listener.getsockname()[1])
        ending = threading.Event()
        self.app = make_app(self.launch, site.routes, site.first, site.lifespan, ending)
        self._server = Server(configured(self.app), ending)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._listener]}, daemon=True
        )
        self._thread.start()
        deadline = time.monotonic() + 10
        while not self._server.started and time.monotonic() < deadline:
            time.sleep(0.01)
        self.client = httpx.Client(base_url=self.launch.origin, timeout=20)
        self.client.get(self.link)

    @property
    def starlette(self) -> Starlette:
        """The application behind the guard."""
        app = self.app._app
        assert isinstance(app, Starlette)
        return app

    @property
    def link(self) -> str:
        return self.launch.link

    def get(self, path: str, **headers: str) -> httpx.Response:
        return self.client.get(path, headers=headers)

    def post(self, path: str, fields: Any = None, **options: Any) -> httpx.Response:
        """Send a form as our own page would."""
        return self.client.post(
            path, data=fields, headers={"Origin": self.launch.origin}, **options
        )

    def close(self) -> None:
        self.client.close()
        self._server.should_exit = True
        self._thread.join(10)
        self._listener.close()


def accessible(page: Page) -> None:
    """Fail with every violation of WCAG 2.2 A and AA that axe-core finds on the page shown."""
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate(
        "rules => axe.run(document, {runOnly: {type: 'tag', values: rules}})", list(RULES)
    )
    told = [
        f"{each['id']}: {each['help']}\n    " + "\n    ".join(n["html"] for n in each["nodes"])
        for each in found["violations"]
    ]
    assert not told, f"{page.url}\n" + "\n".join(told)


def too_small(page: Page, least: int = 44) -> list[str]:
    """Everything pressed that is lower or narrower than `least` CSS px.

    Links in running text and fields inside a label are left out: WCAG 2.2, success criteria 2.5.5
    and 2.5.8, allow both.
    """
    found: list[str] = page.evaluate(
        """least => [...document.querySelectorAll('a, button, summary, select, input')]
        .filter(e => e.type !== 'hidden' && e.offsetParent !== null && !e.closest('.skip')
            && !(e.tagName === 'A' && e.closest('p, li:not(.choice), footer'))
            && !e.labels?.length)
        .map(e => [e, e.getBoundingClientRect()])
        .filter(([e, box]) => box.width < least || box.height < least)
        .map(([e, box]) => `${e.outerHTML.slice(0, 90)} ${box.width} x ${box.height}`)""",
        least,
    )
    return found
