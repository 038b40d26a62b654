"""Rigs that somebody could have built, drawn by a seed: written as a rig file, so that every section reads the same text."""

from __future__ import annotations

import random
from pathlib import Path

from sparewatt.files import Loaded, read_rig, read_text

__all__ = ["SCENARIOS", "any_rig", "any_text", "known_rigs"]

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = sorted((ROOT / "tests" / "scenarios").glob("*.toml"))
DEMOS = sorted((ROOT / "src" / "sparewatt" / "files" / "demos").glob("*/rig.toml"))


def known_rigs() -> list[tuple[str, Loaded]]:
    """The demos and the scenarios, by name."""
    return [(f.parent.name if f.stem == "rig" else f.stem, read_rig(f)) for f in (*DEMOS, *SCENARIOS)]


def any_rig(seed: int) -> Loaded:
    """One rig."""
    return read_text(any_text(seed))


def any_text(seed: int) -> str:
    """The rig file of a seed: a rider, a drive that suits its machine more or less, boards, a battery or none, loads."""
    r = random.Random(seed)
    lines = ['name = "any rig"']
    riders = r.choice([1, 1, 2])
    for k in range(riders):
        fit = r.choice(["not fit", "active", "fit"])
        lines += [
            "[[rider]]",
            f'name = "rider {k + 1}"',
            f'fitness = "{fit}"',
            f'mass = "{r.randint(45, 95)} kg"',
        ]
    volts, k_emf = r.choice([(12, 0.045), (24, 0.075), (36, 0.11), (90, 0.19), (130, 0.24)])
    k_emf *= r.uniform(0.85, 1.15)
    ohms = 1.6 * k_emf * r.uniform(1.5, 5.0) ** 0.5
    lines += _drive(r, k_emf)
    lines += ["[machine]", f'emf_constant = "{k_emf:.3g} V*s/rad +/- {0.02 * k_emf:.2g} V*s/rad"']
    lines += [
        f'resistance = "{ohms:.2g} ohm"',
        f'plate_voltage = "{volts} V"',
        f'plate_current = "{r.choice([5, 9, 14])} A"',
    ]
    if r.random() < 0.6:
        lines.append(f'plate_speed = "{r.choice([2700, 3400, 5000])} rpm"')
    store = r.random() < 0.6
    through_board = r.random() < 0.7
    if store:
        lines += ["[diode]", 'kind = "schottky"', 'current_rating = "20 A"', 'voltage_rating = "100 V"']
    charge = r.choice([12, 12, 24])
    boards = []
    if through_board:
        kind = r.choice(["buck", "buck_boost", "boost"])
        out = (1.2 if store else r.choice([1.0, 1.15])) * charge
        boards.append("main board")
        lines += [
            "[[converter]]",
            'name = "main board"',
            f'kind = "{kind}"',
            'at = "rig"',
            f'set_voltage = "{out:.1f} V"',
        ]
        lines += [f'set_current = "{r.choice([2, 3, 5, 8])} A"'] if r.random() < 0.6 else []
        lines += [f'input_max = "{r.choice([40, 60, 80])} V"', f'input_current = "{r.choice([8, 12, 20])} A"']
        lines += [f'output_current = "{r.choice([5, 10])} A"'] if r.random() < 0.5 else []
    if store:
        lines += [
            "[battery]",
            f'voltage = "{charge} V"',
            f'chemistry = "{r.choice(["flooded", "agm", "gel", "lifepo4"])}"',
        ]
        lines += [
            f'capacity = "{r.choice([7, 18, 36, 75])} Ah"',
            f'charge = "{r.choice([20, 50, 80, 95])} %"',
        ]
        lines += ['through = "main board"'] if boards else []
        lines += [f"voltage_limited = {r.choice(['true', 'false'])}"] if r.random() < 0.7 else []
        lines += [f'temperature = "{r.choice([-5, 5, 20, 35])} degC"'] if r.random() < 0.4 else []
        if r.random() < 0.4:
            lines += [
                "[[converter]]",
                'name = "phone board"',
                'kind = "buck"',
                'at = "load"',
                'set_voltage = "5.1 V"',
            ]
            boards.append("phone board")
    lines += _loads(r, charge, store, boards)
    lines += _wires(r, store)
    if r.random() < 0.25:
        for k in range(r.choice([1, 2])):
            lines += ["[[neighbour]]", f'name = "rig {k + 2}"', 'lead_resistance = "0.05 ohm"']
            lines += ["[neighbour.converter]", 'name = "its board"', f'set_voltage = "{out + r.uniform(-0.3, 0.3):.2f} V"',
                      f'kind = "{kind}"'] if boards and boards[0] == "main board" and through_board else []  # fmt: skip
    if r.random() < 0.5:
        lines += ["[place]", f'temperature = "{r.choice([0, 12, 20, 32])} degC"']
        lines += ['volume = "40 m3"', "closed = true"] if r.random() < 0.3 else []
        lines += ["wet = true"] if r.random() < 0.3 else []
    return "\n".join(lines) + "\n"


