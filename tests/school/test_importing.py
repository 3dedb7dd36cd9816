"""Import: two homes hand in for real, and everything that may be wrong with what arrives."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented_homes import MONDAY, PASSPHRASE, WEEK, Home, Place
from nacl.public import PrivateKey
from nacl.signing import SigningKey

from companion.record.weeks import Week
from companion.report import family_file, sealed
from companion.report.home_school import Made, fingerprint
from companion.school import evidence, family, importing, register, teaching
from companion.school.arrivals import FILE_MAX, Item, Source, from_paths
from companion.school.book import Book
from companion.school.trouble import BookLocked

FRIDAY = MONDAY + timedelta(days=4)
SATURDAY = MONDAY + timedelta(days=5)


def source(made: Made, name: str | None = None) -> Source:
    return Source(name or made.name, made.data)


def stand(book: Book, *sources: Source) -> list[Item]:
    return list(importing.preview(book, sources, SATURDAY).items)


def take_all(book: Book, *sources: Source) -> importing.Taken:
    found = importing.preview(book, sources, SATURDAY)
    return importing.commit(book, found, SATURDAY, (*found.ready, *found.asks))


def test_what_two_homes_read_is_what_the_book_holds(place: Place) -> None:
    made = [home.hand_in(FRIDAY) for home in place.homes]
    found = importing.preview(place.book, [source(each) for each in made], SATURDAY)
    assert found.ready == () and found.asks == (0, 1)
    for item, each in zip(found.items, made, strict=True):
        assert item.standing == "new" and item.first_key and item.note is not None
        assert fingerprint(each.family_key) in item.note.why
    assert evidence.summaries(place.book) == ()
    taken = importing.commit(place.book, found, SATURDAY, found.asks)
    assert (taken.new, taken.changed, taken.keys, taken.left) == (2, 0, 2, ())
    kept = {each.summary.pupil: each for each in evidence.summaries(place.book)}
    for each in made:
        assert kept[each.summary.pupil].summary == each.summary
        assert kept[each.summary.pupil].family_key == each.family_key
        assert register.one(place.book, each.summary.pupil).family_key == each.family_key


def test_a_known_home_is_not_asked_about_again(place: Place) -> None:
    take_all(place.book, source(place.homes[0].hand_in(FRIDAY)))
    monday = MONDAY + timedelta(days=7)
    place.homes[0].practise(monday)
    made = place.homes[0].hand_in(monday + timedelta(days=4), Week(2026, 49))
    found = importing.preview(place.book, [source(made)], monday + timedelta(days=5))
    assert found.ready == (0,) and not found.items[0].first_key


def test_the_same_file_again_changes_nothing(place: Place) -> None:
    file = source(place.homes[0].hand_in(FRIDAY))
    take_all(place.book, file)
    before = place.book.path.read_bytes()
    item = stand(place.book, file, Source("copy of it.sealed", file.data))
    assert [each.standing for each in item] == ["same", "same"]
    assert take_all(place.book, file).new == 0
    assert place.book.path.read_bytes() == before


def test_the_same_counts_made_again_change_nothing_either(place: Place) -> None:
    take_all(place.book, source(place.homes[0].hand_in(FRIDAY)))
    (item,) = stand(place.book, source(place.homes[0].hand_in(FRIDAY + timedelta(hours=1))))
    assert item.standing == "same"


def test_a_later_summary_of_the_week_replaces_the_earlier_and_not_the_other_way(
    place: Place,
) -> None:
    home = place.homes[0]
    early = home.hand_in(MONDAY + timedelta(days=2, hours=2))
    home.read(["pine", "time"], FRIDAY)
    late = home.hand_in(FRIDAY + timedelta(hours=2))
    take_all(place.book, source(early))
    (item,) = stand(place.book, source(late))
    assert item.standing == "changed"
    assert take_all(place.book, source(late)).changed == 1
    (played_back,) = stand(place.book, source(early))
    assert played_back.standing == "older" and played_back.note is not None
    assert "later one is in the book" in played_back.note.why
    assert take_all(place.book, source(early)).changed == 0
    assert evidence.summaries(place.book)[0].summary == late.summary


def test_the_number_decides_where_a_homes_clock_was_set_back(place: Place) -> None:
    home = place.homes[0]
    early = home.hand_in(FRIDAY)
    home.read(["pine", "time"], FRIDAY)
    late = home.hand_in(FRIDAY - timedelta(hours=20))
    take_all(place.book, source(early))
    assert stand(place.book, source(late))[0].standing == "changed"


def test_of_two_summaries_of_a_week_among_the_files_the_later_is_taken(place: Place) -> None:
    home = place.homes[0]
    early = home.hand_in(FRIDAY)
    home.read(["pine", "time"], FRIDAY)
    late = home.hand_in(FRIDAY + timedelta(hours=2))
    for files in ((early, late), (late, early)):
        found = stand(place.book, *map(source, files))
        standings = {item.summary.number: item.standing for item in found if item.summary}
        assert standings == {early.summary.number: "older", late.summary.number: "new"}


def test_another_familys_key_under_a_known_code_is_refused_and_explained(
    place: Place, tmp_path: Path
) -> None:
    take_all(place.book, source(place.homes[0].hand_in(FRIDAY)))
    neighbour = Home.settle(tmp_path / "neighbour", "gull")
    sheet = family.family_file(place.book, place.codes[0], WEEK)
    neighbour.join(family_file.to_text(sheet))
    neighbour.practise()
    made = neighbour.hand_in(FRIDAY + timedelta(days=1))
    (item,) = stand(place.book, source(made))
    assert item.standing == "refused" and item.note is not None
    assert fingerprint(made.family_key) in item.note.why
    assert f"forget-key {place.codes[0]}" in item.note.mend
    assert take_all(place.book, source(made)).new == 0
    register.forget_key(place.book, place.codes[0])
    (asked,) = stand(place.book, source(made))
    assert asked.first_key and asked.standing == "changed"
    assert take_all(place.book, source(made)).keys == 1


def test_two_homes_under_one_new_code_are_looked_at_and_only_one_key_is_kept(
    place: Place, tmp_path: Path
) -> None:
    neighbour = Home.settle(tmp_path / "neighbour", "gull")
    neighbour.join(family_file.to_text(family.family_file(place.book, place.codes[0], WEEK)))
    monday = MONDAY - timedelta(days=7)
    neighbour.practise(monday)
    files = [place.homes[0].hand_in(FRIDAY), neighbour.hand_in(FRIDAY, Week(2026, 47))]
    found = importing.preview(place.book, map(source, files), SATURDAY)
    assert [item.standing for item in found.items] == ["suspicious", "suspicious"]
    assert all(item.note and "two homes" in item.note.why for item in found.items)
    taken = importing.commit(place.book, found, SATURDAY, found.asks)
    assert (taken.new, taken.keys, len(taken.left)) == (1, 1, 1)
    assert importing.commit(place.book, found, SATURDAY, (1,)).left


def test_a_pupil_that_the_register_lacks_is_unknown(place: Place) -> None:
    made = place.homes[0].hand_in(FRIDAY)
    with place.book.change() as db:
        db.execute("DELETE FROM pupil WHERE code = ?", (place.codes[0],))
    (item,) = stand(place.book, source(made))
    assert item.standing == "unknown" and item.note is not None
    assert place.codes[0] in item.note.what


def forged(place: Place, **changes: object) -> Source:
    """A summary that the home's own key signs and its program would not have made."""
    made = place.homes[0].hand_in(FRIDAY)
    summary = replace(made.summary, **changes)  # type: ignore[arg-type]
    data = sealed.seal(summary, place.book.public_key, SigningKey.generate())
    return Source(sealed.file_name(summary), data)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"week": Week(2026, 52)}, "of the future"),
        ({"made_at": SATURDAY + timedelta(days=3)}, "of the future"),
        ({"made_at": MONDAY - timedelta(days=3)}, "before its week began"),
    ],
)
def test_an_odd_date_asks_for_a_look(place: Place, changes: dict[str, object], why: str) -> None:
    (item,) = stand(place.book, forged(place, **changes))
    assert item.standing == "suspicious" and item.note is not None and why in item.note.why


