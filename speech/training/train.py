"""Train the phone network on a GPU.

    python -m speech.training.train PREPARED_FOLDER POOL.npz OUT --seconds 400

Writes ``OUT/NAME.pt`` (half precision) and ``OUT/NAME.json`` (settings and held-out figures).
"""

from __future__ import annotations

import argparse
import copy
import functools
import json
import math
import time
from collections.abc import Collection
from pathlib import Path

import torch
from torch import Tensor
from torch.nn import functional as F

from speech.phones import encode
from speech.training import measure
from speech.training.augment import Augment
from speech.training.network import WHOLE, PhoneNetwork
from speech.training.partition import partition
from speech.training.pools import KINDS, Pool

SHORT_S, LONG_S = 1.7, 6.0
SHORT_BATCH, LONG_BATCH = 192, 36
NOISE_ONLY = 0.04
"""Share of clips whose speech is left out: noise must be heard as nothing said."""
STRETCHED = 0.25
"""Share of clips in which a part is drawn out."""
WEIGHTS = {
    "child words": 0.22, "adult words": 0.18, "child splices": 0.17, "adult splices": 0.13,
    "child parts": 0.06, "adult parts": 0.04, "espeak": 0.10, "piper": 0.06,
    "espeak sounded out": 0.04,
}  # fmt: skip
"""Share of each kind in a batch of short clips."""
LONG_WEIGHTS = {"child runs": 0.5, "adult runs": 0.4, "espeak sounded out": 0.1}


class Sampler:
    """Draws batches of augmented clips from a pool held on the GPU."""

    def __init__(
        self, pool: Pool, device: torch.device, seed: int, short_batch: int = SHORT_BATCH,
        without: Collection[str] = (),
    ) -> None:  # fmt: skip
        self.short_batch = short_batch
        self.wave = torch.from_numpy(pool.wave).to(device)
        self.start = torch.from_numpy(pool.start).to(device)
        self.length = torch.from_numpy(pool.length).to(device)
        labels = [encode(phones) for phones in pool.phones]
        self.count = torch.tensor([len(label) for label in labels], device=device)
        widest = int(self.count.max())
        self.labels = torch.zeros(len(labels), widest, dtype=torch.int16, device=device)
        padded = [list(label) + [0] * (widest - len(label)) for label in labels]
        self.labels[:] = torch.tensor(padded, dtype=torch.int16)
        kind = torch.from_numpy(pool.kind).to(device)
        children = [KINDS.index(name) for name in KINDS if name.startswith("child")]
        self.child = torch.isin(kind, torch.tensor(children, device=device))
        self.augment = Augment(device, seed)
        self.chance = {
            "short": self._chances(pool, WEIGHTS, SHORT_S, without),
            "long": self._chances(pool, LONG_WEIGHTS, LONG_S, without),
        }

    def _chances(
        self, pool: Pool, weights: dict[str, float], longest_s: float, without: Collection[str]
    ) -> Tensor:
        kind = torch.from_numpy(pool.kind).to(self.wave.device)
        fits = (
            (self.length < longest_s * 16000 / 1.2)
            & (self.length > 1200)
            & (self.count > 0)
            & (self.count * 900 < self.length)  # a CTC path must fit even when sped up
        )
        chance = torch.zeros(len(kind), device=kind.device)
        for name, weight in weights.items():
            if name in without:
                continue
            member = fits & (kind == KINDS.index(name))
            chance[member] = weight / member.sum().clamp_min(1)
        return chance.cumsum(0)

    def batch(self, which: str) -> tuple[Tensor, Tensor, Tensor]:
        """Two hearings of each clip, differing in room, noise, voice and what is masked.

        Returns
        -------
        mel : Tensor, shape (2, batch, 80, frames)
        labels : Tensor, shape (batch, widest)
        count : Tensor, shape (batch,)
            Symbols of each label: 0 where the speech was left out and only noise is heard.
        """
        device = self.wave.device
        long_batch = self.short_batch * LONG_BATCH // SHORT_BATCH
        size, longest_s = (self.short_batch, SHORT_S) if which == "short" else (long_batch, LONG_S)
        chance = self.chance[which]
        draw = self.augment.uniform(size, 0, float(chance[-1]) * 0.99999)
        item = torch.searchsorted(chance, draw).clamp_max(len(chance) - 1)
        speed = self.augment.uniform(size, 0.8, 1.2)[:, None]
        samples = int(longest_s * 16000)
        length = self.length[item][:, None] / speed
        offset = self.augment.uniform(size, 0, 1)[:, None] * (samples - length).clamp_min(0)
        place = (torch.arange(samples, device=device)[None] - offset) * speed
        inside = (place >= 0) & (place < self.length[item][:, None] - 1)
        whole = place.clamp_min(0).floor()
        index = (self.start[item][:, None] + whole.long()).clamp_max(len(self.wave) - 2)
        part = place - whole
        sound = self.wave[index].float() * (1 - part) + self.wave[index + 1].float() * part
        sound = torch.where(inside, sound / 32768, 0.0)
        empty = self.augment.uniform(size, 0, 1) < NOISE_ONLY
        level = 10 ** (self.augment.uniform(size, -24, 6)[:, None] / 20)
        sound = sound * torch.where(empty[:, None], 0.0, level)
        twice = sound.repeat(2, 1)
        twice = self.augment.add_noise(self.augment.room(twice)).clamp(-1, 1)
        mel = self.augment.log_mel(twice, self.child[item].repeat(2))
        end = ((offset + length)[:, 0] / 160).clamp_max(mel.shape[2])
        source = self.augment.stretched(mel.shape[2], end, STRETCHED).repeat(2, 1)
        mel = self.augment.mask(_resampled(mel, source))
        count = torch.where(empty, 0, self.count[item])
        labels = self.labels[item][:, : max(int(count.max()), 1)].long()
        return mel.view(2, size, *mel.shape[1:]), labels, count


