"""The wiring sketch: its nets read back from the drawn lines, and what must be seen on it."""

from __future__ import annotations

import dataclasses
from collections import defaultdict

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.present import reading, samples
from tests.rig.test_circuit import TWO_SIDES
from tests.studies.test_any_rig import rig_texts

from sparewatt.errors import SparewattError
from sparewatt.files import demo_list, demo_text, read_text
from sparewatt.parts import Converter, Fuse, Measured, Neighbour, Rig, Socket, Switch
from sparewatt.present.drawings import wiring
from sparewatt.rig.circuit import MINUS, circuit_of

Point = tuple[float, float]
Terminal = tuple[str, str, int]  # key in the file, branch or node, number of the terminal


def points(text: str) -> list[Point]:
    """ "x,y x,y" as numbers."""
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in text.split())]


def on(point: Point, a: Point, b: Point) -> bool:
    """Whether a point lies on an upright or level piece of wire."""
    (x, y), (x1, x2), (y1, y2) = point, sorted((a[0], b[0])), sorted((a[1], b[1]))
    return x1 - 0.06 <= x <= x2 + 0.06 and y1 - 0.06 <= y <= y2 + 0.06


def drawn(svg: str) -> set[frozenset[Terminal]]:
    """The nets that the lines of the drawing make: which terminals are joined, and which end at a bar of minus."""
    root = reading.tree(svg)
    wires: list[tuple[Point, Point]] = []
    ends: list[tuple[Terminal, Point]] = []
    seen: dict[tuple[str, str], int] = defaultdict(int)
    bars = []
    for group in root.iter(f"{reading.SVG}g"):
        if group.get("data-wire"):
            a, b = points(group.get("data-wire", ""))
            wires.append((a, b))
        if group.get("data-at"):
            name = group.get("data-part", ""), group.get("data-branch", "")
            for at in points(group.get("data-at", "")):
                ends.append(((*name, seen[name]), at))
                seen[name] += name[0] != "plug"  # its two ends are alike
        for line in group.iter(f"{reading.SVG}line"):
            if line.get("stroke-width") == "5":
                x1, y1, x2, y2 = (float(line.get(k, "0")) for k in ("x1", "y1", "x2", "y2"))
                bars.append(((x1 + x2) / 2, (y1 + y2) / 2))
    parent = list(range(len(wires)))

    def root_of(k: int) -> int:
        while parent[k] != k:
            k = parent[k]
        return k

    for i, (a, b) in enumerate(wires):
        for j, (c, d) in enumerate(wires[:i]):
            if on(a, c, d) or on(b, c, d) or on(c, a, b) or on(d, a, b):
                parent[root_of(i)] = root_of(j)
    nets: dict[object, set[Terminal]] = defaultdict(set)
    for terminal, at in ends:
        touched = {root_of(k) for k, (a, b) in enumerate(wires) if on(at, a, b)}
        assert len(touched) <= 1, f"{terminal} joins two nets"
        bar = any(abs(at[0] - x) < 0.1 and abs(at[1] - y) < 0.1 for x, y in bars)
        assert not (bar and touched)
        nets[MINUS if bar else touched.pop() if touched else (round(at[0], 1), round(at[1], 1))].add(terminal)
    return {frozenset(net) for net in nets.values()}


def listed(rig: Rig) -> set[frozenset[Terminal]]:
    """The nets of the circuit, by the same names."""
    circuit = circuit_of(rig)
    nets: dict[str, set[Terminal]] = defaultdict(set)
    for branch, key, at in circuit.inline():
        for k, net in enumerate(at):
            nets[net].add((key, branch.name, 0 if key == "plug" else k))
    for key, node, net in circuit.across():
        nets[net].add((key, node, 0))
        nets[MINUS].add((key, node, 1))
    return {frozenset(net) for net in nets.values()}


