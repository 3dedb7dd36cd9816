"""Write a trained live network as the folder that vosk loads.

    python -m speech.training.live_export OUT/live.pt --clips CLIP... --scores SCORES.npz [FOLDER]

Norms are folded into the layers before them, matrices take one byte a value, and one more score
is put beside the 41: the largest of them, for 'anything'. What PyTorch and libvosk make of the
clips is then compared, and PyTorch's part of it written to ``SCORES.npz`` for the tests.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn

from speech.audio import RATE, read
from speech.kaldi import Packed, acoustic_model, affine, largest_of, matrix, nonlinear
from speech.live import MODEL, REACH_NATS
from speech.phones import SYMBOLS
from speech.training.live_network import (
    CENTRE,
    FLOOR,
    HIGH_HZ,
    LOW_HZ,
    N_MELS,
    SHIFTS,
    SPREAD,
    SUBSAMPLING,
    LiveNetwork,
    features,
)
from speech.training.live_probe import frame_scores

AGREED_NATS = 1e-3
"""libvosk and PyTorch round differently, above all in the logarithm of the filterbank."""

FEATURES = f"""--num-mel-bins={N_MELS}
--low-freq={LOW_HZ:g}
--high-freq={HIGH_HZ:g}
--dither=0
--window-type=povey
--snip-edges=true
"""
"""conf/fbank.conf."""
SETTINGS = (
    f"""--acoustic-scale=1.0
--frame-subsampling-factor={SUBSAMPLING}
--frames-per-chunk=15
--max-active=100000
--min-active=200
--phone-determinize=false
--beam={REACH_NATS + 30:g}
--lattice-beam={REACH_NATS + 12:g}
--endpoint.silence-phones=1
"""
    + "".join(f"--endpoint.rule{n}.min-trailing-silence=1000\n" for n in range(1, 5))
    + ("--endpoint.rule5.min-utterance-length=1000\n")
)
"""conf/model.conf. Nothing that could be told apart is dropped, and vosk ends no turn itself."""

Floats = NDArray[np.float32]


def fold(conv: nn.Conv1d, norm: nn.BatchNorm1d) -> None:
    """Put a norm that follows a layer into it: the layer gets a bias, the norm does nothing."""
    assert norm.running_var is not None
    assert norm.running_mean is not None
    scale = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    bias = norm.bias - norm.running_mean * scale
    conv.weight.data = conv.weight.data * scale.data[:, None, None]
    conv.bias = nn.Parameter(bias.data)
    norm.reset_running_stats()
    norm.eps = 0.0
    nn.init.ones_(norm.weight)
    nn.init.zeros_(norm.bias)


def folded(network: LiveNetwork) -> LiveNetwork:
    """Fold every norm, in place."""
    network.eval()
    fold(network.first, network.first_norm)
    fold(network.second, network.second_norm)
    fold(network.third, network.third_norm)
    for block in network.residuals():
        fold(block.widen, block.norm)
    return network


def packed(network: LiveNetwork) -> LiveNetwork:
    """Round a folded network's matrices to what one byte a value can hold, in place.

    What comes out computes what libvosk will, but for the order of sums.
    """
    for layer in (part for part in network.modules() if isinstance(part, nn.Conv1d)):
        values = Packed.of(spliced(layer)).values()
        layer.weight.data = torch.from_numpy(unspliced(values, layer))
    return network


def spliced(layer: nn.Conv1d) -> Floats:
    """A layer's weights as one matrix over its frames one after another, (out, taps * in)."""
    weights = layer.weight.detach().numpy()
    return np.ascontiguousarray(weights.transpose(0, 2, 1)).reshape(len(weights), -1)


def unspliced(values: Floats, layer: nn.Conv1d) -> Floats:
    """Undo ``spliced``: (out, in, taps)."""
    out, inside, taps = layer.weight.shape
    return np.ascontiguousarray(values.reshape(out, taps, inside).transpose(0, 2, 1))


class Writer:
    """Collects the nodes and components of a network."""

    def __init__(self) -> None:
        self.lines = [f"input-node name=input dim={N_MELS}"]
        self.components: dict[str, bytes] = {}

    def node(self, name: str, component: bytes, source: str) -> str:
        """Add a component and the node that feeds it; returns the name, to feed the next."""
        self.components[name] = component
        self.lines.append(f"component-node name={name} component={name} input={source}")
        return name

    def layer(self, name: str, layer: nn.Conv1d, source: str, offsets: list[int]) -> str:
        """An affine layer over ``source`` at frame ``offsets``."""
        wide = len(layer.weight)
        bias = np.zeros(wide) if layer.bias is None else layer.bias.detach().numpy()
        frames = [source if not at else f"Offset({source}, {at})" for at in offsets]
        seen = frames[0] if len(frames) == 1 else f"Append({', '.join(frames)})"
        return self.node(name, affine(Packed.of(spliced(layer)).written(), bias), seen)

    def relu(self, name: str, source: str, dim: int) -> str:
        """A rectifier."""
        return self.node(name, nonlinear("RectifiedLinear", dim), source)


