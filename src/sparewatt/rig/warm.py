"""`python -m sparewatt.rig.warm`: compile every kernel into its cache, so that no question waits for it."""

from __future__ import annotations

__all__ = ["main"]


def main() -> None:
    """Compile what is not compiled yet; nothing to do costs about a second."""
    from sparewatt.rig import fast, motion

    fast.warm()
    motion.warm()


if __name__ == "__main__":
    main()
