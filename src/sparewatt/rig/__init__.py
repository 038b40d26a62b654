"""Joins parts to formulas and finds where the rig runs."""