def test_a_file_renamed_as_anothers_asks_for_a_look_and_keeps_its_own_code(place: Place) -> None:
    made = place.homes[0].hand_in(FRIDAY)
    (item,) = stand(place.book, source(made, f"{place.codes[1]}-2026-W48.sealed"))
    assert item.standing == "suspicious" and item.note is not None
    assert "name says something else" in item.note.why and place.codes[0] in item.note.why
    (plain,) = stand(place.book, source(made, "Scan (3).bin"))
    assert plain.standing == "new"


def test_each_bad_file_has_its_own_message_and_the_rest_is_taken(place: Place) -> None:
    good = place.homes[0].hand_in(FRIDAY)
    signer = SigningKey.generate()
    other = replace(good.summary, class_code=place.codes[1])
    bad = {
        "tampered": good.data[:-1] + bytes([good.data[-1] ^ 1]),
        "truncated": good.data[:900],
        "oversize": good.data + b"\0" * FILE_MAX,
        "wrong-version": good.data[:16] + b"\x09" + good.data[17:],
        "wrong-key": sealed.seal(good.summary, bytes(PrivateKey.generate().public_key), signer),
        "renamed": b"\x89PNG\r\n\x1a\n" + bytes(100),
        "empty": b"",
        "other-class": sealed.seal(other, place.book.public_key, signer),
    }
    files = [Source(f"{name}.sealed", data) for name, data in bad.items()]
    found = importing.preview(place.book, [*files, source(good)], SATURDAY)
    notes = [item.note for item in found.items[:-1]]
    assert {item.standing for item in found.items[:-1]} == {"refused"}
    assert len({note.why for note in notes if note}) == len(bad)
    for note, name in zip(notes, bad, strict=True):
        assert note is not None and f"{name}.sealed" in note.what and note.mend
    taken = importing.commit(place.book, found, SATURDAY, found.asks)
    assert taken.new == 1 and len(evidence.summaries(place.book)) == 1


