"""Runs Debian's ngspice on a netlist and reads what its `.meas` lines print: a second opinion from outside the project."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

__all__ = ["CircuitRefused", "SimulatorMissing", "measure", "simulator"]

PROGRAM = "ngspice"
_LINE = re.compile(
    r"^(?P<name>[a-z_]\w*)\s*=\s*(?P<value>[-+]?(?:\d[\d.]*(?:e[-+]?\d+)?|nan|inf))\b", re.IGNORECASE
)


class SimulatorMissing(RuntimeError):
    """The circuit simulator is not installed."""


class CircuitRefused(RuntimeError):
    """The simulator could not run the netlist, or a measurement came to nothing."""


def simulator() -> str:
    """Where the simulator is, found by name."""
    found = shutil.which(PROGRAM)
    if found is None:
        raise SimulatorMissing(
            f"{PROGRAM} is not installed; `make needs` or `apt-get install {PROGRAM}` brings it"
        )
    return found


def measure(netlist: str, *, timeout: float = 60.0) -> dict[str, float]:
    """The value of every `.meas` line of a netlist, by name.

    Runs in batch mode in a folder of its own; values come with seven digits. Each measurement asked for must come back
    finite, or CircuitRefused is raised with what the simulator said.
    """
    asked = re.findall(r"^\s*\.meas\w*\s+tran\s+(\w+)", netlist, re.IGNORECASE | re.MULTILINE)
    if not asked:
        raise CircuitRefused("the netlist has no `.meas tran` line, so there is nothing to read")
    program = simulator()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "circuit.cir")
        path.write_text(netlist, encoding="ascii")
        ran = subprocess.run(
            [program, "-b", str(path)],
            capture_output=True,
            text=True,
            check=False,
            timeout=timeout,
            cwd=folder,
        )
    values = _read(ran.stdout)
    missing = [name for name in asked if not math.isfinite(values.get(name.lower(), math.nan))]
    if ran.returncode != 0 or missing:
        said = "\n".join((ran.stderr.strip() or ran.stdout.strip()).splitlines()[-12:])
        raise CircuitRefused(
            f"not measured: {', '.join(missing) or 'nothing'}; exit code {ran.returncode}\n{said}"
        )
    return {name: values[name.lower()] for name in asked}


def _read(output: str) -> dict[str, float]:
    """Name and value of each line after the heading of the measurements; names come back in small letters."""
    _, found, after = output.partition("Measurements for Transient Analysis")
    if not found:
        return {}
    lines = (_LINE.match(line) for line in after.splitlines())
    return {m["name"].lower(): float(m["value"]) for m in lines if m}
