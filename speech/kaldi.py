"""Kaldi's and OpenFst's binary files, written without either: graphs, transition models, networks.

Formats as the sources of Kaldi 5.5 and OpenFst 1.8 write them (the file is named at each).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

EPSILON = 0
"""The label of nothing, in and out."""
_NONE = float("inf")
_FST_HEADER = struct.Struct("<i i6s i8s i i Q q q q")
_MUTABLE_EXPANDED = 3  # properties of every vector file; all others are left unknown


@dataclass(frozen=True)
class Arc:
    """One step of a graph: what it takes in and gives out, its cost in nats, where it leads."""

    taken: int
    given: int
    cost: float
    to: int


def fst_bytes(arcs: Sequence[Sequence[Arc]], final: Mapping[int, float], start: int = 0) -> bytes:
    """An OpenFst ``vector`` file with ``standard`` arcs (fst/vector-fst.h, fst/fst.cc).

    Parameters
    ----------
    arcs : sequence of sequences of Arc
        Of each state.
    final : mapping of int to float
        Cost of ending in a state, for those where a path may end.
    start : int
        The first state.

    Raises
    ------
    ValueError
        If an arc leads nowhere.
    """
    count = len(arcs)
    if any(not 0 <= arc.to < count for leaving in arcs for arc in leaving):
        raise ValueError(f"an arc leads outside the {count} states of its graph")
    parts = [
        _FST_HEADER.pack(
            2125659606, 6, b"vector", 8, b"standard", 2, 0, _MUTABLE_EXPANDED, start, count,
            sum(map(len, arcs)),
        )
    ]  # fmt: skip
    for state, leaving in enumerate(arcs):
        parts.append(struct.pack("<fq", final.get(state, _NONE), len(leaving)))
        parts += [struct.pack("<iifi", arc.taken, arc.given, arc.cost, arc.to) for arc in leaving]
    return b"".join(parts)


def token(name: str) -> bytes:
    """A marker between values (base/io-funcs.cc)."""
    return name.encode() + b" "


def integer(value: int) -> bytes:
    """One int32, its size before it."""
    return struct.pack("<bi", 4, value)


def real(value: float) -> bytes:
    """One float, its size before it."""
    return struct.pack("<bf", 4, value)


def integers(values: Sequence[int]) -> bytes:
    """A vector of int32."""
    return struct.pack(f"<bi{len(values)}i", 4, len(values), *values)


def vector(values: NDArray[np.floating]) -> bytes:
    """A vector of floats (matrix/kaldi-vector.cc)."""
    return token("FV") + integer(len(values)) + values.astype("<f4").tobytes()


def matrix(values: NDArray[np.floating]) -> bytes:
    """A matrix of floats, shape (rows, columns) (matrix/kaldi-matrix.cc)."""
    rows, columns = values.shape
    return token("FM") + integer(rows) + integer(columns) + values.astype("<f4").tobytes()


@dataclass(frozen=True)
class Packed:
    """A matrix of one byte a value, as Kaldi's ``CompressedMatrix`` keeps it.

    Each column has four values of its own, at codes 0, 64, 192 and 255; between them codes are
    spread evenly (matrix/compressed-matrix.cc, ``kOneByteWithColHeaders``).

    Attributes
    ----------
    low, range : float
        Of the whole matrix; the columns' four values are 16-bit shares of it.
    corners : ndarray, shape (columns, 4), uint16
    codes : ndarray, shape (rows, columns), uint8
    """

    low: float
    range: float
    corners: NDArray[np.uint16]
    codes: NDArray[np.uint8]

    @classmethod
    def of(cls, values: NDArray[np.floating]) -> Packed:
        """Pack a matrix, losing about a 400th of each column's range."""
        exact = values.astype(np.float64)
        low, high = float(exact.min()), float(exact.max())
        spread = max(high - low, 1e-9)
        ends = np.stack([exact.min(axis=0), exact.max(axis=0)])
        even = ends[0] + (ends[1] - ends[0]) * np.array([0, 64, 192, 255])[:, None] / 255
        halves = np.quantile(exact, [0, 0.25, 0.75, 1], axis=0)
        best: Packed | None = None
        errors: NDArray[np.float64] = np.zeros(0)
        for share in (0.0, 0.5, 1.0):
            wanted = (1 - share) * even + share * halves
            corners = np.round((wanted.T - low) / spread * 65535)
            corners = np.maximum.accumulate(np.clip(corners, 0, 65532) + np.arange(4), axis=1)
            packed = cls(
                low, spread, corners.astype(np.uint16), _codes(exact, corners, low, spread)
            )
            error = np.square(packed.values() - exact).sum(axis=0)
            if best is None:
                best, errors = packed, error
                continue
            better = error < errors
            errors = np.where(better, error, errors)
            best = cls(
                low,
                spread,
                np.where(better[:, None], packed.corners, best.corners),
                np.where(better[None], packed.codes, best.codes),
            )
        assert best is not None
        return best

    def values(self) -> NDArray[np.float32]:
        """The matrix that Kaldi will read."""
        table = _table(self.corners.astype(np.float64), self.low, self.range)
        return np.take_along_axis(table, self.codes.astype(np.int64), axis=0).astype(np.float32)

    def written(self) -> bytes:
        """The bytes of the file."""
        rows, columns = self.codes.shape
        return (
            token("CM")
            + struct.pack("<ffii", self.low, self.range, rows, columns)
            + self.corners.astype("<u2").tobytes()
            + self.codes.T.tobytes()
        )