def test_plain_csv_is_taken_only_where_the_class_says_so(place: Place) -> None:
    csv = place.homes[0].hand_in(FRIDAY, csv=True)
    (refused,) = stand(place.book, source(csv))
    assert refused.standing == "refused" and refused.note is not None
    assert "sealed summaries only" in refused.note.what
    teaching.set_csv_taken(place.book, True)
    (item,) = stand(place.book, source(csv))
    assert (item.standing, item.source, item.first_key) == ("new", "csv", False)
    take_all(place.book, source(csv))
    (kept,) = evidence.summaries(place.book)
    assert kept.source == "csv" and kept.family_key is None
    assert [row.readings for row in kept.summary.rows] == [
        row.readings for row in csv.summary.rows
    ]  # fmt: skip


def test_plain_csv_of_a_home_that_seals_asks_for_a_look(place: Place) -> None:
    teaching.set_csv_taken(place.book, True)
    take_all(place.book, source(place.homes[0].hand_in(FRIDAY)))
    csv = place.homes[0].hand_in(FRIDAY + timedelta(hours=3), csv=True)
    (item,) = stand(place.book, source(csv))
    assert item.standing == "suspicious" and item.note and "anybody could have" in item.note.why


def test_only_what_the_preview_offers_can_be_taken(place: Place) -> None:
    found = importing.preview(place.book, [Source("x", b"x")], SATURDAY)
    with pytest.raises(ValueError, match="only what is new"):
        importing.commit(place.book, found, SATURDAY, (0,))


def test_what_the_book_learned_since_the_preview_is_weighed_again(place: Place) -> None:
    made = place.homes[0].hand_in(FRIDAY)
    found = importing.preview(place.book, [source(made)], SATURDAY)
    take_all(place.book, source(made))
    taken = importing.commit(place.book, found, SATURDAY, found.asks)
    assert (taken.new, taken.changed) == (0, 0) and taken.left[0].standing == "same"


