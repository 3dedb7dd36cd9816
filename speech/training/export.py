"""Write the trained network as the small ONNX file the scorer loads.

    python -m speech.training.export WEIGHTS.pt --view FRAMES [--blank NATS] [OUT.onnx]

Matrix weights become int8 (one scale a column), convolutions stay in single precision.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path

import torch
from onnxruntime.quantization import QuantType, quantize_dynamic

from speech.phones import BLANK_INDEX
from speech.scorer import MODEL
from speech.training.network import N_MELS, PhoneNetwork


def export(weights: Path, view_frames: Sequence[int], blank_nats: float, out: Path) -> None:
    """Write ``out``; ``blank_nats`` is taken off the blank's score in every frame.

    Training hides parts of clips, which teaches the network to leave out more than people do.
    """
    network = PhoneNetwork(view_frames).eval()
    loaded = torch.load(weights, map_location="cpu")
    network.load_state_dict({name: value.float() for name, value in loaded.items()})
    with torch.no_grad():
        network.head.bias[BLANK_INDEX] -= blank_nats
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole.onnx"
        torch.onnx.export(
            network, (torch.zeros(1, N_MELS, 200),), str(whole), dynamo=False, opset_version=17,
            input_names=["mel"], output_names=["scores"],
            dynamic_axes={"mel": {2: "frames"}, "scores": {1: "half_frames"}},
        )  # fmt: skip
        out.parent.mkdir(parents=True, exist_ok=True)
        quantize_dynamic(
            whole,
            out,
            weight_type=QuantType.QInt8,
            per_channel=True,
            op_types_to_quantize=["MatMul"],
        )


def main() -> None:
    """Export and say how large the file is."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("weights", type=Path)
    parser.add_argument("out", type=Path, nargs="?", default=MODEL)
    parser.add_argument("--view", type=int, nargs="+", required=True)
    parser.add_argument("--blank", type=float, default=0.0)
    args = parser.parse_args()
    export(args.weights, args.view, args.blank, args.out)
    print(f"{args.out}: {args.out.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
