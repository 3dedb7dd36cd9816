"""Made-up things of every allowed shape, for hypothesis: summaries and family files."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

from hypothesis import strategies as st

from companion.phonics.accents import ACCENTS
from companion.phonics.gpc import Order, table
from companion.phonics.wordlists import WordList
from companion.practice.verdicts import VERDICTS
from companion.record import codes
from companion.record.weeks import Week
from companion.report.family_lines import FamilyFile
from companion.report.summary import SLIP_KINDS, Summary, SummaryRow

GPCS = tuple(sorted(str(gpc) for gpc in table().by_gpc))
counts = st.integers(0, 40)
pupil_codes = st.builds(lambda seed: _code(seed), st.integers(0, 21**5 - 1))


def _code(seed: int) -> str:
    """A valid code near a number, so that hypothesis can shrink it."""
    while True:
        text, rest = "", seed
        for _ in range(codes.LENGTH - 1):
            rest, digit = divmod(rest, len(codes.ALPHABET))
            text += codes.ALPHABET[digit]
        if (last := codes.check_character(text)) in codes.ALPHABET:
            return text + last
        seed += 1


@st.composite
def rows(draw: st.DrawFn, gpc: str, days: int) -> SummaryRow:
    slips = draw(st.dictionaries(st.sampled_from(SLIP_KINDS), st.integers(1, 9), max_size=3))
    right = draw(counts) if days else 0
    slips = slips if days else {}
    readings = right + sum(slips.values())
    most = min(days, readings)
    words = draw(st.integers(min(1, readings), readings))
    return SummaryRow(
        gpc=gpc,
        as_written=right,
        slips=dict(sorted(slips.items())),
        could_not_tell=draw(counts),
        sounded_out=draw(counts),
        other=draw(counts),
        days=draw(st.integers(min(1, readings), most)),
        words=words,
        words_lately=words + draw(st.integers(0, 20)),
        overruled=draw(counts),
    )


@st.composite
def summaries(draw: st.DrawFn, rows_max: int = 12) -> Summary:
    week = Week.of((datetime(2025, 9, 1) + timedelta(weeks=draw(st.integers(0, 80)))).date())
    days = draw(st.integers(0, 7))
    gpcs = sorted(draw(st.sets(st.sampled_from(GPCS), max_size=rows_max)))
    zone = draw(st.sampled_from((UTC, timezone(timedelta(hours=1)), timezone(-timedelta(hours=3)))))
    monday = datetime(week.monday.year, week.monday.month, week.monday.day, tzinfo=zone)
    return Summary(
        class_code=draw(pupil_codes),
        pupil=draw(pupil_codes),
        week=week,
        made_at=monday + timedelta(seconds=draw(st.integers(0, 14 * 86_400))),
        number=draw(st.integers(0, 2**31 - 1)),
        accents=tuple(sorted(draw(st.sets(st.sampled_from(ACCENTS), max_size=3)))),
        days=days,
        verdicts=draw(st.dictionaries(st.sampled_from(VERDICTS), st.integers(1, 99))),
        left_out=draw(counts),
        overruled=draw(counts),
        rows=tuple(draw(rows(gpc, days)) for gpc in gpcs),
    )


words = st.from_regex(r"[a-z]{1,9}", fullmatch=True)
lines = st.text(
    st.characters(exclude_categories=("C", "Z"), max_codepoint=0x24FF), min_size=1, max_size=60
).map(lambda text: f"{text} {text[:5]}")
gpcs = st.sampled_from(tuple(table().by_gpc))


@st.composite
def word_lists(draw: st.DrawFn, week: Week) -> WordList:
    found = draw(st.lists(words, min_size=1, max_size=20, unique=True))
    cut = draw(st.integers(0, len(found)))
    pairs = draw(st.lists(st.tuples(st.sampled_from(found), st.sampled_from(found)), max_size=3))
    return WordList(
        name=f"school {week}",
        title=draw(lines),
        words=tuple(found),
        target=draw(st.none() | gpcs),
        caption=draw(st.none() | lines),
        pseudo=tuple(found[cut:]),
        pairs=tuple(pairs),
    )


@st.composite
def family_files(draw: st.DrawFn) -> FamilyFile:
    week = Week.of((datetime(2025, 9, 1) + timedelta(weeks=draw(st.integers(0, 80)))).date())
    own = draw(st.lists(gpcs, min_size=1, max_size=40, unique=True))
    order = draw(
        st.sampled_from([table().order(soft_c=c, soft_g=g) for c in (0, 1) for g in (0, 1)])
        | st.just(Order(tuple(own)))
    )
    return FamilyFile(
        class_code=draw(pupil_codes),
        pupil=draw(pupil_codes),
        public_key=draw(st.binary(min_size=32, max_size=32)),
        week=week,
        accent=draw(st.none() | st.sampled_from(ACCENTS)),
        order=order,
        taught=draw(st.frozensets(st.sampled_from(order.gpcs))),
        words=draw(st.none() | word_lists(week)),
        phrases=draw(st.dictionaries(gpcs, lines, max_size=4)),
        pictures=draw(st.dictionaries(gpcs, lines, max_size=4)),
        exceptions=draw(st.dictionaries(words, lines, max_size=4)),
    )
