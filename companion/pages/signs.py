"""Our own pictures, which a child may have instead of a name."""

from __future__ import annotations

SIGNS: tuple[str, ...] = (
    "lighthouse", "boat", "crab", "gull", "shell", "seal",
    "starfish", "whale", "anchor", "puffin", "bucket", "kite",
)  # fmt: skip
"""Each is a drawing of ``companion/pages/static/signs`` and a label that a child may have."""


def sign_of(label: str) -> str | None:
    """The picture of a label, where there is one."""
    return label if label in SIGNS else None
