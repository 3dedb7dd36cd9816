"""Nothing is shown to whoever lacks this launch's key, nor to another site's page."""

from __future__ import annotations

import http.client
import re
from collections.abc import Iterator

import httpx
import pytest
from playwright.sync_api import Browser, Page
from served_pages import Served

from companion.pages.family import SITE

REFUSED = "opens only in the browser that Wordhearth opened"
EVERYTHING = ("/", "/static/pages.css", "/fonts/Andika-Regular.ttf", "/no-such-page")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One served site for all of these tests: none of them changes anything."""
    served = Served(SITE, tmp_path_factory.mktemp("guard"))
    yield served
    served.close()


def stranger(pages: Served) -> httpx.Client:
    """A client that never opened the link."""
    return httpx.Client(base_url=pages.launch.origin)


@pytest.mark.parametrize("path", EVERYTHING)
def test_without_the_key_nothing_is_shown(pages: Served, path: str) -> None:
    with stranger(pages) as client:
        answer = client.get(path)
    assert (answer.status_code, REFUSED in answer.text) == (403, True)
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("key", ["", "?key=", "?key=wrong", "?key=%ff", "?key=a&key=b"])
def test_a_wrong_key_opens_nothing(pages: Served, key: str) -> None:
    with stranger(pages) as client:
        for path in ("/open", "/once"):
            answer = client.get(path + key)
            assert answer.status_code == 403
            assert "set-cookie" not in answer.headers


def test_the_link_gives_a_cookie_that_scripts_and_other_sites_cannot_use(pages: Served) -> None:
    with stranger(pages) as client:
        answer = client.get(pages.link)
        cookie = answer.headers["set-cookie"]
        assert answer.headers["location"] == "/"  # a clean address: the key is not in it
        assert client.get("/").status_code == 200
    assert "HttpOnly" in cookie
    assert re.search("SameSite=strict", cookie, re.IGNORECASE)
    assert "Domain" not in cookie
    assert pages.launch.link_key not in cookie


def test_the_key_given_to_the_browsers_command_opens_one_browser_only(pages: Served) -> None:
    key = pages.app.key_for_one_browser()
    with stranger(pages) as first, stranger(pages) as second:
        assert first.get(f"/open?key={key}").status_code == 303
        assert first.get("/").status_code == 200
        assert second.get(f"/open?key={key}").status_code == 403


def test_the_cookie_of_another_launch_is_worth_nothing(pages: Served) -> None:
    with stranger(pages) as client:
        client.cookies.set(pages.launch.cookie_name, "A" * 43)
        assert client.get("/").status_code == 403


@pytest.mark.parametrize(
    "host",
    ["wordhearth.example", "127.0.0.1", "127.0.0.1:1", "localhost", "[::1]", "", "0.0.0.0:{port}"],
)
def test_a_wrong_host_gets_nothing(pages: Served, host: str) -> None:
    """A name that another site points at this computer ('DNS rebinding') is such a host."""
    answer = pages.get("/", Host=host.format(port=pages.launch.port))
    assert answer.status_code == 421
    assert "<html" not in answer.text


def test_a_request_with_two_hosts_gets_nothing(pages: Served) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", pages.launch.port)
    connection.putrequest("GET", "/", skip_host=True)
    for host in (f"127.0.0.1:{pages.launch.port}", "wordhearth.example"):
        connection.putheader("Host", host)
    connection.endheaders()
    assert connection.getresponse().status in (400, 421)
    connection.close()


@pytest.mark.parametrize(
    "origin",
    ["http://wordhearth.example", "null", "http://127.0.0.1:1", "https://127.0.0.1:{port}"],
)
def test_another_origin_gets_nothing_even_with_the_cookie(pages: Served, origin: str) -> None:
    origin = origin.format(port=pages.launch.port)
    assert pages.get("/", Origin=origin).status_code == 403
    assert pages.client.post("/", headers={"Origin": origin}).status_code == 403


def test_a_form_without_an_origin_gets_nothing(pages: Served) -> None:
    assert pages.client.post("/").status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_a_browser_marks_as_coming_from_another_site_gets_nothing(
    pages: Served, site: str
) -> None:
    assert pages.get("/", **{"Sec-Fetch-Site": site}).status_code == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"])
def test_only_reading_and_forms_are_answered(pages: Served, method: str) -> None:
    answer = pages.client.request(method, "/", headers={"Origin": pages.launch.origin})
    assert answer.status_code == 405


def test_too_large_a_body_is_refused_before_it_is_read(pages: Served) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", pages.launch.port)
    connection.putrequest("POST", "/")
    connection.putheader("Origin", pages.launch.origin)
    connection.putheader("Cookie", f"{pages.launch.cookie_name}={pages.launch.cookie_key}")
    connection.putheader("Content-Length", "8000001")
    connection.endheaders()  # and not one byte of it
    assert connection.getresponse().status == 413
    connection.close()


@pytest.mark.parametrize("path", EVERYTHING)
def test_every_answer_says_what_a_browser_must_not_do(pages: Served, path: str) -> None:
    headers = pages.get(path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "server" not in headers


def test_pages_are_kept_by_no_browser(pages: Served) -> None:
    assert pages.get("/").headers["cache-control"] == "no-store"


ELSEWHERE = "http://wordhearth.example/"


@pytest.fixture
def elsewhere(pages: Served, chromium: Browser) -> Iterator[Page]:
    """A page of another site, in a browser that has the cookie and shows ours in another tab."""
    with chromium.new_context() as context:
        context.new_page().goto(pages.link)
        page = context.new_page()
        page.route(ELSEWHERE, lambda route: route.fulfill(body="<h1>Elsewhere</h1>"))
        page.goto(ELSEWHERE)
        yield page


def test_a_form_on_another_sites_page_gets_nothing(pages: Served, elsewhere: Page) -> None:
    elsewhere.evaluate(
        """address => { const form = document.createElement('form'); form.method = 'post';
        form.action = address; document.body.append(form); form.submit(); }""",
        f"{pages.launch.origin}/",
    )
    elsewhere.wait_for_url(f"{pages.launch.origin}/")
    assert REFUSED in elsewhere.content()


def test_a_link_on_another_sites_page_shows_nothing(pages: Served, elsewhere: Page) -> None:
    elsewhere.evaluate("address => { location = address }", f"{pages.launch.origin}/")
    elsewhere.wait_for_url(f"{pages.launch.origin}/")
    assert REFUSED in elsewhere.content()


def test_a_script_of_another_site_can_read_nothing(pages: Served, elsewhere: Page) -> None:
    said = elsewhere.evaluate(
        """address => fetch(address, {credentials: 'include'}).then(r => r.text(), e => e.name)""",
        f"{pages.launch.origin}/",
    )
    assert said == "TypeError"


def test_another_site_cannot_frame_a_page(pages: Served, elsewhere: Page) -> None:
    elsewhere.evaluate(
        """address => new Promise(done => { const frame = document.createElement('iframe');
        frame.src = address; frame.onload = done; document.body.append(frame); })""",
        f"{pages.launch.origin}/",
    )
    (frame,) = elsewhere.frames[1:]
    assert "<main" not in frame.content()
