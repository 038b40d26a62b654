"""The circuit of a rig, made once from its record: read by solver, drawing, guard and mend."""

from __future__ import annotations

import math

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Battery, Converter, Diode, Fuse, Load, Measured, Rig, Socket, Switch, Wire
from sparewatt.rig.netlist import (
    BUS,
    CHARGE,
    JUNCTION,
    MINUS,
    OUTLETS,
    POSTS,
    SHARED,
    Branch,
    Circuit,
    Node,
    Piece,
)

__all__ = [
    "CHARGE",
    "MINUS",
    "SHARED",
    "Branch",
    "Circuit",
    "Node",
    "Piece",
    "boards_on_rig",
    "charging_board",
    "circuit_of",
    "main_board",
    "set_out_of_reach",
]


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


_MADE: dict[int, Circuit] = {}  # the last few, by the identity of their (frozen) rigs, which they keep alive
KEPT = 16


def main_board(rig: Rig) -> Converter | None:
    """What each of several rigs has of its own and joins by: the charging board, else the first one on the bus; None when
    machines hang bare on battery or load."""
    charger, boards = charging_board(rig), boards_on_rig(rig)
    if rig.battery is not None:
        return charger
    return boards[0] if boards else None


def circuit_of(rig: Rig) -> Circuit:
    """The circuit of a rig, as written or filled in."""
    made = _MADE.get(id(rig))
    if made is None or made.rig is not rig:
        made = _Maker(rig).made()
        if len(_MADE) >= KEPT:
            _MADE.clear()
        _MADE[id(rig)] = made
    return made


def set_out_of_reach(rig: Rig) -> list[tuple[str, Converter, float]]:
    """Set points beyond the volts their board can make: key in the file, board, volts set."""
    found = []
    for k, board in enumerate(rig.converter):
        points = [(f"converter.{k}.set_voltage", board.set_voltage)]
        points += [
            (f"converter.{k}.setting.{n}.set_voltage", p.set_voltage) for n, p in enumerate(board.setting)
        ]
        found += [
            (where, board, volts.value)
            for where, volts in points
            if volts is not None and not math.isclose(volts.value, board.made(volts.value))
        ]
    return found


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


