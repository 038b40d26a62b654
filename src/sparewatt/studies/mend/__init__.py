"""Why a rig does less than it should: causes ranked from a few readings, and what would better it."""
