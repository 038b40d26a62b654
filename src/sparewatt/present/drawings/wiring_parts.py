"""What the wiring sketch shows: the circuit's parts with their words, as lines between joints and things across to minus."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sparewatt.parts import Converter, Diode, Fuse, Rig, Socket, Switch
from sparewatt.present.numbers import amount
from sparewatt.rig.circuit import MINUS, Branch, Circuit, Piece, circuit_of

__all__ = ["Line", "Part", "Sketch", "sketch_of"]

MISSING = "missing fuse"


@dataclass(frozen=True, slots=True)
class Part:
    """One part: what stands there (a method of Sheet, or a fuse), its key in the file, and the words beside it."""

    kind: str
    words: tuple[str, ...]
    key: str = ""
    branch: str = ""  # of the circuit; of what hangs across, its node
    accent: bool = False
    nets: tuple[str, ...] = ()  # names of the nets at its terminals


@dataclass(frozen=True, slots=True)
class Line:
    """Parts one after another from one joint to the next."""

    start: str
    end: str
    parts: tuple[Part, ...]
    station: int = 0


@dataclass(frozen=True, slots=True)
class Sketch:
    """All lines between joints, what hangs across at each joint, and plugs that are put over by hand."""

    lines: tuple[Line, ...]
    across: dict[str, tuple[Part, ...]]
    plugs: tuple[tuple[Part, str, str], ...]
    starts: tuple[str, ...]  # the machines' joints, this rig's first

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every part, each once."""
        inside = tuple(part for line in self.lines for part in line.parts)
        hung = tuple(part for parts in self.across.values() for part in parts)
        return (*inside, *hung, *(plug for plug, _a, _b in self.plugs))


def sketch_of(rig: Rig, *, inch: bool = False) -> Sketch:
    """The circuit of a rig as a sketch; a battery without a fuse gets the place of one, in accent."""
    circuit = circuit_of(rig)
    nets, inline = circuit.nets(), circuit.inline()
    lines, plugs = [], []
    bare = _bare_post(circuit)
    for branch in circuit.branches:
        parts = tuple(
            replace(_in_line(branch, key, inch), nets=ends) for b, key, ends in inline if b is branch
        )
        start, end = nets[branch.start], nets[branch.end]
        if branch.second and not branch.broken:
            plugs.append((parts[0], start, end))
        elif parts:
            lines.append(Line(start, end, parts, branch.station))
        elif branch is bare:
            lines.append(Line(start, "posts", (Part(MISSING, ("fuse", "goes here"), accent=True),)))
    across: dict[str, tuple[Part, ...]] = {}
    for key, node, net in circuit.across():
        part = replace(_hung(rig, key, circuit), nets=(net, MINUS), branch=node)
        at = "posts" if key == "battery" and bare is not None else net
        if key.startswith("load.") and not net.startswith("load "):
            at = node  # each load has a line of its own, with or without a switch
            lines.append(Line(net, at, ()))
        across[at] = (*across.get(at, ()), part)
    starts = tuple(nets[f"{name}: machine" if k else "machine"] for k, name in enumerate(circuit.stations))
    across = _machines_named(across, starts, circuit)
    return Sketch(tuple(lines), across, tuple(plugs), tuple(dict.fromkeys(starts)))


def _bare_post(circuit: Circuit) -> Branch | None:
    """The battery's own branch when no fuse is named there."""
    post = next((b for b in circuit.branches if b.kind == "post"), None)
    return post if post is not None and not post.broken else None


def _machines_named(
    across: dict[str, tuple[Part, ...]], starts: tuple[str, ...], circuit: Circuit
) -> dict[str, tuple[Part, ...]]:
    """Each machine with the name of its rig, where there are several."""
    if len(starts) == 1:
        return across
    found = dict(across)
    for k, net in enumerate(starts):
        parts = list(found[net])
        at = next(n for n, part in enumerate(parts) if part.kind == "machine" and len(part.words) == 1)
        parts[at] = replace(parts[at], words=(circuit.stations[k], *parts[at].words))
        found[net] = tuple(parts)
    return found


