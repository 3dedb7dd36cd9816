"""Slip kinds and verdicts in words that a parent understands."""

from __future__ import annotations

from companion.phonics.gpc import Gpc, table

SLIP_WORDS: dict[str, str] = {
    "short_for_split": "short vowel read, as if the e were not there (pin for pine)",
    "e_sounded": "the e at the end was said (pine-ee)",
    "split_for_short": "long vowel read where it is short (pine for pin)",
    "one_letter_of_digraph": "one letter of the pair read by itself (ran for rain)",
    "hard_for_soft_c": "c read as in cat where it is as in city",
    "soft_for_hard_c": "c read as in city where it is as in cat",
    "letter_reversal": "a look-alike letter read (b for d)",
    "sound_added": "a sound added",
    "sound_missed": "a sound left out",
    "order_changed": "sounds in another order",
    "other_gpc_value": "another sound of the same letters (ow as in cow, snow)",
}
"""Kind of slip to a line for the sheet."""

VERDICT_WORDS: dict[str, str] = {
    "as_written": "as written",
    "slip": "with a slip",
    "other_word": "something else read",
    "sounded_out": "sounded out only",
    "silent": "nothing heard",
    "unsure": "could not tell",
}
"""Verdict to how it is counted aloud, in the order shown."""

STATE_WORDS: dict[str, str] = {
    "practise": "Worth practising",
    "not enough listened": "Not enough listened yet",
    "secure": "Secure",
    "not yet taught": "Not yet taught",
}
"""State to its heading, in the order shown; the states are `companion.report.week.STATES`."""

CHANGE_WORDS: dict[str, str] = {
    "more": "more often as written than in the weeks before",
    "less": "less often as written than in the weeks before; words differ from week to week",
    "no clear change": "no clear change from the weeks before",
    "too few": "too few readings to compare yet",
}
"""How a GPC's week stands beside the child's own weeks before."""


def gpc_words(gpc: Gpc) -> str:
    """A GPC for a reader who knows no phonetic signs: ``i-e as in kite``."""
    row = table().by_gpc.get(gpc)
    return f"{gpc.grapheme} as in {row.exemplar}" if row and row.exemplar else gpc.grapheme
