"""Sentences, charts, drawings and sheets made from results."""
