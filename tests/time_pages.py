"""Measure how quick the pages are: `python tests/time_pages.py`.

Two times. From the command to the first page in a browser's hands, on a warm disk; and, for words
read into a virtual microphone, from the end of the word's sound to the page's answer, the wait for
the child's end included. Needs what the browser tests need: chromium, pulseaudio, espeak-ng.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import soundfile

WORDS = ["pine", "kite", "hope", "tape", "cape", "cube", "note", "pin", "hop", "tub", "mad", "home"]
HERE = Path(__file__).parent
FIXTURES = HERE.parent / "fixtures_audio"
sys.path[:0] = [str(HERE), str(HERE / "pages")]


def first_page_s(count: int) -> list[float]:
    """Seconds from starting the program to the whole of its first page."""
    from program import Program

    found = []
    for _ in range(count):
        with tempfile.TemporaryDirectory(prefix="wh-") as folder:
            began = time.perf_counter()
            with Program(Path(folder) / "home") as program, program.client() as client:
                assert client.get("/").status_code == 200
                found.append(time.perf_counter() - began)
    return found


def read_as_written(words: list[str]) -> dict[str, Path]:
    """A bundled recording of each word as it is written, in a quiet room."""
    rows = map(json.loads, (FIXTURES / "manifest.jsonl").read_text("utf-8").splitlines())
    found: dict[str, Path] = {}
    for row in rows:
        plain = row["truth"] == "as_written" and row["condition"] == "quiet room"
        if plain and row["word"] in words and row["voice"] != "children":
            found.setdefault(row["word"], FIXTURES / row["audio"])
    return found


def speech_end_s(path: Path) -> float:
    """Seconds into a recording at which its speech ends."""
    from speech.audio import read
    from speech.endpoint import look
    from speech.levels import frame_levels

    end_s = look(frame_levels(read(path).samples)).end_s
    assert end_s is not None, f"nobody speaks in {path}"
    return end_s


def shown(page: Any) -> str:
    """The word on the page."""
    found = page.query_selector(".word .hidden-text")
    return found.inner_text().split(":")[0] if found else ""


def answers_s(card: Any, clips: dict[str, Path]) -> dict[str, float]:
    """Seconds from the end of each word to the scene that answers it, seen in Chromium."""
    from playwright.sync_api import sync_playwright
    from reading_aloud import agreed, begin, short_plan
    from served_pages import Served

    from companion.pages.family import SITE

    found = {}
    words = list(clips)
    with tempfile.TemporaryDirectory(prefix="wh-") as folder, sync_playwright() as playwright:
        served = Served(SITE, Path(folder) / "home")
        begin(served, agreed(served.home), short_plan(words))
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox"]
        )
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(served.link)
        page.goto(f"{served.launch.origin}/child/gull/read")
        for word in words:
            while page.query_selector(".sign.listening") is None or shown(page) != word:
                if page.query_selector(".scene-hello, .scene-part, .scene-ask, .scene-word"):
                    page.click(".big-button")  # a word that is asked for again is passed by
                page.wait_for_timeout(50)
            page.wait_for_timeout(400)
            number = page.get_attribute(".scene", "data-scene")
            path = clips[word]
            began = time.perf_counter()
            card.play(path)
            page.wait_for_selector(f'.scene:not([data-scene="{number}"])')
            answered = time.perf_counter()
            found[word] = answered - began - speech_end_s(path)
        browser.close()
        served.close()
    return found


def player_s(card: Any) -> float:
    """Seconds from asking for a sound to its coming out of the virtual microphone."""
    import numpy as np

    from speech.capture import Microphone

    click = Path(tempfile.mkdtemp(prefix="wh-")) / "click.wav"
    soundfile.write(click, np.r_[np.full(4800, 0.5), np.zeros(9600)], 48_000)
    found = []
    for _ in range(5):
        with Microphone() as microphone:
            pieces = microphone.pieces()
            for _ in range(20):
                next(pieces)
            began = time.perf_counter()
            card.play(click)
            while np.abs(next(pieces)).max(initial=0.0) < 0.1:
                pass
            found.append(time.perf_counter() - began)
        time.sleep(0.5)
    return statistics.median(found)


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--launches", type=int, default=5)
    parser.add_argument("--words", nargs="+", default=WORDS)
    args = parser.parse_args()
    launches = first_page_s(args.launches)
    print(f"first page: median {statistics.median(launches):.2f} s of {len(launches)} launches")
    from conftest import VirtualSoundCard

    with tempfile.TemporaryDirectory(prefix="wh-") as folder:
        card = VirtualSoundCard(Path(folder))
        os.environ["ALSA_CONFIG_PATH"] = str(Path(folder) / "asound.conf")
        os.environ["PULSE_SERVER"] = card.server
        began_s = player_s(card)
        answers = answers_s(card, read_as_written(args.words))
        card.close()
    for word, answer_s in answers.items():
        print(f"  {word:<8} {answer_s * 1000:5.0f} ms")
    times = sorted(answers.values())
    median_ms, began_ms = statistics.median(times) * 1000, began_s * 1000
    print(
        f"end of word to answer: median {median_ms:.0f} ms, from {times[0] * 1000:.0f} to "
        f"{times[-1] * 1000:.0f} ms, {len(times)} words"
    )
    print(
        f"of it the player in the child's place and the sound system take {began_ms:.0f} ms: "
        f"{median_ms - began_ms:.0f} ms without them"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
