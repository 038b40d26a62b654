"""The laws of `storing` as the kernel calls them."""

from __future__ import annotations

from sparewatt.rig import storing
from sparewatt.rig.compiling import small

__all__ = ["crowding", "kept_amps", "most_amps"]

crowding = small(storing.crowding)
kept_amps = small(storing.kept_amps)
most_amps = small(storing.most_amps)
