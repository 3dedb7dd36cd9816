"""Train the live listener's network on a GPU.

    python -m speech.training.live_train PREPARED_FOLDER POOL.npz OUT --seconds 400 --seed 1

On the same pool and with the same rooms, noises and voices as ``speech.training.train``, through
Kaldi's filterbank instead. Writes ``OUT/live.pt`` (single precision, norms' statistics included)
and ``OUT/live.json`` (settings and held-out figures).
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import time
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from speech.training import live_network, measure
from speech.training.augment import WARPS, Augment
from speech.training.live_network import FFT, LiveNetwork, log_energies, mel_filters, power_spectrum
from speech.training.partition import partition
from speech.training.pools import Pool
from speech.training.train import LONG_BATCH, LONG_S, SHORT_BATCH, SHORT_S, Sampler

NOISE_SHARE = 0.06
"""Of the short clips, how many hold a room, a hum or knocks and no word."""
CLEAN_SHARE = 0.1
"""Of the clips, how many keep digital silence around them."""
STARTING = 3
"""Steps before the clock runs: the first of each shape are compiled."""
NORM_BATCHES = 300
"""Batches from which the norms' statistics are taken again for the mean weights."""


class LiveAugment(Augment):
    """The changes of ``Augment``, heard through Kaldi's filterbank."""

    def __init__(self, device: torch.device, seed: int) -> None:
        super().__init__(device, seed)
        self.kaldi = torch.stack([mel_filters(warp) for warp in WARPS]).to(device)

    def log_mel(self, x: Tensor, child: Tensor | None = None) -> Tensor:
        """Log energies (batch, 40, frames) with tone, band limits and tract length changed."""
        power = power_spectrum((x * 32768).round().clamp(-32768, 32767))
        batch, _, bins = power.shape
        knots = torch.randn(batch, 1, 8, generator=self.rng, device=self.device) * 4
        tone_db = F.interpolate(knots, size=bins, mode="linear", align_corners=True)[:, 0]
        power = power * 10 ** (tone_db / 10)[:, None]
        limited = self.uniform(batch, 0, 1) < 0.15
        top = torch.where(limited, self.uniform(batch, 3500, 7000), 8000.0)
        hertz = torch.arange(bins, device=self.device) * 16000 / FFT
        power = power * (hertz[None] <= top[:, None])[:, None].float().clamp_min(1e-5)
        choice = torch.randint(len(WARPS), (batch,), generator=self.rng, device=self.device)
        return log_energies(power, self.kaldi[choice])

    def mask(self, mel: Tensor) -> Tensor:
        """SpecAugment: one band of up to 8 mels, a span of up to 6 frames, at middle energy."""
        batch, mels, frames = mel.shape
        for size, widest, axis in ((mels, 8, 1), (frames, 6, 2)):
            place = torch.arange(size, device=self.device)[None]
            start = self.uniform(batch, 0, size)[:, None]
            hidden = (place >= start) & (place < start + self.uniform(batch, 0, widest)[:, None])
            mel = mel.masked_fill(hidden[:, :, None] if axis == 1 else hidden[:, None],
                                  live_network.CENTRE)  # fmt: skip
        return mel

    def nobody(self, batch: int, length: int) -> Tensor:
        """Rooms without a voice: coloured noise, on half of them a hum, on half knocks."""
        level = 10 ** (self.uniform(batch, -85, -22)[:, None] / 20)
        sound = self.noise(batch, length)
        time_s = torch.arange(length, device=self.device)[None] / 16000
        pitch = self.uniform(batch, 45, 400)[:, None]
        hum = torch.zeros_like(sound)
        for harmonic in range(1, 6):
            loud = self.uniform(batch, 0, 1)[:, None] / harmonic
            hum = hum + loud * torch.sin(2 * torch.pi * harmonic * pitch * time_s)
        hums = (self.uniform(batch, 0, 1) < 0.5)[:, None] * self.uniform(batch, 0, 3)[:, None]
        since = time_s - self.uniform(batch, 0, length / 16000)[:, None]
        decay = torch.exp(-since.clamp_min(0) * self.uniform(batch, 20, 300)[:, None])
        knock = (since >= 0) * decay * self.noise(batch, length)
        knocks = (self.uniform(batch, 0, 1) < 0.5)[:, None] * self.uniform(batch, 0, 30)[:, None]
        return (sound + hums * hum + knocks * knock) * level


