"""One question each, answered with a frozen result; no disk, no ink."""