def _in_line(branch: Branch, key: str, inch: bool) -> Part:
    """A part in a line with its words."""
    if key == "plug":
        board = branch.end.removesuffix(" in")
        return Part("plug", (f"plug of the {board}", "with the battery unhooked"), key, branch.name)
    if isinstance(branch.part, Converter):
        return _board(branch.part, branch, key)
    if isinstance(branch.part, Diode) and key == branch.where:
        diode = branch.part
        rating = (amount(diode.current_rating.value, "A").text,) if diode.current_rating else ()
        return Part("diode", (f"{diode.kind} diode", *rating), key, branch.name)
    piece = next(p for p in branch.broken if p.where == key)
    return Part(*_piece(piece, inch), key, branch.name)


def _piece(piece: Piece, inch: bool) -> tuple[str, tuple[str, ...]]:
    part = piece.part
    if isinstance(part, Fuse):
        words = [f"fuse {amount(part.rating.value, 'A').text}" if part.rating else "fuse, amps not known"]
        if part.from_post is not None:
            words.append(f"{amount(part.from_post.value, 'm', inch=inch).text} from post")
        return "fuse", tuple(words)
    assert isinstance(part, Switch | Socket)
    volts = f"{amount(part.dc_voltage.value, 'V').text} direct" if part.dc_voltage else "no DC volts printed"
    if isinstance(part, Switch):
        return "switch", (piece.name or "switch", volts)
    return "socket", (piece.name or "socket", *((part.kind,) if part.kind else ()), volts)


def _board(board: Converter, branch: Branch, key: str) -> Part:
    words = [board.name]
    if board.set_voltage is not None:
        words.append(f"set to {amount(board.set_voltage.value, 'V', digits=3).text}")
    if board.setting:
        words.append(f"or {', '.join(point.name for point in board.setting)}")
    if board.enable_voltage is not None:
        words.append(f"run contact {amount(board.enable_voltage.value, 'V').text}")
    return Part("inverter" if board.kind == "inverter" else "board", tuple(words), key, branch.name)


def _hung(rig: Rig, key: str, circuit: Circuit) -> Part:
    """A part between plus and minus with its words."""
    kind, _, index = key.partition(".")
    if kind == "load":
        load = rig.load[int(index)]
        words = (load.name, "battery unhooked") if circuit.lead(load).unhooked else (load.name,)
        return Part("lamp" if load.kind in ("led", "lamp") else "load", words, key)
    if kind == "battery" and rig.battery is not None:
        known = rig.battery.voltage is not None and rig.battery.capacity is not None
        size = (
            f"{amount(rig.battery.voltage.value, 'V').text}, {amount(rig.battery.capacity.value, 'C').text}"
            if known and rig.battery.voltage and rig.battery.capacity
            else "size not known"
        )
        return Part("battery", (rig.battery.name or "battery", size), key)
    if key == "clamp" and rig.clamp is not None:
        words_ = [f"clamp at {amount(rig.clamp.voltage.value, 'V').text}" if rig.clamp.voltage else "clamp"]
        words_ += [amount(rig.clamp.resistance.value, "ohm").text] if rig.clamp.resistance else []
        return Part("clamp", tuple(words_), key)
    bus = rig.bus
    if key == "bus.capacitance" and bus is not None and bus.capacitance is not None:
        volts = (amount(bus.capacitor_voltage.value, "V").text,) if bus.capacitor_voltage else ()
        return Part("capacitor", (amount(bus.capacitance.value, "F").text, *volts), key)
    if key == "bus.bleeder" and bus is not None and bus.bleeder is not None:
        return Part("resistor", ("bleeder", amount(bus.bleeder.value, "ohm").text), key)
    machine = rig.neighbour[int(key.split(".")[1])].machine if kind == "neighbour" else rig.machine
    return Part("machine", ((machine.name if machine is not None else "") or "machine",), key)