class LiveSampler(Sampler):
    """Batches of log energies in place of Whisper's, some of them without a word."""

    augment: LiveAugment

    def __init__(self, pool: Pool, device: torch.device, seed: int, short_batch: int) -> None:
        super().__init__(pool, device, seed, short_batch)
        self.augment = LiveAugment(device, seed)

    def batch(self, which: str) -> tuple[Tensor, Tensor, Tensor]:
        """Two hearings of each clip, differing in room, noise, voice and what is masked.

        Returns
        -------
        energies : Tensor, shape (2, batch, 40, frames)
        labels : Tensor, shape (batch, widest)
        count : Tensor, shape (batch,)
            Symbols of each label, 0 where nobody speaks.
        """
        short = which == "short"
        long_batch = max(2, self.short_batch * LONG_BATCH // SHORT_BATCH)
        size, longest_s = (self.short_batch, SHORT_S) if short else (long_batch, LONG_S)
        sound, item = self._placed(self.chance[which], size, int(longest_s * 16000))
        sound = sound * 10 ** (self.augment.uniform(size, -24, 6)[:, None] / 20)
        twice = self.augment.room(sound.repeat(2, 1))
        clean = (self.augment.uniform(2 * size, 0, 1) < CLEAN_SHARE)[:, None]
        twice = torch.where(clean, twice, self.augment.add_noise(twice))
        empty = self.augment.uniform(size, 0, 1) < (NOISE_SHARE if short else 0.0)
        nobody = self.augment.nobody(2 * size, twice.shape[1]) if short else twice
        twice = torch.where(empty.repeat(2)[:, None], nobody, twice).clamp(-1, 1)
        energies = self.augment.mask(self.augment.log_mel(twice))
        count = torch.where(empty, 0, self.count[item])
        labels = self.labels[item][:, : max(int(count.max()), 1)].long()
        return energies.view(2, size, *energies.shape[1:]), labels, count

    def _placed(self, chance: Tensor, size: int, samples: int) -> tuple[Tensor, Tensor]:
        """Clips drawn, their tempo changed, each somewhere in silence; and their numbers."""
        device = self.wave.device
        draw = self.augment.uniform(size, 0, float(chance[-1]) * 0.99999)
        item = torch.searchsorted(chance, draw).clamp_max(len(chance) - 1)
        speed = self.augment.uniform(size, 0.8, 1.2)[:, None]
        length = self.length[item][:, None] / speed
        offset = self.augment.uniform(size, 0, 1)[:, None] * (samples - length).clamp_min(0)
        place = (torch.arange(samples, device=device)[None] - offset) * speed
        inside = (place >= 0) & (place < self.length[item][:, None] - 1)
        whole = place.clamp_min(0).floor()
        index = (self.start[item][:, None] + whole.long()).clamp_max(len(self.wave) - 2)
        part = place - whole
        sound = self.wave[index].float() * (1 - part) + self.wave[index + 1].float() * part
        return torch.where(inside, sound / 32768, 0.0), item


def losses(scores: Tensor, labels: Tensor, count: Tensor) -> tuple[Tensor, Tensor]:
    """Mean CTC loss a symbol, and how far the two hearings of a clip are apart.

    The second is the Kullback-Leibler divergence of their frames, both ways, each hearing a fixed
    target of the other (Yao et al. 2024, *CR-CTC: Consistency regularization on CTC*, section 3).

    Parameters
    ----------
    scores : Tensor, shape (2, batch, frames, symbols)
        Log-probabilities.
    """
    _, batch, frames, symbols = scores.shape
    both = scores.reshape(2 * batch, frames, symbols).transpose(0, 1)
    given = torch.full((2 * batch,), frames)
    loss = F.ctc_loss(
        both, labels.repeat(2, 1), given, count.repeat(2), reduction="none", zero_infinity=True
    )
    said = count.clamp_min(1).float()
    other = scores.detach().flip(0)
    apart = F.kl_div(scores, other, log_target=True, reduction="none").sum((2, 3)) / said
    return (loss / said.repeat(2)).mean(), apart.mean()


def train(
    sampler: LiveSampler, network: LiveNetwork, seconds: float, steps: int | None, rate: float,
    agreement: float,
) -> LiveNetwork:  # fmt: skip
    """Train for ``seconds``, or ``steps`` if that is sooner; the running mean of the weights."""
    device = sampler.wave.device
    mean = copy.deepcopy(network)
    optimiser = torch.optim.AdamW(network.parameters(), rate, (0.9, 0.98), weight_decay=0.02)
    compiled = torch.compile(network, dynamic=False) if device.type == "cuda" else network
    began = time.monotonic()
    step = 0
    while (done := (time.monotonic() - began) / seconds) < 1 and (steps is None or step < steps):
        warm = min(1.0, done * 25)
        for group in optimiser.param_groups:
            group["lr"] = rate * warm * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-7
        energies, labels, count = sampler.batch("long" if step % 3 == 2 else "short")
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            scores = compiled(energies.flatten(0, 1))
        loss, apart = losses(scores.view(2, -1, *scores.shape[1:]), labels, count)
        optimiser.zero_grad(set_to_none=True)
        (loss + agreement * warm * apart).backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        optimiser.step()
        keep = min(0.9995, 1 - 1 / (step / 10 + 1))
        with torch.no_grad():
            torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), 1 - keep)
        if step == STARTING:
            began = time.monotonic()
        if step % (1000 if device.type == "cuda" else 5) == 0:
            print(
                f"{done:5.1%} step {step} ctc {loss.item():.3f} apart {apart.item():.3f}",
                flush=True,
            )
        step += 1
    print(f"{step} steps in {time.monotonic() - began:.0f} s", flush=True)
    return mean


