"""Train the phone network on a GPU.

    python -m speech.training.train PREPARED_FOLDER OUT --espeak LIB DATA --seconds 400

Writes ``OUT/NAME.pt`` (half precision) and ``OUT/NAME.json`` (settings and held-out figures).
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import time
from pathlib import Path

import torch
from torch import Tensor
from torch.nn import functional as F

from speech.phones import encode
from speech.training import measure
from speech.training.augment import Augment
from speech.training.network import PhoneNetwork
from speech.training.partition import partition
from speech.training.pools import KINDS, Pool, build

SHORT_S, LONG_S = 1.7, 6.0
SHORT_BATCH, LONG_BATCH = 384, 72
WEIGHTS = {
    "child words": 0.28, "adult words": 0.08, "child splices": 0.22, "adult splices": 0.07,
    "child parts": 0.09, "adult parts": 0.03, "espeak": 0.11, "piper": 0.06,
    "espeak sounded out": 0.06,
}  # fmt: skip
"""Share of each kind in a batch of short clips."""
LONG_WEIGHTS = {"child runs": 0.5, "adult runs": 0.3, "espeak sounded out": 0.2}


class Sampler:
    """Draws batches of augmented clips from a pool held on the GPU."""

    def __init__(self, pool: Pool, device: torch.device, seed: int) -> None:
        self.wave = torch.from_numpy(pool.wave).to(device)
        self.start = torch.from_numpy(pool.start).to(device)
        self.length = torch.from_numpy(pool.length).to(device)
        labels = [encode(phones) for phones in pool.phones]
        self.count = torch.tensor([len(label) for label in labels], device=device)
        widest = int(self.count.max())
        self.labels = torch.zeros(len(labels), widest, dtype=torch.int16, device=device)
        padded = [list(label) + [0] * (widest - len(label)) for label in labels]
        self.labels[:] = torch.tensor(padded, dtype=torch.int16)
        self.augment = Augment(device, seed)
        self.chance = {
            "short": self._chances(pool, WEIGHTS, SHORT_S),
            "long": self._chances(pool, LONG_WEIGHTS, LONG_S),
        }

    def _chances(self, pool: Pool, weights: dict[str, float], longest_s: float) -> Tensor:
        kind = torch.from_numpy(pool.kind).to(self.wave.device)
        fits = (
            (self.length < longest_s * 16000 / 1.15)
            & (self.length > 1200)
            & (self.count > 0)
            & (self.count * 900 < self.length)  # a CTC path must fit even when sped up
        )
        chance = torch.zeros(len(kind), device=kind.device)
        for name, weight in weights.items():
            member = fits & (kind == KINDS.index(name))
            chance[member] = weight / member.sum().clamp_min(1)
        return chance.cumsum(0)

    def batch(self, which: str) -> tuple[Tensor, Tensor, Tensor]:
        """Mel (batch, 80, frames), labels (batch, widest), label counts (batch,)."""
        device = self.wave.device
        size, longest_s = (SHORT_BATCH, SHORT_S) if which == "short" else (LONG_BATCH, LONG_S)
        chance = self.chance[which]
        draw = self.augment.uniform(size, 0, float(chance[-1]) * 0.99999)
        item = torch.searchsorted(chance, draw).clamp_max(len(chance) - 1)
        speed = self.augment.uniform(size, 0.82, 1.18)[:, None]
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
        sound = sound * 10 ** (self.augment.uniform(size, -24, 6)[:, None] / 20)
        sound = self.augment.add_noise(self.augment.room(sound)).clamp(-1, 1)
        mel = self.augment.mask(self.augment.log_mel(sound, train=True))
        count = self.count[item]
        return mel, self.labels[item][:, : int(count.max())].long(), count


def ctc(scores: Tensor, labels: Tensor, count: Tensor) -> Tensor:
    """Mean CTC loss per symbol; ``scores`` (batch, frames, symbols)."""
    frames = torch.full((scores.shape[0],), scores.shape[1], device=scores.device)
    loss = F.ctc_loss(
        scores.transpose(0, 1), labels, frames, count, reduction="none", zero_infinity=True
    )
    return (loss / count.clamp_min(1)).mean()


def train(
    sampler: Sampler, encoder: dict[str, Tensor], view: int, seconds: float, rate: float,
    dropout: float, seed: int,
) -> PhoneNetwork:  # fmt: skip
    """Train for ``seconds``; returns the running mean of the weights."""
    torch.manual_seed(seed)
    device = sampler.wave.device
    network = PhoneNetwork(view, dropout).to(device)
    missing = network.load_state_dict({k: v.float() for k, v in encoder.items()}, strict=False)
    if set(missing.missing_keys) != {"head.weight", "head.bias"}:
        raise ValueError(f"the encoder's file lacks {missing.missing_keys}")
    mean = copy.deepcopy(network).eval()
    optimiser = torch.optim.AdamW(network.parameters(), rate, (0.9, 0.98), weight_decay=0.02)
    began = time.monotonic()
    step = 0
    compiled = torch.compile(network, dynamic=False)
    while (done := (time.monotonic() - began) / seconds) < 1:
        warm = min(1.0, (step + 1) / 400)
        for group in optimiser.param_groups:
            group["lr"] = rate * warm * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-7
        mel, labels, count = sampler.batch("long" if step % 4 == 3 else "short")
        with torch.autocast("cuda", torch.bfloat16):
            scores = compiled(mel)
        loss = ctc(scores, labels, count)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        optimiser.step()
        keep = min(0.9995, 1 - 1 / (step / 10 + 1))
        with torch.no_grad():
            torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), 1 - keep)
        if step % 1000 == 0:
            print(f"{done:5.1%} step {step} loss {loss.item():.3f}", flush=True)
        step += 1
    print(f"{step} steps in {seconds:.0f} s", flush=True)
    return mean


def main() -> None:
    """Train one network and measure it on the held-out children."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("out", type=Path)
    parser.add_argument("--name", default="phone_scorer")
    parser.add_argument("--espeak", type=Path, nargs=2, required=True, metavar=("LIB", "DATA"))
    parser.add_argument("--seconds", type=float, default=400)
    parser.add_argument("--view", type=int, default=8, help="frames of 20 ms seen to either side, a layer")
    parser.add_argument("--rate", type=float, default=5e-4, help="peak learning rate")
    parser.add_argument("--dropout", type=float, default=0.1)
    parser.add_argument("--scale", type=float, default=1.0, help="how many made-up clips")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rows = [json.loads(line) for line in (args.folder / "corpus.jsonl").read_text().splitlines()]
    parts = partition(rows)
    began = time.monotonic()
    pool = build(args.folder, parts, tuple(args.espeak), args.scale)
    for number, kind in enumerate(KINDS):
        mine = pool.kind == number
        print(f"{kind:20s} {mine.sum():7d} clips {pool.length[mine].sum() / 16000:9.0f} s")
    print(f"pools in {time.monotonic() - began:.0f} s", flush=True)
    device = torch.device("cuda")
    torch.set_float32_matmul_precision("high")
    sampler = Sampler(pool, device, args.seed)
    encoder = torch.load(args.folder / "encoder.pt")
    network = train(
        sampler, encoder, args.view, args.seconds, args.rate, args.dropout, args.seed
    )
    figures = measure.held_out(network, args.folder, parts)
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save(
        {k: v.half() for k, v in network.state_dict().items()}, args.out / f"{args.name}.pt"
    )
    (args.out / f"{args.name}.json").write_text(
        json.dumps({"settings": vars(args), "figures": figures}, default=str, indent=1)
    )
    print(args.name, json.dumps(figures))


if __name__ == "__main__":
    main()
