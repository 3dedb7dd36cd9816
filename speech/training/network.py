"""The phone network: the encoder of Whisper tiny.en with a narrow view, and a phone layer."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from speech.phones import SYMBOLS

WIDTH, HEADS, LAYERS = 384, 6, 4
N_MELS = 80


class Block(nn.Module):
    """One pre-norm transformer layer."""

    def __init__(self, dropout: float) -> None:
        super().__init__()
        self.attn_ln = nn.LayerNorm(WIDTH)
        self.qkv = nn.Linear(WIDTH, 3 * WIDTH)
        self.out = nn.Linear(WIDTH, WIDTH)
        self.mlp_ln = nn.LayerNorm(WIDTH)
        self.up = nn.Linear(WIDTH, 4 * WIDTH)
        self.down = nn.Linear(4 * WIDTH, WIDTH)
        self.dropout = dropout

    def forward(self, x: Tensor, near: Tensor) -> Tensor:
        """``x`` (batch, frames, WIDTH); ``near`` (frames, frames) true where attention may look."""
        batch, frames, _ = x.shape
        q, k, v = self.qkv(self.attn_ln(x)).view(batch, frames, 3, HEADS, -1).permute(2, 0, 3, 1, 4)
        seen = F.scaled_dot_product_attention(q, k, v, attn_mask=near)
        seen = self.out(seen.transpose(1, 2).reshape(batch, frames, WIDTH))
        x = x + F.dropout(seen, self.dropout, self.training)
        return x + F.dropout(
            self.down(F.gelu(self.up(self.mlp_ln(x)))), self.dropout, self.training
        )


class PhoneNetwork(nn.Module):
    """Log-mel frames of 10 ms to symbol log-probabilities each 20 ms.

    Parameters
    ----------
    view_frames : sequence of int
        How many frames of 20 ms each layer may look to either side; one number serves all. A
        narrow view keeps the network from knowing a word by its whole shape and 'hearing' the
        parts it expects.
    dropout : float
        Dropout rate of each layer's two branches.
    """

    def __init__(self, view_frames: Sequence[int], dropout: float = 0.1) -> None:
        super().__init__()
        self.views = tuple(view_frames) * (LAYERS if len(view_frames) == 1 else 1)
        self.conv1 = nn.Conv1d(N_MELS, WIDTH, 3, padding=1)
        self.conv2 = nn.Conv1d(WIDTH, WIDTH, 3, stride=2, padding=1)
        self.blocks = nn.ModuleList(Block(dropout) for _ in range(LAYERS))
        self.ln_post = nn.LayerNorm(WIDTH)
        self.head = nn.Linear(WIDTH, len(SYMBOLS))
        step = np.log(10000) / (WIDTH // 2 - 1)
        turns = torch.exp(-step * torch.arange(WIDTH // 2))
        self.turns: Tensor
        self.register_buffer("turns", turns, persistent=False)

    def forward(self, mel: Tensor) -> Tensor:
        """``mel`` (batch, 80, frames) to log-probabilities (batch, frames / 2, symbols)."""
        x = F.gelu(self.conv2(F.gelu(self.conv1(mel)))).transpose(1, 2)
        place = torch.arange(x.shape[1], device=x.device)
        apart = (place[:, None] - place[None, :]).abs()
        angle = place[:, None] * self.turns  # Whisper's fixed positions (openai-whisper, model.py)
        x = x + torch.cat([angle.sin(), angle.cos()], dim=1)
        for block, view in zip(self.blocks, self.views, strict=True):
            x = block(x, apart <= view)
        return F.log_softmax(self.head(self.ln_post(x)).float(), -1)


def pretrained_encoder(path: Path) -> dict[str, Tensor]:
    """Read Whisper tiny.en's encoder from a CTranslate2 ``model.bin`` into our names.

    The file is: version, spec name, revision, variable count; then name, rank, shape, type,
    byte count and bytes for each variable. ``linear_0`` of a self-attention is q, k, v stacked.
    """
    raw: dict[str, Tensor] = {}
    with path.open("rb") as file:

        def number(code: str) -> int:
            return int(struct.unpack("<" + code, file.read(struct.calcsize(code)))[0])

        def text() -> str:
            return file.read(number("H")).rstrip(b"\0").decode()

        number("I")
        text()
        number("I")
        for _ in range(number("I")):
            name = text()
            shape = [number("I") for _ in range(number("B"))]
            dtype = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}[
                number("B")
            ]
            values = np.frombuffer(file.read(number("I")), dtype).reshape(shape)
            if name.startswith("encoder/"):
                raw[name.removeprefix("encoder/")] = torch.from_numpy(values.astype(np.float32))
    ours = {f"{conv}.{kind}": raw[f"{conv}/{kind}"]
            for conv in ("conv1", "conv2") for kind in ("weight", "bias")}  # fmt: skip
    norms = {"ln_post": "layer_norm"}
    layers = {}
    for number_ in range(LAYERS):
        theirs, mine = f"layer_{number_}", f"blocks.{number_}"
        norms[f"{mine}.attn_ln"] = f"{theirs}/self_attention/layer_norm"
        norms[f"{mine}.mlp_ln"] = f"{theirs}/ffn/layer_norm"
        layers[f"{mine}.qkv"] = f"{theirs}/self_attention/linear_0"
        layers[f"{mine}.out"] = f"{theirs}/self_attention/linear_1"
        layers[f"{mine}.up"] = f"{theirs}/ffn/linear_0"
        layers[f"{mine}.down"] = f"{theirs}/ffn/linear_1"
    for mine, theirs in norms.items():
        ours[f"{mine}.weight"], ours[f"{mine}.bias"] = raw[f"{theirs}/gamma"], raw[f"{theirs}/beta"]
    for mine, theirs in layers.items():
        ours[f"{mine}.weight"], ours[f"{mine}.bias"] = (
            raw[f"{theirs}/weight"],
            raw[f"{theirs}/bias"],
        )
    return ours
