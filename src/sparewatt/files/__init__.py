"""Reads and writes rig files, bench logs and projects; text with units becomes SI floats here."""
