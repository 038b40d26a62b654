"""The circuit of a rig: nodes and branches by hand for known rigs, and what must hold for any rig."""

from __future__ import annotations

import dataclasses
import itertools
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from tests.studies.test_any_rig import rig_texts

from sparewatt.errors import SparewattError
from sparewatt.files import demo_text, read_rig, read_text
from sparewatt.parts import Converter, Fuse, Load, Measured, Rig, Switch, Wire
from sparewatt.rig.bind import bind
from sparewatt.rig.circuit import Circuit, charging_board, circuit_of, set_out_of_reach
from sparewatt.rig.fill import fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.layout import Param

SCENARIOS = Path(__file__).parents[1] / "scenarios"

TWO_SIDES = """
name = "Two sides"
[[rider]]
name = "Ada"
[[stage]]
kind = "chain"
driver_teeth = [42]
driven_teeth = [18]
[machine]
plate_voltage = "130 V"
[diode]
kind = "schottky"
[[converter]]
name = "charger"
kind = "buck"
at = "rig"
set_voltage = "14.4 V"
[[converter]]
name = "tool board"
kind = "boost"
at = "rig"
set_voltage = "110 V"
output_max = "120 V"
[[converter.setting]]
name = "90 V"
set_voltage = "90 V"
[[converter]]
name = "phone board"
kind = "buck"
at = "load"
set_voltage = "5.1 V"
[battery]
chemistry = "agm"
voltage = "12 V"
capacity = "40 Ah"
through = "charger"
[[load]]
name = "lamp"
kind = "led"
power = "8 W"
voltage = "12 V"
[[load]]
name = "phone"
kind = "usb"
power = "7 W"
through = "phone board"
[[load]]
name = "drill"
kind = "universal_motor"
plate_voltage = "230 V"
plate_power = "500 W"
through = "tool board"
[[wire]]
run = "load"
length = "2 m"
size = "0.75 mm2"
[[wire]]
run = "load"
to = "drill"
length = "5 m"
size = "1.5 mm2"
[[fuse]]
run = "battery"
rating = "10 A"
[[fuse]]
run = "board"
to = "tool board"
rating = "15 A"
[[switch]]
name = "wall switch"
run = "load"
dc_voltage = "24 V"
"""


def rig_of(name: str) -> Rig:
    """A demo or a scenario."""
    path = SCENARIOS / f"{name}.toml"
    return read_rig(path).rig if path.is_file() else read_text(demo_text(name)).rig


def ends(circuit: Circuit, kind: str) -> set[tuple[str, str]]:
    """Start and end of the branches of a kind."""
    return {(b.start, b.end) for b in circuit.branches if b.kind == kind}


def where(circuit: Circuit, branch: str) -> list[str]:
    """Keys of what sits on a branch."""
    return [p.where for p in circuit.branch(branch).pieces]


def test_hut_by_hand() -> None:
    """One board charges the battery; lamp, radio and kettle hang on the battery, the phone behind a board of its own."""
    c = circuit_of(rig_of("skerry"))
    assert where(c, "machine lead") == ["switch.0", "wire.0"]
    assert where(c, "step-down board output") == ["wire.1"]
    assert where(c, "battery post") == ["fuse.0"]
    assert where(c, "from the battery") == ["wire.2"]
    assert ends(c, "output") == {
        ("step-down board out", "battery lead"), ("phone board out", "phone board outlet"),
    }  # fmt: skip
    assert ends(c, "load") == {
        ("outlets", "load chart lamp"), ("outlets", "load watch radio"), ("outlets", "load electric kettle"),
        ("phone board outlet", "load phone"),
    }  # fmt: skip
    assert [b.kind for b in c.path("phone")] == [
        "machine", "feed", "board", "output", "outlets", "feed", "board", "output", "load",
    ]  # fmt: skip


def test_cellar_by_hand() -> None:
    """No board: machine, diode, battery, and two loads on the battery."""
    c = circuit_of(rig_of("cellar"))
    assert not ends(c, "board")
    assert ends(c, "output") == {("bus", "battery lead")}
    assert ends(c, "post") == {("battery lead", "battery posts")}
    assert {b.end for b in c.branches if b.kind == "load"} == {"load table lamp", "load radio"}