def _resampled(mel: Tensor, source: Tensor) -> Tensor:
    """``mel`` (batch, mels, frames) read at the frames ``source`` (batch, frames)."""
    last = mel.shape[2] - 1
    source = source.clamp(0, last)
    before = source.floor().long()
    share = (source - before)[:, None]
    index = before[:, None].expand(-1, mel.shape[1], -1)
    return mel.gather(2, index) * (1 - share) + mel.gather(2, (index + 1).clamp_max(last)) * share


def losses(scores: Tensor, labels: Tensor, count: Tensor) -> tuple[Tensor, Tensor]:
    """Mean CTC loss per symbol, and how far the two hearings of a clip are apart.

    The second is the Kullback-Leibler divergence a frame, both ways, each hearing a fixed target
    of the other (Yao et al. 2024, *CR-CTC: Consistency regularization on CTC*, section 3).

    Parameters
    ----------
    scores : Tensor, shape (2, batch, frames, symbols)
        Log-probabilities.
    """
    _, batch, frames, symbols = scores.shape
    both = scores.reshape(2 * batch, frames, symbols)
    ctc = F.ctc_loss(
        both.transpose(0, 1), labels.repeat(2, 1), torch.full((2 * batch,), frames),
        count.repeat(2), reduction="none", zero_infinity=True,
    )  # fmt: skip
    symbols_said = count.clamp_min(1).float()
    fixed = scores.detach().flip(0)
    apart = F.kl_div(scores, fixed, log_target=True, reduction="none").sum((2, 3)) / symbols_said
    return (ctc / symbols_said.repeat(2)).mean(), apart.mean()


def train(
    sampler: Sampler, weights: dict[str, Tensor], views: tuple[int, int], seconds: float,
    rate: float, dropout: float, agreement: float, seed: int,
) -> PhoneNetwork:  # fmt: skip
    """Train for ``seconds``; returns the running mean of the weights.

    Each clip is heard twice, once with each of the two ``views``; ``agreement`` is the weight of
    their consistency.
    """
    torch.manual_seed(seed)
    device = sampler.wave.device
    network = PhoneNetwork.holding(weights, dropout).to(device)
    mean = copy.deepcopy(network).eval()
    optimiser = torch.optim.AdamW(network.parameters(), rate, (0.9, 0.98), weight_decay=0.02)
    began = time.monotonic()
    step = 0
    compiled = torch.compile(network, dynamic=False) if device.type == "cuda" else network
    while (done := (time.monotonic() - began) / seconds) < 1:
        for group in optimiser.param_groups:
            group["lr"] = rate * min(1.0, done * 25) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-7
        mel, labels, count = sampler.batch("long" if step % 3 == 2 else "short")
        view = torch.tensor(views, device=device).repeat_interleave(mel.shape[1])
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            scores = compiled(mel.flatten(0, 1), view)
        ctc, apart = losses(scores.view(2, mel.shape[1], *scores.shape[1:]), labels, count)
        optimiser.zero_grad(set_to_none=True)
        (ctc + agreement * apart).backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        optimiser.step()
        keep = min(0.9995, 1 - 1 / (step / 10 + 1))
        with torch.no_grad():
            torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), 1 - keep)
        if step % (1000 if device.type == "cuda" else 20) == 0:
            print(
                f"{done:5.1%} step {step} ctc {ctc.item():.3f} apart {apart.item():.3f}", flush=True
            )
        step += 1
    print(f"{step} steps in {seconds:.0f} s", flush=True)
    return mean


def main() -> None:
    """Train one network and measure it on the held-out children."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("pool", type=Path, help="what speech.training.pools wrote")
    parser.add_argument("out", type=Path)
    parser.add_argument("--name", default="phone_scorer")
    parser.add_argument("--seconds", type=float, default=400)
    parser.add_argument(
        "--views", type=int, nargs=2, default=[8, WHOLE], help="20 ms frames seen either side"
    )
    parser.add_argument("--rate", type=float, default=4e-4, help="peak learning rate")
    parser.add_argument("--dropout", type=float, default=0.1)
    parser.add_argument("--agreement", type=float, default=0.2, help="weight of consistency")
    parser.add_argument("--start", type=Path, help="weights to start from, not encoder.pt")
    parser.add_argument("--batch", type=int, default=SHORT_BATCH, help="short clips in a batch")
    parser.add_argument("--without", nargs="*", default=[], help="kinds of clip left out")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rows = [json.loads(line) for line in (args.folder / "corpus.jsonl").read_text().splitlines()]
    parts = partition(rows)
    pool = Pool.load(args.pool)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.set_float32_matmul_precision("high")
    sampler = Sampler(pool, device, args.seed, args.batch, args.without)
    encoder = torch.load(args.start or args.folder / "encoder.pt", map_location="cpu")
    network = train(
        sampler, encoder, tuple(args.views), args.seconds, args.rate, args.dropout,
        args.agreement, args.seed,
    )  # fmt: skip
    hear = functools.partial(measure.scores, views=args.views)
    figures = measure.held_out(network, args.folder, parts, hear)
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save({k: v.half() for k, v in network.state_dict().items()}, args.out / f"{args.name}.pt")
    (args.out / f"{args.name}.json").write_text(
        json.dumps({"settings": vars(args), "figures": figures}, default=str, indent=1)
    )
    print(args.name, json.dumps(figures))


if __name__ == "__main__":
    main()
