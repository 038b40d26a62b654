"""Which board, battery and load board are joined for one load, read off the circuit."""

from __future__ import annotations

import dataclasses

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Converter, Fuse, Load, Measured, Rig
from sparewatt.rig.circuit import CHARGE, boards_on_rig, charging_board, circuit_of
from sparewatt.rig.layout import Hookup

__all__ = [
    "as_asked",
    "as_set",
    "board_index",
    "boards_on_rig",
    "charging_board",
    "find_load",
    "hookup",
    "path_fuses",
    "setting_key",
    "turned",
]


def find_load(rig: Rig, name: str) -> Load | None:
    """The load of that name; None for "charge" when there is a battery."""
    for load in rig.load:
        if load.name.casefold() == name.casefold():
            return load
    if name.casefold() == CHARGE:
        if rig.battery is not None:
            return None
        raise BadRequest(
            Problem(
                where="load",
                read=name,
                problem="this rig has no battery to charge",
                hint=_names(rig) or "add a [battery]",
            )
        )
    raise BadRequest(
        Problem(where="load", read=name, problem=f"there is no load called '{name}'", hint=_names(rig))
    )


def hookup(rig: Rig, name: str) -> Hookup:
    """Parts joined for the load called `name` ("charge": battery alone), each board at the setting asked of it."""
    load = find_load(rig, name)
    circuit = circuit_of(rig)
    way = circuit.boards(CHARGE if load is None else load.name)
    stored = load is None or circuit.stored(load)
    boards = [as_set(board, _setting(rig, load, board, way)) for board, _after in way]
    before = sum(not after for _board, after in way) if stored else min(len(way), 1)
    return Hookup(
        load=load,
        board=boards[0] if before else None,
        battery=rig.battery if stored else None,
        load_board=boards[before] if len(boards) > before else None,
    )


def as_asked(rig: Rig, name: str) -> Rig:
    """The rig with the boards on the way to a load at the settings asked of them."""
    if not any(board.setting for board in rig.converter):
        return rig
    joined = hookup(rig, name)
    set_ = {board.name: board for board in (joined.board, joined.load_board) if board is not None}
    return dataclasses.replace(rig, converter=tuple(set_.get(b.name, b) for b in rig.converter))


def as_set(board: Converter, setting: str) -> Converter:
    """A board at one of its settings; what the setting leaves open stays as the board has it."""
    for point in board.setting:
        if setting and point.name.casefold() == setting.casefold():
            return dataclasses.replace(
                board,
                set_voltage=point.set_voltage or board.set_voltage,
                set_current=point.set_current or board.set_current,
            )
    return board


def board_index(rig: Rig, board: Converter) -> int:
    """Place of a board in the file, at whatever setting it stands."""
    return next(k for k, one in enumerate(rig.converter) if one.name == board.name)


def setting_key(rig: Rig, board: Converter, load: Load | None, key: str) -> str:
    """Key in the file of a board's set volts or amps, as they are for one load."""
    k, asked = board_index(rig, board), load.setting if load is not None else ""
    for wanted in (asked, rig.battery.setting if rig.battery is not None else ""):
        for n, point in enumerate(rig.converter[k].setting):
            at_it = as_set(rig.converter[k], point.name)
            same = (at_it.set_voltage, at_it.set_current) == (board.set_voltage, board.set_current)
            if (
                wanted
                and point.name.casefold() == wanted.casefold()
                and same
                and getattr(point, key) is not None
            ):
                return f"converter.{k}.setting.{n}.{key}"
    return f"converter.{k}.{key}"


def turned(rig: Rig, board: Converter, load: Load | None, key: str, value: Measured) -> tuple[Rig, str]:
    """The rig with a screw of a board turned, as it stands for one load, and that screw's key in the file."""
    where, k = setting_key(rig, board, load, key), board_index(rig, board)
    old = rig.converter[k]
    if ".setting." in where:
        n = int(where.split(".")[3])
        points = list(old.setting)
        points[n] = dataclasses.replace(points[n], **{key: value})  # type: ignore[arg-type]
        new = dataclasses.replace(old, setting=tuple(points))
    else:
        new = dataclasses.replace(old, **{key: value})  # type: ignore[arg-type]
    boards = (*rig.converter[:k], new, *rig.converter[k + 1 :])
    return dataclasses.replace(rig, converter=boards), where


def path_fuses(rig: Rig, joined: Hookup) -> tuple[list[tuple[Fuse, float]], ...]:
    """Fuses on the way to a load by the amps they feel, each with its rating: the machine's, what comes out of the board
    on the rig, the battery's own, the load's as seen where its own board (if any) takes in.
    """
    circuit = circuit_of(rig)
    way = list(circuit.path(joined.name))
    way += [b for b in circuit.path(CHARGE) if b not in way] if joined.battery is not None else []
    found: tuple[list[tuple[Fuse, float]], ...] = ([], [], [], [])
    passed = stored = 0
    for branch in way:
        passed += branch.kind == "board" and branch.station == 0
        stored += branch.kind == "outlets"
        behind = stored or passed > 1 or branch.kind == "load"
        at = 2 if branch.kind == "post" else 3 if behind else 0 if branch.kind in ("machine", "feed") else 1
        stepped = joined.load_board is not None and branch.kind == "load"
        scale = _step(joined) if stepped else 1.0
        found[at].extend(
            (p.part, p.part.rating.value * scale)
            for p in branch.fuses
            if isinstance(p.part, Fuse) and p.part.rating is not None
        )
    return found


def _step(joined: Hookup) -> float:
    """Volts behind a load's own board over the volts it takes in, its losses left out."""
    own, board = joined.load_board, joined.board
    fed = (
        joined.battery.voltage
        if joined.battery is not None
        else board.set_voltage
        if board is not None
        else None
    )
    if own is None or own.set_voltage is None or fed is None or fed.value <= 0:
        return 1.0
    return own.set_voltage.value / fed.value


def _setting(rig: Rig, load: Load | None, board: Converter, way: tuple[tuple[Converter, bool], ...]) -> str:
    """The setting asked of a board on the way: by the battery of what charges it, by a load of the last one before it."""
    if (
        board == charging_board(rig)
        and rig.battery is not None
        and (load is None or not load.without_battery)
    ):
        return rig.battery.setting
    return load.setting if load is not None and board == way[-1][0] else ""


def _names(rig: Rig) -> str:
    names = [f"'{load.name}'" for load in rig.load] + (["'charge'"] if rig.battery else [])
    return "loads: " + ", ".join(names) if names else ""
