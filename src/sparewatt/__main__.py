"""`python -m sparewatt` is the command line."""

from __future__ import annotations

import sys

from sparewatt.cli import main

sys.exit(main())