class _Maker:
    """Puts a circuit together, branch by branch."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.on_rig = boards_on_rig(rig)
        self.charger = charging_board(rig)
        self.main = main_board(rig)
        self.every = tuple(
            Piece(f"{kind}.{k}", part, getattr(part, "name", ""))
            for kind in ("fuse", "switch", "socket", "wire")
            for k, part in enumerate(getattr(rig, kind))
        )
        self.nodes: dict[str, Node] = {}
        self.branches: dict[str, Branch] = {}
        self.paths: dict[str, tuple[str, ...]] = {}
        self.trunk: tuple[str, ...] = ()  # from the machine to the bus, and on to where the rigs join

    def made(self) -> Circuit:
        stations = (self.rig.name, *(other.name for other in self.rig.neighbour))
        for k in range(len(stations)):
            self.station(k)
        for board in self.on_rig:
            if board != self.main:
                self.on_bus(board)
        if self.rig.battery is not None:
            self.battery(self.rig.battery)
        for k, load in enumerate(self.rig.load):
            start, way, unhooked = self.source(load)
            lead = self.add(
                f"lead of {load.name}", "load", start, f"load {load.name}",
                pieces=self.lead_pieces(load, k), unhooked=unhooked,
            )  # fmt: skip
            self.paths[load.name] = (*way, lead)
        for board in self.rig.converter:
            if f"through {board.name}" not in self.branches:
                self.idle(board)
        return Circuit(
            rig=self.rig,
            nodes=tuple(self.nodes.values()),
            branches=tuple(self.branches.values()),
            paths=self.paths,
            stations=stations,
        )

    # ---- pieces ----
    def add(
        self, name: str, kind: str, start: str, end: str, *, station: int = 0, pieces: tuple[Piece, ...] = (),
        where: str = "", part: Diode | Converter | None = None, lead: Measured | None = None, unhooked: bool = False,
        second: bool = False,
    ) -> str:  # fmt: skip
        """One branch with the nodes at its ends; its name."""
        if name not in self.branches:
            for node in (start, end):
                if node not in self.nodes:
                    self.nodes[node] = Node(node, _node_kind(node, kind), station)
            self.branches[name] = Branch(
                name=name, kind=kind, start=start, end=end, station=station, where=where, part=part, lead=lead,
                unhooked=unhooked, second=second,
                wires=tuple(p for p in pieces if isinstance(p.part, Wire)),
                fuses=tuple(p for p in pieces if isinstance(p.part, Fuse)),
                switches=tuple(p for p in pieces if isinstance(p.part, Switch) and not p.part.signal),
                signals=tuple(p for p in pieces if isinstance(p.part, Switch) and p.part.signal),
                sockets=tuple(p for p in pieces if isinstance(p.part, Socket)),
            )  # fmt: skip
        return name

    def pieces(self, run: str) -> tuple[Piece, ...]:
        """What the file gives a whole run."""
        return tuple(p for p in self.every if p.part.run == run and not p.part.to)

    def leads_to(self, part: Fuse | Switch | Socket | Wire) -> Load | Converter | None:
        """What a piece leads to; a load and a board of one name are told apart by the run."""
        if not part.to:
            return None
        loads, boards = (
            [one for one in many if one.name.casefold() == part.to.casefold()]
            for many in (self.rig.load, self.rig.converter)
        )
        found: list[Load | Converter] = [*loads, *boards] if part.run == "load" else [*boards, *loads]
        return found[0] if found else None

    def lead_pieces(self, load: Load, index: int) -> tuple[Piece, ...]:
        """What sits in the lead of a load: its own, and one like each that the file gives to all."""
        found = []
        for piece in self.every:
            if self.leads_to(piece.part) is load:
                found.append(piece)
            elif piece.part.run == "load" and not piece.part.to:
                many = len(self.rig.load) > 1 and piece.name
                found.append(
                    Piece(
                        piece.where, piece.part, f"{piece.name} for the {load.name}" if many else piece.name
                    )
                )
        return tuple(found)

    def feed_pieces(self, board: Converter) -> tuple[Piece, ...]:
        """What sits in the lead into a board."""
        return tuple(p for p in self.every if self.leads_to(p.part) is board)

    # ---- rigs ----
    def station(self, k: int) -> None:
        """Machine, diode, bus and the board of one rig, up to where the rigs join."""
        rig = self.rig
        other = rig.neighbour[k - 1] if k else None
        before = f"{other.name}: " if other is not None else ""
        above = f"neighbour.{k - 1}." if k else ""
        own = other is not None and other.diode is not None
        diode = other.diode if own and other is not None else rig.diode
        lead = other.lead_resistance if other is not None else None
        if lead is None and rig.neighbour:
            lead = rig.bus.lead_resistance if rig.bus is not None else None
        machine = self.add(
            f"{before}machine lead", "machine", f"{before}machine", f"{before}{BUS}",
            station=k, pieces=self.pieces("machine"),
            where=f"{above}diode" if own else "diode", part=diode if diode and diode.kind != "none" else None,
        )  # fmt: skip
        way = [machine]
        joint = SHARED if rig.neighbour else ""
        if self.main is not None:
            way += self.through(self.main, f"{before}{BUS}", k, joint or self.outlet(self.main), lead)
        elif rig.battery is not None or rig.neighbour:
            # no board: the run on to the battery, or to where the rigs join, goes on from the bus
            end = joint or JUNCTION
            way.append(
                self.add(
                    f"{before}lead on", "output", f"{before}{BUS}", end,
                    station=k, pieces=self.pieces("board"), lead=lead,
                )
            )  # fmt: skip
        if k == 0:
            self.trunk = tuple(way)

    def through(
        self, board: Converter, bus: str, k: int, end: str, lead: Measured | None = None
    ) -> tuple[str, ...]:
        """A board of one rig from its bus to what it feeds."""
        before = f"{self.rig.neighbour[k - 1].name}: " if k else ""
        other = self.rig.neighbour[k - 1] if k else None
        where, part = f"converter.{self.rig.converter.index(board)}", board
        if other is not None and other.converter is not None:
            where, part = f"neighbour.{k - 1}.converter", other.converter
        name = f"{before}{board.name}"
        feed = self.add(f"{name} feed", "feed", bus, f"{name} in", station=k, pieces=self.feed_pieces(board))
        inside = self.add(
            f"{before}through {board.name}", "board", f"{name} in", f"{name} out",
            station=k, where=where, part=part,
        )  # fmt: skip
        runs = self.rig.battery is None or board == self.charger
        out = self.add(
            f"{name} output", "output", f"{name} out", end,
            station=k, pieces=self.pieces("board") if runs else (), lead=lead,
        )  # fmt: skip
        return feed, inside, out

    def outlet(self, board: Converter) -> str:
        """The node that a board feeds."""
        if board == self.charger:
            return JUNCTION
        return SHARED if board == self.main and self.rig.neighbour else f"{board.name} outlet"

    def on_bus(self, board: Converter) -> tuple[str, ...]:
        """A further board on the bus of the first rig; the way to its outlet."""
        return (self.trunk[0], *self.through(board, BUS, 0, self.outlet(board)))

    def battery(self, battery: Battery) -> None:
        """The battery at its junction, and the run from it to what hangs on it."""
        junction = SHARED if self.rig.neighbour else JUNCTION
        pieces = self.pieces("battery")
        post = self.add(
            "battery post", "post", junction, POSTS,
            pieces=tuple(p for p in pieces if isinstance(p.part, Fuse)), where="battery",
        )  # fmt: skip
        self.add(
            "from the battery", "outlets", junction, OUTLETS,
            pieces=tuple(p for p in pieces if not isinstance(p.part, Fuse)),
        )  # fmt: skip
        self.paths[CHARGE] = (*self.trunk, post)

    # ---- loads ----
    def source(self, load: Load) -> tuple[str, tuple[str, ...], bool]:
        """The node a load hangs on, the way there, and whether the battery is unhooked for it."""
        rig, charger = self.rig, self.charger
        own = _named(rig, load.through) if load.through else None
        stored = (*self.trunk, "from the battery")
        if rig.battery is not None and not load.without_battery:
            if own is None or own == charger:
                return OUTLETS, stored, False
            if own.at == "rig":
                return self.outlet(own), self.on_bus(own), False
            return self.hung(stored, self.behind(own, OUTLETS), False)
        unhooked = rig.battery is not None
        others = [b for b in self.on_rig if b != own and (own is None or b.at == "rig")]
        if own is not None and (own.at == "rig" or not others):
            return (*self.first(own), unhooked)
        spare = [b for b in others if all(x.through != b.name for x in rig.load)]
        if not spare:
            if own is not None:
                return (*self.first(own), unhooked)
            if self.main is None and len(self.trunk) > 1:
                return SHARED if rig.neighbour else JUNCTION, self.trunk, unhooked
            return BUS, self.trunk[:1], unhooked
        node, way = self.first(spare[0])
        if own is None:
            return node, way, unhooked
        return self.hung(way, self.behind(own, node, unhooked), unhooked)

    def hung(
        self, way: tuple[str, ...], more: tuple[str, ...], unhooked: bool
    ) -> tuple[str, tuple[str, ...], bool]:
        """The end of a way that goes on through a board."""
        return self.branches[more[-1]].end, (*way, *more), unhooked

    def first(self, board: Converter) -> tuple[str, tuple[str, ...]]:
        """The outlet of a board fed by the bus, and the way there."""
        if board == self.main:
            return SHARED if self.rig.neighbour else self.outlet(board), self.trunk
        if f"{board.name} feed" in self.branches and board not in self.on_rig:
            feed = self.add(
                f"{board.name} feed from the bus", "feed", BUS, f"{board.name} in", unhooked=True, second=True
            )
            out = f"{board.name} output"
            return self.branches[out].end, (self.trunk[0], feed, f"through {board.name}", out)
        return self.outlet(board), self.on_bus(board)

    def behind(self, board: Converter, node: str, unhooked: bool = False) -> tuple[str, ...]:
        """A board at a load, fed from a node."""
        name = f"{board.name} feed"
        if name in self.branches and self.branches[name].start != node:
            name = self.add(
                f"{board.name} feed from {node}",
                "feed",
                node,
                f"{board.name} in",
                unhooked=unhooked,
                second=True,
            )
        else:
            self.add(
                name, "feed", node, f"{board.name} in", pieces=self.feed_pieces(board), unhooked=unhooked
            )
        inside = self.add(
            f"through {board.name}", "board", f"{board.name} in", f"{board.name} out",
            where=f"converter.{self.rig.converter.index(board)}", part=board,
        )  # fmt: skip
        out = self.add(f"{board.name} output", "output", f"{board.name} out", f"{board.name} outlet")
        return name, inside, out

    def idle(self, board: Converter) -> None:
        """A board that nothing hangs on."""
        if self.rig.battery is not None:
            self.behind(board, OUTLETS)
        else:
            self.behind(board, self.outlet(self.main) if self.main is not None else BUS)


def _node_kind(name: str, kind: str) -> str:
    known = {POSTS: "posts", JUNCTION: "junction", OUTLETS: "outlets", SHARED: "shared"}
    if name in known:
        return known[name]
    last = name.rpartition(": ")[2]
    if last in (BUS, "machine"):
        return last
    if kind == "load" and name.startswith("load "):
        return "load"
    return {" in": "in", "out": "out"}.get(name[-3:], "outlet")
