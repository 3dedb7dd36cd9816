"""The decoding graph of one turn: every candidate as an exact alternative.

Each candidate is a chain of its symbols, blanks allowed between, as connectionist temporal
classification reads them (Graves et al. 2006, section 4.1), so that the cost of its best path is
exactly that of its best alignment. Chains share their beginnings. Beside them stand 'nobody spoke'
(blanks only), 'something else' (the best symbol of each frame), and an earlier attempt before a
pause.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from speech.kaldi import EPSILON, Arc, enter, fst_bytes, stay
from speech.phones import BLANK_INDEX, INDEX, PAUSE, SYMBOLS, encode

ANYTHING = len(SYMBOLS)
"""Number of the score that holds the largest of the others."""
PDFS = len(SYMBOLS) + 1
ELSE_WORD, QUIET_WORD, EARLIER_WORD = "else", "quiet", "earlier"
"""What the graph gives out for something else, for nobody, and before a last attempt."""
ELSE_NATS = 4.0
"""Cost of taking something for anything at all: without one, the best symbol of each frame would
always win. It steers only what is shown while listening and is taken off again in the scores."""
ELSE_FRAME_NATS = 0.15
"""The same for each frame; what stands before a last attempt keeps it, lest it swallow the word."""
MORE_NATS = 0.02
"""Cost of going on past the end of another candidate, so that of 'P AY' ended and 'P AY' begun the
ended one is shown. It is taken off again in the scores too."""
_ELSE, _QUIET, _EARLIER, _FIRST = 1, 2, 3, 4


@dataclass(frozen=True)
class Graph:
    """What vosk loads for one turn: ``HCLG.fst`` and ``words.txt``.

    Attributes
    ----------
    fst : bytes
    words : str
        Candidate number n gives out the word ``cN``.
    costs : tuple of float
        What the graph adds to each candidate, in nats.
    """

    fst: bytes
    words: str
    costs: tuple[float, ...]


class _Builder:
    """States and arcs as they are made."""

    def __init__(self) -> None:
        self.arcs: list[list[Arc]] = []
        self.final: dict[int, float] = {}

    def state(self, score: int | None = None, cost: float = 0.0) -> int:
        """A new state; with ``score``, one that a path may stay in."""
        self.arcs.append([])
        number = len(self.arcs) - 1
        if score is not None:
            self.arcs[number].append(Arc(stay(score), EPSILON, cost, number))
        return number

    def arc(self, start: int, score: int, to: int, given: int = EPSILON, cost: float = 0.0) -> None:
        """An arc that takes one frame of ``score``."""
        self.arcs[start].append(Arc(enter(score), given, cost, to))


def graph(candidates: Sequence[str]) -> Graph:
    """Build the graph of a turn.

    Parameters
    ----------
    candidates : sequence of str
        Different ARPAbet strings such as ``"P AY N"``; ``|`` stands for a pause.

    Raises
    ------
    ValueError
        If there is none, if one is empty or comes twice, or holds an unknown symbol.
    """
    labels = [encode(candidate) for candidate in candidates]
    if not labels or not all(labels):
        raise ValueError("A turn needs candidates, and none of them empty.")
    if len(set(labels)) < len(labels):
        raise ValueError("A candidate was given twice.")
    made = _Builder()
    start = made.state()
    anything = made.state(ANYTHING, ELSE_FRAME_NATS)
    made.arc(start, ANYTHING, anything, _ELSE, ELSE_NATS + ELSE_FRAME_NATS)
    quiet = made.state(BLANK_INDEX)
    made.arc(start, BLANK_INDEX, quiet, _QUIET)
    before = made.state(ANYTHING, ELSE_FRAME_NATS)
    made.arc(start, ANYTHING, before, _EARLIER, ELSE_NATS + ELSE_FRAME_NATS)
    pause = made.state(INDEX[PAUSE])
    made.arc(before, INDEX[PAUSE], pause)
    made.final = {anything: 0.0, quiet: 0.0}
    _chains(made, labels, [start, pause])
    words = ["<eps>", ELSE_WORD, QUIET_WORD, EARLIER_WORD]
    words += [f"c{number}" for number in range(len(labels))]
    table = "".join(f"{word} {number}\n" for number, word in enumerate(words))
    every = set(labels)
    passed = [sum(label[:length] in every for length in range(1, len(label))) for label in labels]
    costs = tuple(MORE_NATS * count for count in passed)
    return Graph(fst_bytes(made.arcs, made.final), table, costs)


def _chains(made: _Builder, labels: Sequence[Sequence[int]], starts: Sequence[int]) -> None:
    """Add every candidate as a chain from each of ``starts``, beginnings shared."""
    blank = made.state(BLANK_INDEX)
    for start in starts:
        made.arc(start, BLANK_INDEX, blank)
    # By the symbols said so far: the states from which the next symbol may come, with the symbol
    # that each of them holds.
    ended = {tuple(label) for label in labels}
    reached: dict[tuple[int, ...], list[tuple[int, int]]] = {(): [(blank, BLANK_INDEX)]}
    reached[()] += [(start, BLANK_INDEX) for start in starts]
    for number, label in enumerate(labels):
        for length in range(1, len(label)):
            said = tuple(label[:length])
            if said not in reached:
                cost = MORE_NATS if said in ended else 0.0
                reached[said] = _symbol(made, reached[said[:-1]], said[-1], EPSILON, cost)
        ends = _symbol(made, reached[tuple(label[:-1])], label[-1], _FIRST + number, 0.0)
        made.final |= {state: 0.0 for state, _ in ends}


def _symbol(
    made: _Builder, places: Sequence[tuple[int, int]], symbol: int, given: int, cost: float
) -> list[tuple[int, int]]:
    """One more symbol and the blank after it, reached from ``places``; its own places."""
    held, after = made.state(symbol), made.state(BLANK_INDEX)
    for state, holds in places:
        if holds != symbol:
            made.arc(state, symbol, held, given, cost)
    made.arc(held, BLANK_INDEX, after)
    return [(held, symbol), (after, BLANK_INDEX)]
