"""A circuit as named nodes and branches: what hangs on what in a rig, and how to read it.

Nodes are points of the plus side; minus is one node, `MINUS`. A branch leads from one node to another and holds, in
order, the part it is there for and the fuses, switches, sockets and wires of the file that sit on it.
"""

from __future__ import annotations

from dataclasses import dataclass

from sparewatt.parts import Converter, Diode, Fuse, Load, Measured, Rig, Socket, Switch, Wire

__all__ = [
    "BUS",
    "CHARGE",
    "JUNCTION",
    "MINUS",
    "OUTLETS",
    "POSTS",
    "SHARED",
    "Branch",
    "Circuit",
    "Node",
    "Piece",
]

MINUS = "minus"
CHARGE = "charge"  # what the question of charging the battery is called
BUS, POSTS, JUNCTION, OUTLETS, SHARED = "bus", "battery posts", "battery lead", "outlets", "shared bus"


@dataclass(frozen=True, slots=True)
class Node:
    """A point of the plus side. kind: machine, bus, in, out, shared, junction, posts, outlets or load."""

    name: str
    kind: str
    station: int = 0


@dataclass(frozen=True, slots=True)
class Piece:
    """A fuse, switch, socket or wire where it sits: its key in the file, its record, and what it is called there."""

    where: str
    part: Fuse | Switch | Socket | Wire
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A way from one node to the next.

    kind: machine (machine to bus), feed (into a board), board (through it), output (from a board, or from the bare bus,
    to what it feeds), post (the battery's own), outlets (from the battery to what hangs on it) or load (to one load).
    unhooked: carries only while the battery is unhooked. second: another feed of a board that has one, plugged over for
    it. lead: ohms of a rig's own lead to the shared bus.
    """

    name: str
    kind: str
    start: str
    end: str
    where: str = ""  # key of the part in the file
    part: Diode | Converter | None = None
    station: int = 0
    unhooked: bool = False
    second: bool = False
    lead: Measured | None = None
    wires: tuple[Piece, ...] = ()
    fuses: tuple[Piece, ...] = ()
    switches: tuple[Piece, ...] = ()
    sockets: tuple[Piece, ...] = ()
    signals: tuple[Piece, ...] = ()  # contacts that only tell the board here to run

    @property
    def broken(self) -> tuple[Piece, ...]:
        """What it can be broken at: fuses, switches and sockets, in the order they are drawn."""
        return (*self.fuses, *self.switches, *self.sockets)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """What sits on it, in the order it is drawn."""
        return (*self.fuses, *self.switches, *self.sockets, *self.wires)


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """All nodes and branches of a rig, and the way to each load ("charge": to the battery) from its machine."""

    rig: Rig
    nodes: tuple[Node, ...]
    branches: tuple[Branch, ...]
    paths: dict[str, tuple[str, ...]]
    stations: tuple[str, ...]  # names of the rigs, this one first

    def branch(self, name: str) -> Branch:
        """The branch of that name."""
        return next(b for b in self.branches if b.name == name)

    def path(self, load: str) -> tuple[Branch, ...]:
        """The branches from the machine of the first rig to a load, or to the battery for "charge"."""
        return tuple(self.branch(name) for name in self.paths[load])

    def lead(self, load: Load) -> Branch:
        """The last branch before a load."""
        return self.branch(self.paths[load.name][-1])

    def stored(self, load: Load) -> bool:
        """Whether the battery feeds a load."""
        return any(self.branch(name).kind == "outlets" for name in self.paths[load.name])

    def boards(self, load: str) -> tuple[tuple[Converter, bool], ...]:
        """The boards on the way to a load, each with whether the battery comes before it."""
        found, stored = [], False
        for branch in self.path(load):
            stored = stored or branch.kind == "outlets"
            if isinstance(branch.part, Converter):
                found.append((branch.part, stored))
        return tuple(found)

    def from_node(self, node: str) -> tuple[Branch, ...]:
        """The branches that begin at a node."""
        return tuple(b for b in self.branches if b.start == node)

    def nets(self) -> dict[str, str]:
        """The net of each node: nodes with nothing but wire between them are one."""
        found = {node.name: node.name for node in self.nodes}

        def root(name: str) -> str:
            while found[name] != name:
                name = found[name]
            return name

        for b in self.branches:
            if b.part is None and not b.broken and not b.second:
                found[root(b.end)] = root(b.start)
        return {name: root(name) for name in found}

    def inline(self) -> tuple[tuple[Branch, str, tuple[str, ...]], ...]:
        """Every part that sits in a line: its branch, its key in the file, the nets of its terminals.

        A board has three: in, out, minus. Between two parts of one branch lies a net of its own.
        """
        nets, found = self.nets(), []
        for b in self.branches:
            keys = [b.where] if b.part is not None else []
            keys += [p.where for p in b.broken] or (["plug"] if b.second else [])
            at = [nets[b.start], *(f"{b.name} {k}" for k in range(1, len(keys))), nets[b.end]]
            for k, key in enumerate(keys):
                minus = (MINUS,) if isinstance(b.part, Converter) and k == 0 else ()
                found.append((b, key, (at[k], at[k + 1], *minus)))
        return tuple(found)

    def across(self) -> tuple[tuple[str, str, str], ...]:
        """Every part between plus and minus: its key in the file, the node it hangs on, and that node's net."""
        rig, found = self.rig, []
        for k, name in enumerate(self.stations):
            own = k > 0 and rig.neighbour[k - 1].machine is not None
            key = f"neighbour.{k - 1}.machine" if own else "machine"
            found.append((key, f"{name}: machine" if k else "machine"))
        found += [("clamp", BUS)] if rig.clamp is not None else []
        if rig.bus is not None:
            found += [
                (f"bus.{x}", BUS) for x in ("capacitance", "bleeder") if getattr(rig.bus, x) is not None
            ]
        found += [("battery", POSTS)] if rig.battery is not None else []
        found += [(f"load.{k}", f"load {load.name}") for k, load in enumerate(rig.load)]
        nets = self.nets()
        return tuple((key, node, nets[node]) for key, node in found)

    @property
    def shared(self) -> bool:
        """Whether several rigs feed it."""
        return len(self.stations) > 1
