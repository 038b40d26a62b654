"""The changes that add a board or a battery: each yields rigs and asks, smallest change first, unproven."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator

from sparewatt.parts import Battery, Converter, Load, Rig
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.fill import exact
from sparewatt.rig.hookup import board_index
from sparewatt.rig.operating import State
from sparewatt.studies.tries import Try, coins_for, round2, swap, swap_load, time_words

__all__ = ["batteries", "boards"]

LEAST_MINUTES = 10.0  # an hour of riding that runs a thing for less is no offer


_KIND_WORDS = {
    "buck": "step-down",
    "boost": "step-up",
    "buck_boost": "step-up-and-down",
    "inverter": "inverter",
}


def boards(solved: State) -> Iterator[Try]:
    """A board that steps both ways, one that steps down, or one that takes in more amps; also with another pulley."""
    bound, rig, ask = solved.bound, solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    board, cost = bound.hookup.board, coins_for(rig, "board")
    if board is None:
        target = (
            bound.hookup.battery.charge_voltage
            if bound.hookup.battery
            else bound.hookup.load.voltage
            if bound.hookup.load
            else None
        )
        if target is None:
            return
        edge = float(edge_watts(bound.nominal(), solved.gear, ask.effort)[0][0])
        amps = round2(max(0.3, 0.75 * edge / target.value))
        for kind in ("buck", "buck_boost"):
            new = Converter(
                name="added board",
                kind=kind,
                at="rig",
                set_voltage=exact(target.value),
                set_current=exact(amps),
                input_max=exact(80.0),
                input_current=exact(15.0),
            )
            changed = with_board(rig, new, bound.hookup.load)
            yield Try(
                kind="board",
                says=f"put a {_KIND_WORDS[kind]} board between machine and load, set to {target.value:g} V and {amps:g} A",
                rig=changed,
                ask=ask,
                edits=board_edits(rig, new, bound.hookup.load),
                cost=cost,
                size=0.55,
            )
        return
    k = board_index(rig, board)
    for kind, amps_in in ((board.kind, 20.0), ("buck_boost", 15.0)):
        if kind == board.kind and (board.input_current is None or board.input_current.value >= amps_in):
            continue
        wider = dataclasses.replace(
            board,
            kind=kind,
            input_current=exact(amps_in),
            input_min=exact(6.0),
            restart=exact(6.5),
            input_max=exact(80.0),
            drop=exact(0.0),
            efficiency=None,
            efficiency_curve=None,
        )
        swapped = dataclasses.replace(rig, converter=swap(rig.converter, k, wider))
        edits = [
            (f"converter.{k}.kind", kind),
            (f"converter.{k}.input_current", f"{amps_in:g} A"),
            (f"converter.{k}.input_min", "6 V"),
            (f"converter.{k}.restart", "6.5 V"),
            (f"converter.{k}.input_max", "80 V"),
            (f"converter.{k}.drop", "0 V"),
        ]
        if kind != board.kind:
            edits.append((f"converter.{k}.efficiency", ""))
        yield Try(
            kind="board",
            says=f"use a {_KIND_WORDS[kind]} board that takes in {amps_in:g} A from 6 V up",
            rig=swapped,
            ask=ask,
            edits=tuple(edits),
            cost=cost,
            size=0.5,
        )


def batteries(solved: State) -> Iterator[Try]:
    """A battery in between: the ride fills it, the load takes from it."""
    bound, rig = solved.bound, solved.filled.rig
    load = bound.hookup.load
    if load is None or bound.hookup.battery is not None or load.power is None:
        return
    edge = float(edge_watts(bound.nominal(), solved.gear, solved.ask.effort)[0][0])
    through = bound.hookup.board
    low_volts = load.voltage is not None and load.voltage.value <= 30 and through is None
    volts = (
        load.voltage.value
        if low_volts and load.voltage
        else (24.0 if bound.params[0, 0] * float(bound.ratio[solved.gear, 0]) * 7 > 26 else 12.0)
    )
    volts = min((6.0, 12.0, 24.0), key=lambda v: abs(v - volts))
    amps = round2(max(0.3, 0.7 * edge / (volts * 1.15)))
    hours = math.ceil(max(7.0, 6 * amps))
    battery = Battery(
        name="battery in between",
        chemistry="agm",
        voltage=exact(volts),
        capacity=exact(hours * 3600.0),
        through="charging board",
    )
    charger = Converter(
        name="charging board",
        kind="buck_boost",
        at="rig",
        set_voltage=exact(volts * 1.19),
        set_current=exact(amps),
        input_max=exact(80.0),
        input_current=exact(15.0),
    )
    boards = tuple(
        dataclasses.replace(b, at="load") if through is not None and b == through else b
        for b in rig.converter
    )
    changed = dataclasses.replace(
        rig,
        battery=battery,
        converter=(*boards, charger),
        diode=rig.diode if rig.diode and rig.diode.kind != "none" else None,
    )
    ask = dataclasses.replace(solved.ask, load="charge", gear=None, cadence=None)
    edits: list[tuple[str, str]] = []
    if through is not None:
        edits.append((f"converter.{board_index(rig, through)}.at", "load"))
    edits += [
        (
            "converter+",
            (
                'name = "charging board"\nkind = "buck_boost"\nat = "rig"\ninput_max = "80 V"\ninput_current = "15 A"\n'
                f'set_voltage = "{volts * 1.19:g} V"\nset_current = "{amps:g} A"'
            ),
        ),
        (
            "battery+",
            (
                'name = "battery in between"\nchemistry = "agm"\nthrough = "charging board"\n'
                f'voltage = "{volts:g} V"\ncapacity = "{hours:g} Ah"'
            ),
        ),
    ]
    minutes = 60 * 0.8 * volts * 1.1 * amps / load.power.value
    if minutes < LEAST_MINUTES:
        return
    runs = time_words(60 * minutes)
    says = f"put a {volts:g} V battery of {hours:g} Ah in between: an hour of riding runs it about {runs}"
    yield Try(
        kind="battery",
        says=says,
        rig=changed,
        ask=ask,
        edits=tuple(edits),
        cost=coins_for(rig, "battery") + coins_for(rig, "board"),
        size=0.7,
    )


def with_board(rig: Rig, board: Converter, load: Load | None) -> Rig:
    """The rig with one more board on it, feeding the battery or this load."""
    if load is None and rig.battery is not None:
        return dataclasses.replace(
            rig,
            converter=(*rig.converter, board),
            battery=dataclasses.replace(rig.battery, through=board.name),
        )
    assert load is not None
    k = rig.load.index(load)
    return dataclasses.replace(
        swap_load(rig, k, dataclasses.replace(load, through=board.name)), converter=(*rig.converter, board)
    )


def board_edits(rig: Rig, board: Converter, load: Load | None) -> tuple[tuple[str, str], ...]:
    """The rig-file edits that make `with_board`."""
    assert board.set_voltage is not None and board.set_current is not None
    body = (
        f'name = "{board.name}"\nkind = "{board.kind}"\nat = "rig"\nset_voltage = "{board.set_voltage.value:g} V"\n'
        f'set_current = "{board.set_current.value:g} A"\ninput_max = "80 V"\ninput_current = "15 A"'
    )
    user = (
        ("battery.through", board.name)
        if load is None
        else (f"load.{rig.load.index(load)}.through", board.name)
    )
    return (("converter+", body), user)
