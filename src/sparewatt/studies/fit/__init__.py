"""Robust least squares with errors in both axes; knows nothing of rigs."""
