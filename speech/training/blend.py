"""Average two trained networks' weights.

    python -m speech.training.blend A.pt B.pt SHARE OUT.pt

Two runs from one pretrained encoder with different seeds lie in one basin, and their mean knows
speakers better than either (Wortsman et al. 2022, *Model soups*). Their peaks in time differ
though, so the mean says some phones twice: train its last layer a little afterwards
(``speech.training.train --start OUT.pt --last-layer``).
"""

from __future__ import annotations

import sys
from pathlib import Path

import torch


def blend(first: Path, second: Path, share: float, out: Path) -> None:
    """Write ``share`` of the first file's weights and the rest of the second's."""
    a, b = (torch.load(path, map_location="cpu") for path in (first, second))
    torch.save(
        {name: (share * a[name].float() + (1 - share) * b[name].float()).half() for name in a}, out
    )


if __name__ == "__main__":
    blend(Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3]), Path(sys.argv[4]))
