"""Benchmarks: every figure is a ratio against a named alternative, or a bound, measured in one run."""
