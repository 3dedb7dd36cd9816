"""One launch of the pages: its address, and the keys that only whoever started it has."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from pathlib import Path

HOST = "127.0.0.1"
"""The loopback address: what listens here is out of reach of every other computer."""
OPEN_PATH = "/open"
"""Where the link leads; it answers with the cookie and a clean address."""
ONCE_PATH = "/once"
"""Where this program, started a second time, asks the first for a key that opens one browser."""
KEY_BYTES = 32


def new_key() -> str:
    """A key nobody can guess: 256 random bits."""
    return secrets.token_urlsafe(KEY_BYTES)


def link(port: int, key: str) -> str:
    """The address that opens the pages with a key."""
    return f"http://{HOST}:{port}{OPEN_PATH}?key={key}"


@dataclass(frozen=True)
class Launch:
    """One run of the program.

    Attributes
    ----------
    home : Path
        The data home that the pages show.
    port : int
        Where they listen, 1 to 65535.
    link_key : str
        In the address that is printed; opening it gives the browser the cookie.
    cookie_key : str
        What the cookie holds.
    """

    home: Path
    port: int
    link_key: str = field(default_factory=new_key, repr=False)
    cookie_key: str = field(default_factory=new_key, repr=False)

    @property
    def origin(self) -> str:
        """Scheme, host and port, as a browser writes them in ``Origin``."""
        return f"http://{HOST}:{self.port}"

    @property
    def link(self) -> str:
        """The address to open."""
        return link(self.port, self.link_key)

    @property
    def cookie_name(self) -> str:
        """Browsers keep cookies by host and not by port: two launches must not share a name."""
        return f"wordhearth-{self.port}"
