"""A phone as instrument: speed from sound and film, and what a run-down of speeds says."""
