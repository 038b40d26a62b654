"""Formulas on floats and arrays, each with its source; no parts, no files, no units."""
