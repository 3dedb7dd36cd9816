from __future__ import annotations

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)  # disks and shared machines are slow at times
settings.load_profile("unhurried")
