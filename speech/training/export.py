"""Write the trained network as the small ONNX file the scorer loads.

    python -m speech.training.export WEIGHTS.pt --views 8 1500 [--blank NATS] --out ONE.onnx
    python -m speech.training.export ONE.onnx OTHER.onnx --out phone_scorer.onnx

Matrix weights become int8 (one scale a column) and are used so; those of convolutions are stored
as int8 and used in single precision.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import compose, helper, numpy_helper
from onnxruntime.quantization import QuantType, quantize_dynamic
from torch import Tensor, nn

from speech.phones import BLANK_INDEX, SYMBOLS
from speech.scorer import MODEL
from speech.training.network import N_MELS, WHOLE, PhoneNetwork


class Listening(nn.Module):
    """The network hearing a clip with each of ``views``: one mean, made inside the graph."""

    def __init__(self, network: PhoneNetwork, views: Sequence[int]) -> None:
        super().__init__()
        self.network = network
        self.view: Tensor
        self.register_buffer("view", torch.tensor(views))

    def forward(self, mel: Tensor) -> Tensor:
        """``mel`` (1, 80, frames) to log-probabilities (1, frames / 2, symbols)."""
        heard = self.network(mel.expand(self.view.shape[0], -1, -1), self.view)
        return heard.mean(0, keepdim=True).log_softmax(-1)


def export(weights: Path, views: Sequence[int], blank_nats: float, out: Path) -> None:
    """Write ``out``; ``blank_nats`` is taken off the blank's score in every frame.

    Training hides parts of clips, which teaches the network to leave out more than people do.
    """
    network = PhoneNetwork.holding(torch.load(weights, map_location="cpu")).eval()
    with torch.no_grad():
        network.head.bias[BLANK_INDEX] -= blank_nats
    with tempfile.TemporaryDirectory() as folder:
        whole, quantised = Path(folder) / "whole.onnx", Path(folder) / "quantised.onnx"
        torch.onnx.export(
            Listening(network, views), (torch.zeros(1, N_MELS, 200),), str(whole), dynamo=False,
            opset_version=17, input_names=["mel"], output_names=["scores"],
            dynamic_axes={"mel": {2: "frames"}, "scores": {1: "half_frames"}},
        )  # fmt: skip
        quantize_dynamic(
            whole,
            quantised,
            weight_type=QuantType.QInt8,
            per_channel=True,
            op_types_to_quantize=["MatMul"],
        )
        model = onnx.load(quantised)
    _pack_convolutions(model.graph)
    out.parent.mkdir(parents=True, exist_ok=True)
    onnx.save(model, out)


def _pack_convolutions(graph: onnx.GraphProto) -> None:
    """Keep each convolution's weight as int8, one scale an output channel, widened at loading."""
    held = {tensor.name: tensor for tensor in graph.initializer}
    for node in [node for node in graph.node if node.op_type == "Conv"]:
        name = node.input[1]
        if name not in held:  # packed already
            continue
        weight = numpy_helper.to_array(held[name])
        scale = (np.abs(weight).max(axis=(1, 2)) / 127).astype(np.float32)
        packed = np.round(weight / scale[:, None, None]).astype(np.int8)
        graph.initializer.remove(held[name])
        for suffix, array in (("packed", packed), ("scale", scale)):
            graph.initializer.append(numpy_helper.from_array(array, f"{name}.{suffix}"))
        widen = helper.make_node(
            "DequantizeLinear", [f"{name}.packed", f"{name}.scale"], [name], axis=0
        )
        graph.node.insert(0, widen)


def join(parts: Sequence[Path], out: Path) -> None:
    """Write one file of several exported networks: same input, their scores one under another."""
    graphs = []
    for number, path in enumerate(parts):
        model = compose.add_prefix(onnx.load(path), f"{number}.", rename_inputs=False)
        _pack_convolutions(model.graph)
        graphs.append(model.graph)
    outputs = [graph.output[0].name for graph in graphs]
    scores = helper.make_tensor_value_info(
        "scores", onnx.TensorProto.FLOAT, [len(parts), "half_frames", len(SYMBOLS)]
    )
    joined = helper.make_graph(
        [node for graph in graphs for node in graph.node]
        + [helper.make_node("Concat", outputs, ["scores"], axis=0)],
        "phone_scorer",
        [graphs[0].input[0]],
        [scores],
        [tensor for graph in graphs for tensor in graph.initializer],
    )
    model = helper.make_model(joined, opset_imports=onnx.load(parts[0]).opset_import)
    model.ir_version = onnx.load(parts[0]).ir_version
    onnx.checker.check_model(model)
    onnx.save(model, out)


def main() -> None:
    """Export, or join, and say how large the file is."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("weights", type=Path, nargs="+", help="one .pt, or .onnx files to join")
    parser.add_argument("--out", type=Path, default=MODEL)
    parser.add_argument("--views", type=int, nargs="+", default=[8, WHOLE])
    parser.add_argument("--blank", type=float, default=0.0)
    args = parser.parse_args()
    if args.weights[0].suffix == ".onnx":
        join(args.weights, args.out)
    else:
        export(args.weights[0], args.views, args.blank, args.out)
    print(f"{args.out}: {args.out.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