@st.composite
def rigs(draw: st.DrawFn) -> Rig:
    """Any rig with fuses, switches and sockets in any run, some of one load or board alone, and up to three further rigs."""
    try:
        rig = read_text(draw(rig_texts())).rig
    except SparewattError:
        rig = samples.rig()
    ends = ["", *(x.name for x in (*rig.load, *rig.converter))]
    runs = st.sampled_from(("machine", "board", "battery", "load"))

    def some(kind: type, **more: object) -> tuple:
        many = draw(st.integers(0, 3))
        return tuple(kind(run=draw(runs), to=draw(st.sampled_from(ends)), **more) for _ in range(many))

    more = draw(st.integers(0, 3))
    return dataclasses.replace(
        rig,
        fuse=some(Fuse, rating=Measured(10.0)),
        switch=some(Switch, dc_voltage=Measured(24.0)),
        socket=some(Socket),
        bus=draw(st.sampled_from((None, samples.rig().bus))),
        clamp=draw(st.sampled_from((None, samples.rig().clamp))),
        neighbour=tuple(
            Neighbour(
                name=f"frame {k}", converter=draw(st.sampled_from((None, Converter(name="own", kind="buck"))))
            )
            for k in range(more)
        ),
    )


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("text", [*(demo_text(demo.key) for demo in demo_list()), TWO_SIDES])
def test_the_drawn_lines_are_the_circuit(text: str, upright: bool) -> None:
    """Demos and a rig with two boards on the bus and one behind the battery: what is drawn is what hangs together."""
    rig = read_text(text).rig
    svg = wiring.wiring(rig, upright=upright)
    assert drawn(svg) == listed(rig)
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(rig=rigs(), upright=st.booleans())
def test_the_drawn_lines_of_any_rig_are_its_circuit(rig: Rig, upright: bool) -> None:
    """200 rigs with anything anywhere: the same nets on paper as in the solver, and no words on each other."""
    svg = wiring.wiring(rig, upright=upright)
    assert drawn(svg) == listed(rig)
    assert reading.overlaps(svg) == []


def test_a_crossed_wire_would_be_seen() -> None:
    """The reader of drawings is no rubber stamp: a wire more or a wire less changes what it reads."""
    rig = read_text(TWO_SIDES).rig
    svg = wiring.wiring(rig)
    first = svg.index('<g data-wire="')
    one = svg[first : svg.index("</g>", first) + 4]
    assert drawn(svg.replace(one, "")) != listed(rig)
    groups = reading.tree(svg).iter(f"{reading.SVG}g")
    ends = {g.get("data-part"): points(g.get("data-at", ""))[0] for g in groups if g.get("data-at")}
    (x1, y1), (x2, y2) = ends["machine"], ends["battery"]
    extra = f'<g data-wire="{x1},{y1} {x1},{y2}"></g><g data-wire="{x1},{y2} {x2},{y2}"></g>'
    with pytest.raises(AssertionError):
        assert drawn(svg.replace("</svg>", extra + "</svg>")) == listed(rig)


def test_boards_stand_side_by_side() -> None:
    """Charger and tool board take from the bus; the lamps hang on no board of a phone, the drill on no battery."""
    rig = read_text(TWO_SIDES).rig
    nets = {frozenset((key, k) for key, _b, k in net) for net in drawn(wiring.wiring(rig))}
    bus = next(net for net in nets if ("converter.0", 0) in net)
    store = next(net for net in nets if ("converter.2", 0) in net)
    assert ("diode", 1) in bus
    assert ("fuse.1", 0) in bus  # before the tool board
    assert ("converter.0", 1) in store
    assert ("converter.1", 1) not in store


def test_a_plug_put_over_by_hand_is_shown_at_both_ends() -> None:
    """A board that feeds one load from the battery and one from the bus has its plug at both places."""
    text = (
        TWO_SIDES
        + '[[load]]\nname = "fan"\nkind = "dc_motor"\npower = "20 W"\nthrough = "phone board"\nwithout_battery = true\n'
    )
    rig = read_text(text.replace('at = "rig"\nset_voltage = "110 V"', 'set_voltage = "110 V"')).rig
    svg = wiring.wiring(rig)
    assert drawn(svg) == listed(rig)
    assert svg.count('data-part="plug"') == 2
    assert "with the battery unhooked" in svg


def test_missing_battery_fuse_is_drawn_broken():
    """A battery without a fuse in its run shows where one belongs, and the sentence says to fit it first.

    Source: common practice, no source: each source able to feed a fault has its fuse.
    """
    parts = wiring.parts_of(samples.rig())
    missing = [part for part in parts if part.kind == "missing fuse"]
    assert len(missing) == 1
    assert missing[0].accent
    assert "before you join anything" in wiring.caption(samples.rig())


def test_fitted_battery_fuse_is_drawn_whole():
    """With a fuse in the battery's run nothing is missing."""
    rig = samples.rig()
    whole = dataclasses.replace(
        rig, fuse=(*rig.fuse, Fuse(run="battery", rating=samples.m(10), from_post=samples.m(0.1)))
    )
    assert "missing fuse" not in [part.kind for part in wiring.parts_of(whole)]
    assert "missing" not in wiring.caption(whole)


def test_the_page_takes_the_larger_form() -> None:
    """On a tall page a rig with many loads stands upright; on a wide one it is laid along."""
    rig = read_text(demo_text("schoolyard")).rig
    tall, wide = (reading.tree(wiring.fitted(rig, *room)) for room in ((60.0, 250.0), (250.0, 150.0)))
    sizes = [tuple(map(float, root.get("viewBox", "").split()[2:])) for root in (tall, wide)]
    assert sizes[0][0] < sizes[0][1]
    assert sizes[1][0] > 2 * sizes[0][0]
