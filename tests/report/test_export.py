"""The export holds all that is kept, says what each column means, and loses nothing on the way."""

from __future__ import annotations

import json
import zipfile
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.record import clips, consent
from companion.record.consent import ClipPermit, LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import OVERRULES, KeptTurn, Try, Turn
from companion.report import plain_csv
from companion.report.export import COLUMNS, export, file_name
from speech.audio import Utterance

NOW = datetime(2026, 11, 27, 17, 5, 6, tzinfo=UTC)
VERDICTS = ("as_written", "slip", "other_word", "sounded_out", "silent", "unsure")
# What a list's file, and so a word or a list's name, might hold at worst.
TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs",), exclude_characters="\0"),
    min_size=1,
    max_size=12,
)
GPCS = st.lists(st.sampled_from(("p /P/", "i-e /AY/", "ow /OW/")), max_size=3).map(tuple)
SHARES = st.dictionaries(st.sampled_from(VERDICTS), st.floats(0, 1), max_size=3)
TRIES = st.builds(
    Try,
    st.sampled_from(VERDICTS),
    st.sampled_from((None, "short_for_split", "e_sounded")),
    st.sampled_from((None, "i-e /AY/")),
    st.sampled_from(("", "P AY N")),
    st.sampled_from((None, (0, 2))),
    st.sampled_from((None, 0, 1)),
    SHARES,
    SHARES,
    st.floats(0, 1e4),
    GPCS,
)
TURNS = st.lists(
    st.builds(
        Turn,
        TEXT,
        GPCS,
        st.lists(TRIES, min_size=1, max_size=2).map(tuple),
        st.sampled_from((None, *OVERRULES)),
    ),
    max_size=6,
)


def opened(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(BytesIO(data)) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def table(files: dict[str, bytes], name: str) -> list[dict[str, str]]:
    rows = plain_csv.from_bytes(files[name], 10_000_000)
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


def back(data: dict[str, Any]) -> KeptTurn:
    """A reading from the JSON, as the log has it."""
    tries = tuple(
        Try(**{**each, "place": each["place"] and tuple(each["place"]),
               "evidence": tuple(each["evidence"])})
        for each in data["turn"]["tries"]
    )  # fmt: skip
    return KeptTurn(
        data["id"],
        data["sitting"],
        datetime.fromisoformat(data["at"]),
        datetime.fromisoformat(data["day"]).date(),
        Turn(data["turn"]["word"], tuple(data["turn"]["gpcs"]), tries, data["turn"]["overrule"]),
    )


@settings(max_examples=40, deadline=None)
@given(TURNS, TEXT)
def test_every_reading_comes_back_from_the_json_as_it_was(
    turns: list[Turn], list_name: str
) -> None:
    with TemporaryDirectory() as home:
        folder = ChildFolder(Path(home), "puffin")
        consent.give(folder, ["practise", "keep_log"], NOW)
        permit = LogPermit(folder)
        with Log.open(folder.log) as log:
            sitting = log.start_sitting(permit, list_name, None, NOW)
            for number, turn in enumerate(turns):
                log.add_turn(permit, sitting, turn, NOW + timedelta(seconds=number))
            kept = log.turns()
            files = opened(export(folder, log, NOW))
    whole = json.loads(files["everything.json"])
    assert tuple(map(back, whole["readings"])) == kept
    assert whole["sittings"][0]["list_name"] == list_name
    rows = table(files, "readings.csv")
    assert len(rows) == sum(len(turn.tries) for turn in turns)
    for row, (each, number) in zip(
        rows, [(k, n) for k in kept for n in range(len(k.turn.tries))], strict=True
    ):
        last = each.turn.tries[number]
        assert (int(row["reading"]), int(row["try"])) == (each.id, number + 1)
        assert row["word"].replace("\r\n", "\n").lstrip("'") == each.turn.word.replace(
            "\r\n", "\n"
        ).lstrip("'")
        assert float(row["ms"]) == last.ms
        assert json.loads(row["probabilities"]) == last.p
        assert tuple(filter(None, row["evidence"].split(";"))) == last.evidence


def week_of_reading(folder: ChildFolder, **words: str) -> None:
    permit = LogPermit(folder)
    done = Try("as_written", None, None, "P AY N", None, None, {}, {}, 1.0, ("i-e /AY/",))
    with Log.open(folder.log) as log:
        for day, word in enumerate(words.values()):
            at = NOW - timedelta(days=100 - day)
            sitting = log.start_sitting(permit, "=1+1", None, at)
            log.add_turn(permit, sitting, Turn(word, ("i-e /AY/",), (done,)), at)


def test_a_spreadsheet_runs_nothing_of_it(tmp_path: Path) -> None:
    """OWASP, 'CSV Injection' (from memory): = + - @ tab and carriage return begin a formula."""
    folder = ChildFolder(tmp_path, "puffin")
    consent.give(folder, ["practise", "keep_log"], NOW)
    week_of_reading(folder, a="=cmd|' /C calc'!A0", b="@SUM(A1)", c="-2+3", d="pine")
    with Log.open(folder.log) as log:
        files = opened(export(folder, log, NOW))
    for name in COLUMNS:
        text = files[name].decode("utf-8-sig")
        assert files[name].startswith(b"\xef\xbb\xbf") and "\r\n" in text
        for line in text.splitlines():
            cells = line.split(",")
            assert not any(cell.strip('"').startswith(("=", "+", "-", "@")) for cell in cells), line
    assert [row["word"] for row in table(files, "readings.csv")] == [
        "=cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "pine",
    ]  # fmt: skip


def test_every_column_of_every_table_is_explained_in_the_archive(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "puffin")
    consent.give(folder, consent.NAMES, NOW)
    week_of_reading(folder, a="pine")
    with Log.open(folder.log) as log:
        files = opened(export(folder, log, NOW))
    explained = files["read me first.txt"].decode()
    for name, columns in COLUMNS.items():
        head = plain_csv.from_bytes(files[name], 10_000_000)[0]
        assert head == list(columns)
        assert all(f"  {column}: " in explained for column in head)
    assert [row["choice"] for row in table(files, "consent.csv")] == list(consent.NAMES)


def test_weekly_counts_and_clips_and_whatever_else_is_kept_come_along(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "puffin")
    consent.give(folder, consent.NAMES, NOW)
    week_of_reading(folder, a="pine", b="kite")
    sound = Utterance(np.zeros(1600, np.float32))
    clip = clips.keep(ClipPermit(folder), 1, 1, sound, NOW)
    (folder.path / "today.json").write_text("{}")
    folder.handing.write_text('{"seed": "00"}')
    with Log.open(folder.log) as log:
        log.roll_up(NOW.date())
        files = opened(export(folder, log, NOW))
    assert files[f"clips/{clip.name}"] == clip.read_bytes()
    assert files["other/today.json"] == b"{}"
    assert [(row["gpc"], row["as_written"]) for row in table(files, "weeks.csv")] == [
        ("i-e /AY/", "2")
    ]
    assert not any(b"seed" in data for data in files.values()), "the secret key stays at home"
    assert set(files) == {
        "read me first.txt", "everything.json", *COLUMNS, f"clips/{clip.name}", "other/today.json",
    }  # fmt: skip


def test_a_child_without_a_log_has_an_archive_too(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "puffin")
    consent.give(folder, ["practise"], NOW)
    files = opened(export(folder, None, NOW))
    assert json.loads(files["everything.json"])["readings"] == []
    assert "puffin" not in file_name(NOW) and file_name(NOW) == "wordhearth-2026-11-27.zip"
