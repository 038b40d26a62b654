"""The bench: procedures, readings, known parts, odd readings, dummy loads."""
