"""What the tests read of a PDF, by poppler's programs: its text, fonts, pages and ink."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass

import numpy as np
import pytest

PROGRAMS = ("pdftotext", "pdffonts", "pdfinfo", "pdftoppm")
needs_poppler = pytest.mark.skipif(
    any(shutil.which(name) is None for name in PROGRAMS), reason="sudo apt install poppler-utils"
)
DOTS_PER_INCH = 50


def _run(program: str, *arguments: str, pdf: bytes) -> bytes:
    done = subprocess.run([program, *arguments], input=pdf, capture_output=True, check=True)
    assert b"Error" not in done.stderr, done.stderr.decode()
    return done.stdout


def text(pdf: bytes) -> str:
    """All text in the order in which it was written, spaces and line ends made one space."""
    return " ".join(_run("pdftotext", "-raw", "-", "-", pdf=pdf).decode().split())


def pages(pdf: bytes) -> list[str]:
    """The text of each page, as `text`."""
    whole = _run("pdftotext", "-raw", "-", "-", pdf=pdf).decode()
    return [" ".join(page.split()) for page in whole.split("\f")[:-1]]


def fonts(pdf: bytes) -> dict[str, bool]:
    """Each font, without its subset's tag, and whether all its uses are embedded."""
    found: dict[str, bool] = {}
    for line in _run("pdffonts", "-", pdf=pdf).decode().splitlines()[2:]:
        name, embedded = re.match(r"(\S+) .* (yes|no) +(?:yes|no) +(?:yes|no) +\d+", line).groups()
        name = name.partition("+")[2] or name
        found[name] = found.get(name, True) and embedded == "yes"
    return found


def about(pdf: bytes) -> dict[str, str]:
    """Title, number of pages and so on."""
    lines = _run("pdfinfo", "-", pdf=pdf).decode().splitlines()
    return {key.strip(): value.strip() for key, _, value in (line.partition(":") for line in lines)}


@dataclass(frozen=True)
class Ink:
    """The smallest rectangle that holds all ink of a page, in millimetres from its upper left."""

    left: float
    top: float
    right: float
    bottom: float


def ink(pdf: bytes, page: int = 1) -> Ink:
    """Where a page is not white, to half a millimetre."""
    grey = picture(pdf, page)
    rows, columns = np.nonzero((grey < 250).any(axis=1))[0], np.nonzero((grey < 250).any(axis=0))[0]
    mm = 25.4 / DOTS_PER_INCH
    return Ink(columns[0] * mm, rows[0] * mm, (columns[-1] + 1) * mm, (rows[-1] + 1) * mm)


def picture(pdf: bytes, page: int = 1, dots_per_inch: int = DOTS_PER_INCH) -> np.ndarray:
    """A page as grey values 0 (black) to 255, shape (rows, columns)."""
    raw = _run(
        *("pdftoppm", "-gray", "-r", str(dots_per_inch), "-f", str(page), "-l", str(page), "-"),
        pdf=pdf,
    )
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", raw)
    width, height = int(head[1]), int(head[2])
    return np.frombuffer(raw, np.uint8, offset=head.end()).reshape(height, width)


def coloured(pdf: bytes, page: int = 1, dots_per_inch: int = DOTS_PER_INCH) -> np.ndarray:
    """A page in red, green and blue 0 to 255, shape (rows, columns, 3)."""
    at = str(page)
    raw = _run("pdftoppm", "-r", str(dots_per_inch), "-f", at, "-l", at, "-", pdf=pdf)
    head = re.match(rb"P6\s+(\d+)\s+(\d+)\s+255\s", raw)
    width, height = int(head[1]), int(head[2])
    return np.frombuffer(raw, np.uint8, offset=head.end()).reshape(height, width, 3)