def test_schoolyard_by_hand() -> None:
    """Four rigs, each with its own machine, board and lead, meet at one named node; one pump hangs on it."""
    c = circuit_of(rig_of("schoolyard"))
    joins = [b for b in c.branches if b.end == "shared bus"]
    assert len(joins) == len(c.stations) == 4
    assert [b.station for b in joins] == [0, 1, 2, 3]
    assert all(b.lead is not None and b.lead.value == pytest.approx(0.05) for b in joins)
    assert {b.start for b in c.branches if b.kind == "load"} == {"shared bus"}
    boards = [b.part for b in c.branches if isinstance(b.part, Converter)]
    assert [b.set_voltage.value for b in boards if b.set_voltage] == pytest.approx([27.4, 27.5, 27.3, 27.9])


def test_bare_machines_meet_at_the_battery() -> None:
    """Two rigs without boards: each by its own diode to the shared node, where the battery is."""
    c = circuit_of(rig_of("twin_riders"))
    assert ends(c, "output") == {("bus", "shared bus"), ("second frame: bus", "shared bus")}
    assert ends(c, "post") == {("shared bus", "battery posts")}


def test_boards_hang_in_parallel_on_the_bus() -> None:
    """A charger and a tool board share the bus; the drill never sees the battery, the phone never the bus."""
    c = circuit_of(read_text(TWO_SIDES).rig)
    assert {b.start for b in c.branches if b.kind == "feed" and b.end in ("charger in", "tool board in")} == {
        "bus"
    }
    assert [b.end for b in c.path("drill")] == [
        "bus", "tool board in", "tool board out", "tool board outlet", "load drill",
    ]  # fmt: skip
    assert where(c, "tool board feed") == ["fuse.1"]
    assert where(c, "lead of drill") == ["switch.0", "wire.0", "wire.1"]
    assert [p.name for p in c.branch("lead of lamp").switches] == ["wall switch for the lamp"]


def test_settings_are_chosen_by_what_asks() -> None:
    """The drill at 110 V, and at 90 V when it asks for that setting; nothing else moves."""
    rig = read_text(TWO_SIDES).rig
    asks = read_text(
        TWO_SIDES.replace('through = "tool board"', 'through = "tool board"\nsetting = "90 V"')
    ).rig
    for one, volts in ((rig, 110.0), (asks, 90.0)):
        board = hookup(one, "drill").board
        assert board is not None and board.set_voltage is not None
        assert board.set_voltage.value == volts
        assert bind(fill(one), "drill", draws=0).params[Param.V_SET, 0] == volts
    assert hookup(asks, "charge").board == hookup(rig, "charge").board


def test_a_set_point_the_board_cannot_make_is_found() -> None:
    """110 V on a board that makes 100 V at most, 90 V not."""
    rig = read_text(TWO_SIDES.replace('"120 V"', '"100 V"')).rig
    assert [(key, volts) for key, _board, volts in set_out_of_reach(rig)] == [
        ("converter.1.set_voltage", 110.0)
    ]
    assert not set_out_of_reach(read_text(TWO_SIDES).rig)


@pytest.mark.parametrize(
    ("text", "key", "says"),
    [
        ('to = "drill"', "wire.1.to", 'no load or board called "dril"'),
        ('through = "tool board"', "load.2.setting", 'no setting called "80 V"'),
        ("power = \"8 W\"", "load.0.setting", "no board is named"),
    ],
)  # fmt: skip
def test_names_that_lead_nowhere_are_refused(text: str, key: str, says: str) -> None:
    """A piece to a load that is not there, a setting the board has not, a setting of no board."""
    new = {"wire.1.to": 'to = "dril"', "load.2.setting": f'{text}\nsetting = "80 V"'}.get(
        key, f'{text}\nsetting = "90 V"'
    )
    with pytest.raises(SparewattError) as bad:
        read_text(TWO_SIDES.replace(text, new, 1))
    assert any(p.where == key and says in p.problem for p in bad.value.problems)


def _base() -> Rig:
    return fill(read_text(TWO_SIDES).rig).rig


def _ohms(rig: Rig, load: str, *keys: str) -> float:
    extras = bind(fill(rig), load, draws=0).extras
    return float(sum(extras[key][0] for key in keys))