def written(network: LiveNetwork) -> bytes:
    """``final.mdl`` of a folded network."""
    out = Writer()
    ones = np.eye(N_MELS, dtype=np.float32)
    x = out.node("floor", affine(matrix(ones), np.full(N_MELS, -FLOOR)), "input")
    x = out.relu("above", x, N_MELS)
    shift = np.full(N_MELS, (FLOOR - CENTRE) / SPREAD)
    x = out.node("scale", affine(matrix(ones / SPREAD), shift), x)
    for name, layer, offsets in (
        ("first", network.first, [-2, -1, 0, 1, 2]),
        ("second", network.second, [-1, 0, 1]),
        ("third", network.third, [-1, 0, 1]),
    ):
        x = out.layer(name, layer, x, offsets)
        x = out.relu(f"{name}_on", x, len(layer.weight))
    for number, block in enumerate(network.residuals()):
        step = SUBSAMPLING * block.shift
        seen = out.layer(f"narrow{number}", block.narrow, x, [-step, 0] if step else [0])
        seen = out.layer(f"widen{number}", block.widen, seen, [0, step] if step else [0])
        x = out.relu(f"block{number}", f"Sum({x}, {seen})", len(block.widen.weight))
    x = out.layer("head", network.head, x, [0])
    x = out.node("scores", nonlinear("LogSoftmax", len(SYMBOLS)), x)
    anything = out.node("anything", largest_of(len(SYMBOLS)), x)
    out.lines.append(f"output-node name=output input=Append({x}, {anything}) objective=linear")
    return acoustic_model(len(SYMBOLS) + 1, out.lines, out.components)


def export(network: LiveNetwork, folder: Path) -> LiveNetwork:
    """Write the folder; returns the network folded and rounded, to compare with."""
    folded(network)
    (folder / "am").mkdir(parents=True, exist_ok=True)
    (folder / "conf").mkdir(exist_ok=True)
    (folder / "am" / "final.mdl").write_bytes(written(network))  # before rounding: it rounds
    (folder / "conf" / "fbank.conf").write_text(FEATURES)
    (folder / "conf" / "model.conf").write_text(SETTINGS)
    return packed(network)


@torch.no_grad()
def compare(network: LiveNetwork, folder: Path, clips: Sequence[Path]) -> dict[str, Floats]:
    """PyTorch's scores of each clip by its file's name, once libvosk has been seen to agree.

    Raises
    ------
    ValueError
        If they differ by ``AGREED_NATS`` anywhere.
    """
    found = {}
    for clip in clips:
        samples = read(clip).samples
        ours: Floats = network(features(samples)[None])[0].numpy()
        relative = ours - ours.max(axis=1, keepdims=True)
        for step in (len(samples), RATE // 10):
            theirs = frame_scores(folder, samples, step)
            apart = float(np.abs(theirs - relative)[np.isfinite(theirs)].max())
            print(f"{clip.name}, {step} samples at a time: {apart:.1e} nats apart")
            if apart > AGREED_NATS:
                raise ValueError(f"libvosk does not compute what PyTorch does on {clip}")
        found[clip.name] = ours
    return found


def main() -> None:
    """Export, compare, and say how large the file is."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("weights", type=Path)
    parser.add_argument("folder", type=Path, nargs="?", default=MODEL)
    parser.add_argument("--shifts", type=int, nargs="+", default=list(SHIFTS))
    parser.add_argument("--clips", type=Path, nargs="+", required=True, help="to compare on")
    parser.add_argument("--scores", type=Path, required=True, help="where PyTorch's scores go")
    args = parser.parse_args()
    network = LiveNetwork(args.shifts)
    network.load_state_dict(torch.load(args.weights, map_location="cpu"))
    rounded = export(network, args.folder)
    found: dict[str, Any] = {**compare(rounded, args.folder, args.clips)}
    np.savez_compressed(args.scores, **found)
    print(f"{args.folder}: {(args.folder / 'am' / 'final.mdl').stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
