"""Who may see the pages: the browser that was given this launch's key, and no other site's page.

Every request passes here first, pictures and fonts included. Sources: Fetch Metadata Request
Headers (W3C working draft) for ``Sec-Fetch-Site``; RFC 6265bis for ``SameSite``; Content Security
Policy Level 3; all from memory.
"""

from __future__ import annotations

from hmac import compare_digest
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from companion.pages.launch import ONCE_PATH, OPEN_PATH, Launch, new_key

BODY_BYTES_MAX = 8_000_000
"""The largest body taken: a class's week of sealed summaries is far below, a mistake far above."""

POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "font-src 'self'",
        "img-src 'self'",
        "media-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Nothing from elsewhere, nothing inline, in nobody's frame."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # 'no-referrer' would make browsers send 'Origin: null' with our own forms (Fetch standard,
    # 'append a request Origin header'); this sends none to anybody else either.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    # The program hears by itself: the browser's own microphone is never asked for.
    "Permissions-Policy": "microphone=(), camera=(), geolocation=()",
}
NO_STORE = "no-store"

_ALLOWED_METHODS = ("GET", "HEAD", "POST")
_REFUSED = (
    "This page opens only in the browser that Wordhearth opened, or by the address it printed.\n"
    "Go to the window where you started it, and open that address again.\n"
)


class Guard:
    """Wraps the application: refuses what is not ours, and sets the headers of what is.

    Parameters
    ----------
    app : ASGI application
    launch : Launch
        Whose keys count.
    first : str
        The path that the link leads to.
    """

    def __init__(self, app: ASGIApp, launch: Launch, first: str = "/") -> None:
        self._app = app
        self._launch = launch
        self._first = first
        self._once: set[str] = set()

    def key_for_one_browser(self) -> str:
        """A key that opens one browser and no second one.

        The command that starts a browser shows its address to every account of the computer, in
        the list of running programs: once the browser has come, that address is worth nothing.
        """
        key = new_key()
        self._once.add(key)
        return key

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets here: the server closes what nobody accepts
        send = _with_headers(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, send)
        elif scope["path"] == OPEN_PATH:
            await self._opened(scope)(scope, receive, send)
        elif scope["path"] == ONCE_PATH:
            await PlainTextResponse(self.key_for_one_browser())(scope, receive, send)
        else:
            await self._app(scope, _limited(receive), send)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if headers.getlist("host") != [self._launch.origin.removeprefix("http://")]:
            return PlainTextResponse(_REFUSED, 421)
        if scope["method"] not in _ALLOWED_METHODS:
            return PlainTextResponse(_REFUSED, 405, {"Allow": ", ".join(_ALLOWED_METHODS)})
        if not self._from_here(scope["method"], headers):
            return PlainTextResponse(_REFUSED, 403)
        if scope["path"] not in (OPEN_PATH, ONCE_PATH) and not self._has_cookie(scope):
            return PlainTextResponse(_REFUSED, 403)
        if scope["path"] == ONCE_PATH and not self._is_link_key(_key_in(scope)):
            return PlainTextResponse(_REFUSED, 403)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > BODY_BYTES_MAX:
            return PlainTextResponse("That is too large to be taken.\n", 413)
        return None

    def _from_here(self, method: str, headers: Headers) -> bool:
        """Whether one of our own pages asks, or the address was typed or opened by a program."""
        origins = headers.getlist("origin")
        if any(origin != self._launch.origin for origin in origins):
            return False
        sites = headers.getlist("sec-fetch-site")
        if method == "POST":
            return bool(origins) and all(site == "same-origin" for site in sites)
        return all(site in ("same-origin", "none") for site in sites)

    def _has_cookie(self, scope: Scope) -> bool:
        given = Request(scope).cookies.get(self._launch.cookie_name, "")
        return compare_digest(given.encode(), self._launch.cookie_key.encode())

    def _is_link_key(self, key: str) -> bool:
        return compare_digest(key.encode(), self._launch.link_key.encode())

    def _opened(self, scope: Scope) -> Response:
        key = _key_in(scope)
        right = self._is_link_key(key)
        if not right and key in self._once:
            self._once.discard(key)
            right = True
        if not right and not self._has_cookie(scope):
            return PlainTextResponse(_REFUSED, 403)
        response = RedirectResponse(self._first, 303)
        response.set_cookie(
            self._launch.cookie_name,
            self._launch.cookie_key,
            httponly=True,
            samesite="strict",
            path="/",
        )
        return response


def _key_in(scope: Scope) -> str:
    keys = parse_qs(scope["query_string"].decode("latin-1")).get("key", [])
    return keys[0] if len(keys) == 1 else ""


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.update(HEADERS)
            headers.setdefault("Cache-Control", NO_STORE)
        await send(message)

    return sending


class BodyTooLarge(Exception):
    """More came than `BODY_BYTES_MAX`, without having been announced."""


def _limited(receive: Receive) -> Receive:
    """Count what comes: a body sent in pieces announces no length."""
    taken = 0

    async def receiving() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > BODY_BYTES_MAX:
            raise BodyTooLarge
        return message

    return receiving
