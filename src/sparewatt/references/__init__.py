"""Where the formulas and figures come from, by key."""