def _table(corners: NDArray[np.float64], low: float, spread: float) -> NDArray[np.float64]:
    """What each of the 256 codes stands for in each column, shape (256, columns)."""
    heights = low + spread * corners / 65535
    return np.stack([np.interp(np.arange(256), [0, 64, 192, 255], row) for row in heights], axis=1)


def _codes(
    exact: NDArray[np.float64], corners: NDArray[np.float64], low: float, spread: float
) -> NDArray[np.uint8]:
    table = _table(corners, low, spread)
    codes = [
        np.round(np.interp(exact[:, column], table[:, column], np.arange(256)))
        for column in range(exact.shape[1])
    ]
    return np.stack(codes, axis=1).astype(np.uint8)


def transition_model(pdfs: int) -> bytes:
    """Phones 1 to ``pdfs``, each of one state with a score of its own (hmm/transition-model.cc).

    Transition number 2p leads into phone p, 2p - 1 stays in it: see ``enter`` and ``stay``.
    """
    phones = list(range(1, pdfs + 1))
    # One topology: state 0 (pdf class 0) stays or leaves, state 1 is the end (no pdf).
    states = [
        integer(0) + integer(2) + integer(0) + real(0.5) + integer(1) + real(0.5),
        integer(-1) + integer(0),
    ]
    topology = (
        token("<Topology>")
        + integers(phones)
        + integers([-1, *([0] * pdfs)])
        + integer(1)
        + integer(len(states))
        + b"".join(states)
        + token("</Topology>")
    )
    triples = b"".join(integer(phone) + integer(0) + integer(phone - 1) for phone in phones)
    logs = np.log(np.full(2 * pdfs + 1, 0.5))
    logs[0] = 0.0
    return (
        token("<TransitionModel>")
        + topology
        + token("<Triples>")
        + integer(pdfs)
        + triples
        + token("</Triples>")
        + token("<LogProbs>")
        + vector(logs)
        + token("</LogProbs>")
        + token("</TransitionModel>")
    )


def enter(pdf: int) -> int:
    """The transition number that begins the score ``pdf`` (from 0)."""
    return 2 * (pdf + 1)


def stay(pdf: int) -> int:
    """The transition number that goes on with the score ``pdf`` (from 0)."""
    return 2 * (pdf + 1) - 1


def affine(weights: bytes, bias: NDArray[np.floating]) -> bytes:
    """A ``FixedAffineComponent``; ``weights`` written by ``matrix`` or ``Packed``."""
    return _component("FixedAffine", token("<LinearParams>") + weights,
                      token("<BiasParams>") + vector(bias))  # fmt: skip


def nonlinear(kind: str, dim: int) -> bytes:
    """A ``RectifiedLinear`` or ``LogSoftmax`` component, its training statistics empty."""
    empty = vector(np.zeros(0))
    return _component(
        kind, token("<Dim>") + integer(dim), token("<ValueAvg>") + empty,
        token("<DerivAvg>") + empty, token("<Count>") + struct.pack("<bd", 8, 0.0),
    )  # fmt: skip


def largest_of(dim: int) -> bytes:
    """A ``MaxpoolingComponent`` that keeps the largest of ``dim`` values."""
    sizes = {
        "InputXDim": dim, "InputYDim": 1, "InputZDim": 1, "PoolXSize": dim, "PoolYSize": 1,
        "PoolZSize": 1, "PoolXStep": dim, "PoolYStep": 1, "PoolZStep": 1,
    }  # fmt: skip
    return _component("Maxpooling", *(token(f"<{k}>") + integer(v) for k, v in sizes.items()))


def _component(kind: str, *parts: bytes) -> bytes:
    return b"".join([token(f"<{kind}Component>"), *parts, token(f"</{kind}Component>")])


def acoustic_model(pdfs: int, lines: Sequence[str], components: Mapping[str, bytes]) -> bytes:
    """A whole ``final.mdl``: transition model, network, no priors (nnet3/am-nnet-simple.cc).

    Parameters
    ----------
    pdfs : int
        Outputs of the network.
    lines : sequence of str
        Its nodes, as in nnet3 config files.
    components : mapping of str to bytes
        By name, as ``affine`` and its like write them.
    """
    parts = [b"\0B", transition_model(pdfs), token("<Nnet3>"), b"\n"]
    parts += [line.encode() + b"\n" for line in lines]
    parts += [b"\n", token("<NumComponents>"), integer(len(components))]
    parts += [token("<ComponentName>") + token(k) + v for k, v in components.items()]
    # Kaldi works the contexts out anew when it reads the network.
    parts += [token("</Nnet3>"), token("<LeftContext>"), integer(0), token("<RightContext>"),
              integer(0), token("<Priors>"), vector(np.zeros(0))]  # fmt: skip
    return b"".join(parts)
