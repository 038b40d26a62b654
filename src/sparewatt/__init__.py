"""Sparewatt turns spare parts and leg power into useful electricity."""

__all__ = ["__version__"]

__version__ = "0.1.0"