def _drive(r: random.Random, k_emf: float) -> list[str]:
    """A chain and a belt or roller that bring the machine to some useful volts, or miss them."""
    wanted = r.choice([14, 18, 28, 42]) * r.uniform(0.8, 1.25) / k_emf / 7.0
    teeth = r.choice([[18], [16, 21], [14, 18, 24]])
    second = max(1.2, wanted / (42 / teeth[0]))
    small = max(12, round(600 / second))
    kind = r.choice(["flat_belt", "ribbed_belt", "roller", "toothed_belt"])
    lines = [
        "[[stage]]",
        'kind = "chain"',
        "driver_teeth = [42]",
        f"driven_teeth = {teeth}",
        "guarded = true",
    ]
    lines += [
        "[[stage]]",
        f'kind = "{kind}"',
        'driver_diameter = "600 mm"',
        f'driven_diameter = "{small} mm"',
    ]
    lines += (
        [f'press_force = "{r.choice([60, 120, 200])} N"'] if kind == "roller" and r.random() < 0.7 else []
    )
    lines += [f'tension = "{r.choice([60, 120, 200])} N"'] if "belt" in kind and r.random() < 0.5 else []
    return lines


def _loads(r: random.Random, volts: int, store: bool, boards: list[str]) -> list[str]:
    lines: list[str] = []
    for k in range(r.randint(1, 3)):
        kind = r.choice(["led", "electronics", "lamp", "heater", "dc_motor", "usb"])
        watts = r.choice([4, 10, 20, 40, 60, 110])
        at = 5 if kind == "usb" else volts
        lines += [
            "[[load]]",
            f'name = "thing {k + 1}"',
            f'kind = "{kind}"',
            f'power = "{watts} W"',
            f'voltage = "{at} V"',
        ]
        if kind == "usb" and "phone board" in boards:
            lines.append('through = "phone board"')
        elif not store and "main board" in boards:
            lines.append('through = "main board"')
        lines += [f'use_time = "{r.choice([10, 40, 120])} min"'] if r.random() < 0.6 else []
        lines += ['bout = "30 s"', 'breather = "60 s"'] if r.random() < 0.15 else []
        lines += [f'uses_per_day = "{r.choice([1, 2, 5])}"'] if r.random() < 0.3 else []
    return lines


def _wires(r: random.Random, store: bool) -> list[str]:
    lines = []
    for run in ("machine", "board", "load", *(("battery",) if store else ())):
        if r.random() < 0.6:
            lines += [
                "[[wire]]",
                f'run = "{run}"',
                f'length = "{r.choice([1, 3, 8])} m"',
                f'size = "{r.choice([1, 2.5, 6])} mm2"',
            ]
        if r.random() < 0.4:
            lines += [
                "[[fuse]]",
                f'run = "{run}"',
                f'rating = "{r.choice([5, 10, 20])} A"',
                'dc_voltage = "58 V"',
            ]
    return lines
