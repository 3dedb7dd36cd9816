"""The phone network: a Whisper encoder whose view can be narrowed, and a phone layer."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from speech.phones import SYMBOLS

N_MELS = 80
HEAD_WIDTH = 64
"""Channels of one attention head, in every size of Whisper (openai-whisper, model.py)."""
WHOLE = 1500
"""A view of the whole clip: Whisper's encoder never sees more frames than that."""


class Block(nn.Module):
    """One pre-norm transformer layer."""

    def __init__(self, width: int, dropout: float) -> None:
        super().__init__()
        self.attn_ln = nn.LayerNorm(width)
        self.qkv = nn.Linear(width, 3 * width)
        self.out = nn.Linear(width, width)
        self.mlp_ln = nn.LayerNorm(width)
        self.up = nn.Linear(width, 4 * width)
        self.down = nn.Linear(4 * width, width)
        self.dropout = dropout

    def forward(self, x: Tensor, near: Tensor) -> Tensor:
        """``x`` (batch, frames, width); ``near`` (batch, 1, frames, frames): what may be seen."""
        batch, frames, width = x.shape
        parts = self.qkv(self.attn_ln(x)).view(batch, frames, 3, width // HEAD_WIDTH, HEAD_WIDTH)
        q, k, v = parts.permute(2, 0, 3, 1, 4)
        seen = F.scaled_dot_product_attention(q, k, v, attn_mask=near)
        seen = self.out(seen.transpose(1, 2).reshape(batch, frames, width))
        x = x + F.dropout(seen, self.dropout, self.training)
        return x + F.dropout(
            self.down(F.gelu(self.up(self.mlp_ln(x)))), self.dropout, self.training
        )


class PhoneNetwork(nn.Module):
    """Log-mel frames of 10 ms to symbol log-probabilities each 20 ms.

    Parameters
    ----------
    width, layers : int
        Size of the encoder: 384 and 4 for Whisper tiny, 512 and up to 6 for base.
    dropout : float
        Dropout rate of each layer's two branches.
    """

    def __init__(self, width: int, layers: int, dropout: float = 0.1) -> None:
        super().__init__()
        self.width = width
        self.conv1 = nn.Conv1d(N_MELS, width, 3, padding=1)
        self.conv2 = nn.Conv1d(width, width, 3, stride=2, padding=1)
        self.blocks = nn.ModuleList(Block(width, dropout) for _ in range(layers))
        self.ln_post = nn.LayerNorm(width)
        self.head = nn.Linear(width, len(SYMBOLS))
        step = np.log(10000) / (width // 2 - 1)
        turns = torch.exp(-step * torch.arange(width // 2))
        self.turns: Tensor
        self.register_buffer("turns", turns, persistent=False)

    @classmethod
    def holding(cls, weights: Mapping[str, Tensor], dropout: float = 0.1) -> PhoneNetwork:
        """A network of the size of ``weights``, holding them; a phone layer may be missing."""
        layers = 1 + max(int(name.split(".")[1]) for name in weights if name.startswith("blocks."))
        network = cls(weights["conv1.weight"].shape[0], layers, dropout)
        missing = network.load_state_dict({k: v.float() for k, v in weights.items()}, strict=False)
        if not set(missing.missing_keys) <= {"head.weight", "head.bias"}:
            raise ValueError(f"the weights lack {missing.missing_keys}")
        return network

    def forward(self, mel: Tensor, view: Tensor) -> Tensor:
        """Log-probabilities (batch, frames / 2, symbols).

        Parameters
        ----------
        mel : Tensor, shape (batch, 80, frames)
        view : Tensor of int, shape (batch,)
            How many frames of 20 ms each layer may look to either side. A narrow view keeps the
            network from knowing a word by its whole shape and 'hearing' the parts it expects; a
            whole view hears single sounds better.
        """
        x = F.gelu(self.conv2(F.gelu(self.conv1(mel)))).transpose(1, 2)
        place = torch.arange(x.shape[1], device=x.device)
        apart = (place[:, None] - place[None, :]).abs()
        near = apart[None, None] <= view[:, None, None, None]
        angle = place[:, None] * self.turns  # Whisper's fixed positions (openai-whisper, model.py)
        x = x + torch.cat([angle.sin(), angle.cos()], dim=1)
        for block in self.blocks:
            x = block(x, near)
        return F.log_softmax(self.head(self.ln_post(x)).float(), -1)


def pretrained_encoder(path: Path, layers: int) -> dict[str, Tensor]:
    """Read the first ``layers`` of a Whisper encoder from a CTranslate2 ``model.bin``.

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
    linear = {}
    for number_ in range(layers):
        theirs, mine = f"layer_{number_}", f"blocks.{number_}"
        norms[f"{mine}.attn_ln"] = f"{theirs}/self_attention/layer_norm"
        norms[f"{mine}.mlp_ln"] = f"{theirs}/ffn/layer_norm"
        linear[f"{mine}.qkv"] = f"{theirs}/self_attention/linear_0"
        linear[f"{mine}.out"] = f"{theirs}/self_attention/linear_1"
        linear[f"{mine}.up"] = f"{theirs}/ffn/linear_0"
        linear[f"{mine}.down"] = f"{theirs}/ffn/linear_1"
    for mine, theirs in norms.items():
        ours[f"{mine}.weight"], ours[f"{mine}.bias"] = raw[f"{theirs}/gamma"], raw[f"{theirs}/beta"]
    for mine, theirs in linear.items():
        ours[f"{mine}.weight"], ours[f"{mine}.bias"] = (
            raw[f"{theirs}/weight"],
            raw[f"{theirs}/bias"],
        )
    return ours
