"""The live listener's network: Kaldi's filterbank in torch, and a time-delay network over it.

Every part of it can be written as a Kaldi nnet3 model (``speech.training.live_export``): affine
layers over neighbouring frames, rectifiers, sums, a log-softmax.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional as F

from speech.phones import SYMBOLS

WINDOW, HOP, FFT = 400, 160, 512
"""Samples in a window (25 ms), from one frame to the next (10 ms), and in a Fourier transform."""
N_MELS = 40
LOW_HZ, HIGH_HZ = 20.0, 7600.0
SUBSAMPLING = 3
"""Vosk scores every third frame: one output each 30 ms."""
FLOOR = 6.0
"""Log energies below this, about that of noise of one step of a 16-bit file, are all the same to
the network, so that digital silence is no stranger than a quiet room."""
CENTRE, SPREAD = 13.0, 4.0
"""Middle and spread of log energies, to bring them near 0."""
WIDTH, NARROW, FRONT = 512, 128, 192
SHIFTS: tuple[int, ...] = (1, 1, 1, 0, 1, 1, 1, 0, 1, 1)
"""By block, how many frames of 30 ms it looks to either side."""


def mel(hertz: NDArray[np.float64]) -> NDArray[np.float64]:
    """The mel scale of HTK and Kaldi (feat/mel-computations.h)."""
    return np.asarray(1127.0 * np.log1p(hertz / 700.0))


@functools.cache
def mel_filters(warp: float = 1.0) -> Tensor:
    """Kaldi's triangular filters, shape (40, 257); formants are heard at 1 / ``warp`` of them."""
    low, high = mel(np.array([LOW_HZ, HIGH_HZ]))
    hertz = 700.0 * np.expm1(np.linspace(low, high, N_MELS + 2) / 1127.0)
    edges = mel(np.minimum(hertz * warp, 8000.0))
    edges += np.arange(len(edges)) * 1e-6  # those the warp pushed to the top stay in order
    place = mel(np.arange(FFT // 2 + 1) * 16000.0 / FFT)
    rising = (place[None] - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    falling = (edges[2:, None] - place[None]) / (edges[2:] - edges[1:-1])[:, None]
    filters = np.maximum(0.0, np.minimum(rising, falling))
    filters[:, -1] = 0.0  # Kaldi leaves the highest bin out
    return torch.from_numpy(filters.astype(np.float32))


@functools.cache
def povey_window() -> Tensor:
    """Hann's window to the power of 0.85, shape (400,) (Kaldi's feat/feature-window.cc)."""
    hann = 0.5 - 0.5 * torch.cos(2 * torch.pi * torch.arange(WINDOW) / (WINDOW - 1))
    return hann**0.85


def power_spectrum(sound: Tensor) -> Tensor:
    """Power of each whole window, as Kaldi computes it before its filters.

    Parameters
    ----------
    sound : Tensor, shape (batch, samples)
        In the range of 16-bit samples.

    Returns
    -------
    Tensor, shape (batch, 1 + (samples - 400) // 160, 257)
    """
    frames = sound.unfold(1, WINDOW, HOP)
    frames = frames - frames.mean(2, keepdim=True)
    before = torch.cat([frames[..., :1], frames[..., :-1]], dim=2)
    frames = (frames - 0.97 * before) * povey_window().to(sound.device)
    spectrum = torch.fft.rfft(frames, n=FFT)
    return spectrum.real.square() + spectrum.imag.square()


def log_energies(power: Tensor, filters: Tensor) -> Tensor:
    """Log mel energies (batch, 40, frames) of ``power_spectrum``; filters (40, 257), or a batch."""
    energies = filters @ power.transpose(1, 2)
    return energies.clamp_min(torch.finfo(torch.float32).eps).log()


def features(samples: NDArray[np.float32]) -> Tensor:
    """Log mel energies of one clip, shape (40, frames), from samples in -1..1.

    The same as kaldi-native-fbank gives for the 16-bit samples: 40 filters, 20-7600 Hz, Povey
    window, no dither, whole windows only.
    """
    whole = np.clip(np.round(samples * 32768.0), -32768, 32767).astype(np.float32)
    return log_energies(power_spectrum(torch.from_numpy(whole)[None]), mel_filters())[0]


class Block(nn.Module):
    """A residual layer through a bottleneck: ``relu(x + norm(widen(narrow(x))))``.

    ``narrow`` sees the frame and the one ``shift`` before, ``widen`` that and the one after, so
    the block sees ``shift`` to either side (Povey et al. 2018, *Semi-Orthogonal Low-Rank Matrix
    Factorization for Deep Neural Networks*, without the constraint).
    """

    def __init__(self, shift: int, width: int, narrow: int, dropout: float) -> None:
        super().__init__()
        self.shift = shift
        taps = 2 if shift else 1
        self.narrow = nn.Conv1d(width, narrow, taps, dilation=max(shift, 1), bias=False)
        self.widen = nn.Conv1d(narrow, width, taps, dilation=max(shift, 1), bias=False)
        self.norm = nn.BatchNorm1d(width)
        self.dropout = dropout

    def forward(self, x: Tensor) -> Tensor:
        """(batch, width, frames) to (batch, width, frames - 2 * shift)."""
        seen = F.dropout(self.narrow(x), self.dropout, self.training)
        middle = x[..., self.shift : x.shape[2] - self.shift]
        return F.relu(middle + self.norm(self.widen(seen)))


class LiveNetwork(nn.Module):
    """Log mel energies of 10 ms frames to symbol log-probabilities each 30 ms.

    Parameters
    ----------
    shifts : sequence of int
        As ``SHIFTS``.
    width, narrow : int
        Values between blocks, and inside each.
    dropout : float
    """

    def __init__(
        self,
        shifts: Sequence[int] = SHIFTS,
        width: int = WIDTH,
        narrow: int = NARROW,
        dropout: float = 0.1,
    ) -> None:
        super().__init__()
        self.first = nn.Conv1d(N_MELS, FRONT, 5, bias=False)
        self.first_norm = nn.BatchNorm1d(FRONT)
        self.second = nn.Conv1d(FRONT, FRONT, 3, bias=False)
        self.second_norm = nn.BatchNorm1d(FRONT)
        self.third = nn.Conv1d(FRONT, width, 3, stride=SUBSAMPLING, bias=False)
        self.third_norm = nn.BatchNorm1d(width)
        self.blocks = nn.ModuleList(Block(shift, width, narrow, dropout) for shift in shifts)
        self.head = nn.Conv1d(width, len(SYMBOLS), 1)
        self.context = 4 + SUBSAMPLING * sum(shifts)
        """Frames of 10 ms seen to either side."""

    def residuals(self) -> Iterator[Block]:
        """The blocks in order."""
        for block in self.blocks:
            assert isinstance(block, Block)
            yield block

    def forward(self, energies: Tensor) -> Tensor:
        """``energies`` (batch, 40, frames) to (batch, ceil(frames / 3), 41) log-probabilities.

        Beyond its ends a clip is taken to go on as its first and last frames are, as Kaldi does.
        """
        x = (energies.clamp_min(FLOOR) - CENTRE) / SPREAD
        # The last output stands at the last multiple of 3; the frames after it lie in its view.
        spare = (energies.shape[2] - 1) % SUBSAMPLING
        after = self.context - spare
        x = F.pad(x, (self.context, max(after, 0)), mode="replicate")
        x = F.relu(self.first_norm(self.first(x)))
        x = F.relu(self.second_norm(self.second(x)))
        x = F.relu(self.third_norm(self.third(x)))
        for block in self.blocks:
            x = block(x)
        return F.log_softmax(self.head(x).float().transpose(1, 2), -1)


@torch.no_grad()
def scores(network: nn.Module, samples: NDArray[np.float32]) -> Tensor:
    """Symbol log-probabilities (frames, 41) of one clip with 0.1 s of silence around it."""
    device = next(network.parameters()).device
    out: Tensor = network(features(np.pad(samples, 1600))[None].to(device))[0].cpu()
    return out
