"""Train the phone network on a GPU.

    python -m speech.training.train PREPARED_FOLDER POOL.npz OUT --seconds 400

Writes ``OUT/NAME.pt`` (half precision) and ``OUT/NAME.json`` (settings and held-out figures).
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import time
from collections.abc import Collection, Sequence
from pathlib import Path

import torch
from torch import Tensor
from torch.nn import functional as F

from speech.phones import encode
from speech.training import measure
from speech.training.augment import Augment
from speech.training.network import PhoneNetwork
from speech.training.partition import partition
from speech.training.pools import KINDS, Pool

SHORT_S, LONG_S = 1.7, 6.0
SHORT_BATCH, LONG_BATCH = 384, 72
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
        """Mel (batch, 80, frames), labels (batch, widest), label counts (batch,)."""
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
        sound = sound * 10 ** (self.augment.uniform(size, -24, 6)[:, None] / 20)
        sound = self.augment.add_noise(self.augment.room(sound)).clamp(-1, 1)
        mel = self.augment.mask(self.augment.log_mel(sound, self.child[item]))
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
    sampler: Sampler, encoder: dict[str, Tensor], view: Sequence[int], seconds: float, rate: float,
    dropout: float, seed: int, last_layer: bool = False,
) -> PhoneNetwork:  # fmt: skip
    """Train for ``seconds``; returns the running mean of the weights.

    With ``last_layer`` only the last layer and what follows it learn.
    """
    torch.manual_seed(seed)
    device = sampler.wave.device
    network = PhoneNetwork(view, dropout).to(device)
    missing = network.load_state_dict({k: v.float() for k, v in encoder.items()}, strict=False)
    if not set(missing.missing_keys) <= {"head.weight", "head.bias"}:
        raise ValueError(f"the encoder's file lacks {missing.missing_keys}")
    mean = copy.deepcopy(network).eval()
    if last_layer:
        network.requires_grad_(False)
        for part in (network.blocks[-1], network.ln_post, network.head):
            part.requires_grad_(True)
    learning = [p for p in network.parameters() if p.requires_grad]
    optimiser = torch.optim.AdamW(learning, rate, (0.9, 0.98), weight_decay=0.02)
    began = time.monotonic()
    step = 0
    compiled = torch.compile(network, dynamic=False) if device.type == "cuda" else network
    while (done := (time.monotonic() - began) / seconds) < 1:
        warm = min(1.0, done * 25)
        for group in optimiser.param_groups:
            group["lr"] = rate * warm * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-7
        mel, labels, count = sampler.batch("long" if step % 3 == 2 else "short")
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            scores = compiled(mel)
        loss = ctc(scores, labels, count)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(learning, 1.0)
        optimiser.step()
        keep = min(0.9995, 1 - 1 / (step / 10 + 1))
        with torch.no_grad():
            torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), 1 - keep)
        if step % (1000 if device.type == "cuda" else 20) == 0:
            print(f"{done:5.1%} step {step} loss {loss.item():.3f}", flush=True)
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
        "--view", type=int, nargs="+", default=[8], help="20 ms frames seen either side, by layer"
    )
    parser.add_argument("--rate", type=float, default=5e-4, help="peak learning rate")
    parser.add_argument("--dropout", type=float, default=0.1)
    parser.add_argument("--start", type=Path, help="weights of an earlier run to go on from")
    parser.add_argument("--last-layer", action="store_true", help="train only the last layer")
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
        sampler,
        encoder,
        args.view,
        args.seconds,
        args.rate,
        args.dropout,
        args.seed,
        args.last_layer,
    )
    figures = measure.held_out(network, args.folder, parts)
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save({k: v.half() for k, v in network.state_dict().items()}, args.out / f"{args.name}.pt")
    (args.out / f"{args.name}.json").write_text(
        json.dumps({"settings": vars(args), "figures": figures}, default=str, indent=1)
    )
    print(args.name, json.dumps(figures))


if __name__ == "__main__":
    main()
