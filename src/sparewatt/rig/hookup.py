"""Which board, battery and load board are joined for one load."""

from __future__ import annotations

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Converter, Load, Rig
from sparewatt.rig.layout import Hookup

__all__ = ["boards_on_rig", "charging_board", "find_load", "hookup"]


def find_load(rig: Rig, name: str) -> Load | None:
    """The load of that name; None for "charge" when there is a battery."""
    for load in rig.load:
        if load.name.casefold() == name.casefold():
            return load
    if name.casefold() == "charge":
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


def boards_on_rig(rig: Rig) -> tuple[Converter, ...]:
    """The boards fed by the machine itself, in the order of the file."""
    return tuple(board for board in rig.converter if _on_rig(rig, board))


def charging_board(rig: Rig) -> Converter | None:
    """The board between machine and battery; None when the battery hangs straight on the diode."""
    if rig.battery is None:
        return None
    if rig.battery.through:
        return _named(rig, rig.battery.through)
    free = [
        b for b in boards_on_rig(rig) if b.at == "rig" or all(load.through != b.name for load in rig.load)
    ]
    return free[0] if len(free) == 1 else None


def hookup(rig: Rig, name: str) -> Hookup:
    """Parts joined for the load called `name` ("charge": battery alone)."""
    load = find_load(rig, name)
    charger = charging_board(rig)
    if load is None:
        return Hookup(load=None, board=charger, battery=rig.battery, load_board=None)
    own = _named(rig, load.through) if load.through else None
    if rig.battery is not None and not load.without_battery:
        if own is not None and own == charger:
            return Hookup(load=load, board=charger, battery=rig.battery, load_board=None)
        if own is not None and own.at == "rig":
            return Hookup(load=load, board=own, battery=None, load_board=None)
        return Hookup(load=load, board=charger, battery=rig.battery, load_board=own)
    others = [b for b in boards_on_rig(rig) if b != own and (own is None or b.at == "rig")]
    if own is not None and (own.at == "rig" or not others):
        return Hookup(load=load, board=own, battery=None, load_board=None)
    spare = [b for b in others if all(x.through != b.name for x in rig.load)]
    board = spare[0] if spare else None
    if board is None:
        return Hookup(load=load, board=own, battery=None, load_board=None)
    return Hookup(load=load, board=board, battery=None, load_board=own)


def _on_rig(rig: Rig, board: Converter) -> bool:
    if board.at:
        return board.at == "rig"
    if rig.battery is None:
        return True
    if rig.battery.through == board.name:
        return True
    users = [load for load in rig.load if load.through == board.name]
    if users:
        return all(bool(load.without_battery) for load in users)
    return board.kind != "inverter"


def _named(rig: Rig, name: str) -> Converter:
    for board in rig.converter:
        if board.name.casefold() == name.casefold():
            return board
    known = ", ".join(f"'{b.name}'" for b in rig.converter) or "none are in the file"
    raise BadRequest(
        Problem(
            where="converter",
            read=name,
            problem=f"there is no board called '{name}'",
            hint=f"boards: {known}",
        )
    )


def _names(rig: Rig) -> str:
    names = [f"'{load.name}'" for load in rig.load] + (["'charge'"] if rig.battery else [])
    return "loads: " + ", ".join(names) if names else ""