@torch.no_grad()
def settle_norms(network: LiveNetwork, sampler: LiveSampler, batches: int) -> None:
    """Take the norms' statistics anew, as plain means over ``batches``, for changed weights."""
    norms = [part for part in network.modules() if isinstance(part, nn.BatchNorm1d)]
    for norm in norms:
        norm.reset_running_stats()
        norm.momentum = None
    network.eval()  # no dropout; only the norms learn
    for norm in norms:
        norm.train()
    for step in range(batches):
        network(sampler.batch("long" if step % 3 == 2 else "short")[0].flatten(0, 1))
    network.eval()


def main() -> None:
    """Train one network and measure it on the held-out children."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("pool", type=Path, help="what speech.training.pools wrote")
    parser.add_argument("out", type=Path)
    parser.add_argument("--name", default="live")
    parser.add_argument("--seconds", type=float, default=400)
    parser.add_argument("--steps", type=int, help="stop after so many steps, if that is sooner")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rate", type=float, default=2e-3, help="peak learning rate")
    parser.add_argument("--dropout", type=float, default=0.1)
    parser.add_argument("--agreement", type=float, default=0.2, help="weight of consistency")
    parser.add_argument("--batch", type=int, default=SHORT_BATCH, help="short clips in a batch")
    parser.add_argument(
        "--shifts", type=int, nargs="+", default=list(live_network.SHIFTS),
        help="30 ms frames seen either side, by block",
    )  # fmt: skip
    parser.add_argument("--start", type=Path, help="weights of an earlier run to go on from")
    args = parser.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.set_float32_matmul_precision("high")
    torch.manual_seed(args.seed)
    rows = [json.loads(line) for line in (args.folder / "corpus.jsonl").read_text().splitlines()]
    sampler = LiveSampler(Pool.load(args.pool), device, args.seed, args.batch)
    network = LiveNetwork(args.shifts, dropout=args.dropout).to(device)
    if args.start:
        network.load_state_dict(torch.load(args.start, map_location="cpu"))
    network = train(sampler, network, args.seconds, args.steps, args.rate, args.agreement)
    settle_norms(network, sampler, NORM_BATCHES if device.type == "cuda" else 3)
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save(network.state_dict(), args.out / f"{args.name}.pt")
    figures = measure.held_out(network, args.folder, partition(rows), live_network.scores)
    (args.out / f"{args.name}.json").write_text(
        json.dumps({"settings": vars(args), "figures": figures}, default=str, indent=1)
    )
    print(args.name, json.dumps(figures))


if __name__ == "__main__":
    main()
