"""`python -m sparewatt.rig.warm`: compile every kernel into its cache, so that no question waits for it."""

from __future__ import annotations

import contextlib
import os

__all__ = ["main"]


def main() -> None:
    """Compile what is not compiled yet; nothing to do costs about a second."""
    from sparewatt.rig import fast, motion

    with contextlib.suppress(AttributeError, OSError):
        os.nice(10)  # whoever asks meanwhile goes first
    fast.warm()
    motion.warm()


if __name__ == "__main__":
    main()
