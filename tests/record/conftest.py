from __future__ import annotations

import stat
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.record import consent
from companion.record.consent import LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Try, Turn

MONDAY = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)


def make_try(verdict: str = "as_written", **changed: object) -> Try:
    fields: dict[str, object] = {
        "verdict": verdict,
        "slip": "short_for_split" if verdict == "slip" else None,
        "gpc": "i-e /AY/" if verdict == "slip" else None,
        "heard": {"as_written": "P AY N", "slip": "P IH N", "silent": ""}.get(verdict, "B AA"),
        "place": (1, 2) if verdict == "slip" else None,
        "unit": 1 if verdict == "slip" else None,
        "p": {verdict: 0.75, "unsure" if verdict != "unsure" else "slip": 0.25},
        "p_slip": {"short_for_split": 0.6, "e_sounded": 0.0},
        "ms": 41.5,
        "evidence": {
            "as_written": ("p /P/", "i-e /AY/", "n /N/"),
            "slip": ("i-e /AY/",),
        }.get(verdict, ()),
    }
    return Try(**{**fields, **changed})  # type: ignore[arg-type]


def make_turn(*verdicts: str, word: str = "pine", overrule: str | None = None) -> Turn:
    tries = tuple(make_try(verdict) for verdict in verdicts or ("as_written",))
    return Turn(word, ("p /P/", "i-e /AY/", "n /N/"), tries, overrule)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def puffin(home: Path) -> ChildFolder:
    return ChildFolder(home, "puffin")


@pytest.fixture
def permit(puffin: ChildFolder) -> LogPermit:
    consent.give(puffin, ["practise", "keep_log"], MONDAY)
    return LogPermit(puffin)


@pytest.fixture
def log(permit: LogPermit) -> Iterator[Log]:
    with Log.open(permit.folder.log, wait_s=0.1) as opened:
        yield opened


@pytest.fixture
def turn() -> Callable[..., Turn]:
    return make_turn


@pytest.fixture
def later() -> Callable[[float], datetime]:
    return lambda days: MONDAY + timedelta(days=days)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user of the computer may enter, unlike pytest's own."""
    with tempfile.TemporaryDirectory(prefix="wordhearth-") as name:
        folder = Path(name)
        folder.chmod(stat.S_IRWXU | stat.S_IRGRP | stat.S_IXGRP | stat.S_IROTH | stat.S_IXOTH)
        yield folder