def test_import_needs_the_books_key(place: Place) -> None:
    with Book.open(place.book.path) as shut, pytest.raises(BookLocked):
        importing.preview(shut, [], SATURDAY)


def test_progress_is_told_of_every_file(place: Place) -> None:
    told: list[tuple[int, int]] = []
    files = [Source("x", b"x")] * 3
    importing.preview(place.book, files, SATURDAY, lambda done, total: told.append((done, total)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_files_and_folders_are_read_no_further_than_they_are_looked_at(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "big").write_bytes(bytes(FILE_MAX * 2))
    (tmp_path / "in" / "deeper").mkdir()
    found = list(from_paths([tmp_path / "in", tmp_path / "missing"]))
    assert [(each.name, len(each.data)) for each in found] == [
        ("big", FILE_MAX + 1),
        ("missing", 0),
    ]


@given(data=st.data())
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_at_all_are_given_a_standing(book: Book, data: st.DataObject) -> None:
    start = data.draw(st.sampled_from((b"", sealed.MAGIC, b"format_version,", b"\xef\xbb\xbf")))
    files = [Source(data.draw(st.text(max_size=120)), start + data.draw(st.binary(max_size=300)))]
    (item,) = stand(book, *files)
    assert item.standing == "refused" and item.note is not None and len(item.note.what) < 300
    assert item.note.what.isprintable()


# -- killed in the middle ----------------------------------------------------------------------

IMPORT = """
import sys, time
from datetime import datetime
from pathlib import Path
from companion.school import importing
from companion.school.arrivals import from_paths
from companion.school.book import Book, unlock
from companion.school.lock import Passphrase
path, files, passphrase, now = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], sys.argv[4]
now = datetime.fromisoformat(now)
with Book.open(path, unlock(path, Passphrase(passphrase))) as book:
    found = importing.preview(book, from_paths([files]), now)
    def told(done, total):
        print(done, flush=True)
        time.sleep(0.01)
    importing.commit(book, found, now, (*found.ready, *found.asks), told)
    print("done", flush=True)
"""


@pytest.fixture
def many(place: Place, tmp_path: Path) -> Iterator[Path]:
    """Twelve weeks of one home, sealed."""
    folder = tmp_path / "summaries"
    folder.mkdir()
    base = place.homes[0].hand_in(FRIDAY).summary
    signer = SigningKey.generate()
    for number in range(12):
        week = Week.of((MONDAY - timedelta(weeks=number)).date())
        made_at = base.made_at - timedelta(weeks=number)
        summary = replace(base, week=week, made_at=made_at, number=20 - number)
        data = sealed.seal(summary, place.book.public_key, signer)
        (folder / sealed.file_name(summary)).write_bytes(data)
    yield folder


@pytest.mark.parametrize("after", [1, 6, 11])
def test_killing_the_import_half_way_leaves_nothing_half_imported(
    place: Place, many: Path, after: int
) -> None:
    """A real process, killed by signal 9 once it has written some of twelve summaries."""
    command = [
        sys.executable, "-c", IMPORT, str(place.book.path), str(many), PASSPHRASE,
        SATURDAY.isoformat(),
    ]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        for line in running.stdout:
            if line.strip() == str(after):
                os.kill(running.pid, signal.SIGKILL)
                break
        running.stdout.read()
    assert running.returncode == -signal.SIGKILL
    with Book.open(place.book.path) as book:
        assert evidence.summaries(book) == ()
        assert register.one(book, place.codes[0]).family_key is None
    found = importing.preview(place.book, from_paths([many]), SATURDAY)
    taken = importing.commit(place.book, found, SATURDAY, (*found.ready, *found.asks))
    assert taken.new == 12 and len(evidence.summaries(place.book)) == 12
    with sqlite3.connect(place.book.path) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()