def test_a_wire_counts_where_it_sits() -> None:
    """One ohm of contacts in the drill's lead is in no other load's path; in the battery's run it is in the lamp's only."""
    rig = read_text(TWO_SIDES).rig
    bad = Wire(
        run="load", to="drill", length=Measured(1.0), size=Measured(4e-6), contact_resistance=Measured(1.0)
    )
    more = dataclasses.replace(rig, wire=(*rig.wire, bad))
    assert _ohms(more, "drill", "r_motor_wire") - _ohms(rig, "drill", "r_motor_wire") == pytest.approx(
        1.0, abs=0.02
    )
    assert _ohms(more, "lamp", "r_load_wire") == _ohms(rig, "lamp", "r_load_wire")
    stored = dataclasses.replace(rig, wire=(*rig.wire, dataclasses.replace(bad, run="battery", to="")))
    assert _ohms(stored, "lamp", "r_load_wire") - _ohms(rig, "lamp", "r_load_wire") == pytest.approx(
        1.0, abs=0.02
    )
    assert _ohms(stored, "drill", "r_motor_wire") == _ohms(rig, "drill", "r_motor_wire")


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(text=rig_texts())
def test_any_rig_hangs_together(text: str) -> None:
    """Every load is reached from a machine branch by branch; no board or load is on two branches; what the solver joins
    is what stands on the way."""
    try:
        rig = read_text(text).rig
    except SparewattError:
        return
    c = circuit_of(rig)
    for name, way in ((name, c.path(name)) for name in c.paths):
        assert way[0].start == "machine"
        assert all(a.end == b.start for a, b in itertools.pairwise(way))
        assert way[-1].end == ("battery posts" if name == "charge" else f"load {name}")
        joined = hookup(rig, name)
        boards = [b.part.name for b in way if isinstance(b.part, Converter)]
        assert [b.name for b in (joined.board, joined.load_board) if b is not None] == boards
        assert (joined.battery is not None) == any(b.kind in ("post", "outlets") for b in way)
    assert set(c.paths) == {x.name for x in rig.load} | ({"charge"} if rig.battery else set())
    held = Counter((b.where, b.station) for b in c.branches if b.kind == "board")
    assert set(held.values()) <= {1}
    assert {b.where for b in c.branches if b.kind == "board" and b.station == 0} == {
        f"converter.{k}" for k in range(len(rig.converter))
    }
    charger = charging_board(rig)
    if charger is not None:
        assert hookup(rig, "charge").board == charger
    for load in rig.load:
        last = [b.part.name for b in c.path(load.name) if isinstance(b.part, Converter)][-1:]
        own = next((b for b in rig.converter if b.name == load.through), None)
        stored = (
            rig.battery is not None
            and not load.without_battery
            and (own is None or own.at != "rig" or own == charger)
        )
        assert c.stored(load) == stored
        if own is not None:  # what a load names feeds it, or charges the battery that does
            assert last == [own.name]


@given(text=rig_texts())
def test_a_piece_with_its_own_place_is_on_one_branch(text: str) -> None:
    """A wire and a fuse for each load and board by `to` stand on one branch each, the one that ends there."""
    try:
        rig = read_text(text).rig
    except SparewattError:
        return
    ends_ = [x.name for x in (*rig.load, *rig.converter)]
    rig = dataclasses.replace(
        rig,
        wire=tuple(Wire(run="load", to=name) for name in ends_),
        fuse=tuple(Fuse(run="machine", to=name) for name in ends_),
        switch=(Switch(run="battery", to=ends_[0]),),
    )
    c = circuit_of(rig)
    for k, name in enumerate(ends_):
        for kind in ("wire", "fuse"):
            found = [b for b in c.branches if f"{kind}.{k}" in [p.where for p in b.pieces]]
            assert len(found) == 1, (name, kind, [b.name for b in found])
            assert found[0].end.endswith((f"load {name}", f"{name} in"))


def test_a_load_and_a_board_of_one_name_are_told_apart_by_the_run() -> None:
    """`run = "load"` leads to the load, any other run to the board."""
    load = Load(name="Saw", kind="electronics", through="saw")
    rig = dataclasses.replace(
        _base(), load=(load,), converter=(Converter(name="saw", kind="boost", at="rig"),), battery=None,
        wire=(Wire(run="load", to="saw"), Wire(run="machine", to="saw")), fuse=(), switch=(),
    )  # fmt: skip
    c = circuit_of(rig)
    assert where(c, "lead of Saw") == ["wire.0"]
    assert where(c, "saw feed") == ["wire.1"]
