"""Volts, amps and fuses by branch: what flows where, what guards what, and advice that can be followed all at once."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.rig.test_circuit import TWO_SIDES
from tests.studies.guard_rigs import MM2, clean_rig, m, with_part

from sparewatt.files import Loaded, demo_list, demo_text, read_rig, read_text, tried
from sparewatt.parts import Converter, Fuse, Load, Rig, Socket, Switch, Wire
from sparewatt.studies.answers import Finding, GuardAnswer, Sized
from sparewatt.studies.guard.findings import guard
from sparewatt.studies.guard.flows import Flow
from sparewatt.studies.guard.scene import scene_of

SCENARIOS = Path(__file__).parents[1] / "scenarios"


def flow(rig: Rig, branch: str) -> Flow:
    """What a branch carries."""
    return scene_of(rig).flows[branch]


def size(answer: GuardAnswer, what: str) -> Sized:
    """The size of that name."""
    return next(s for s in answer.sizes if s.what == what)


def found(answer: GuardAnswer, key: str) -> Finding:
    """The finding whose key begins so."""
    return next(f for f in answer.findings if f.key.startswith(key))


def tools(**drill: object) -> Rig:
    """The clean rig with a step-up board to 110 V beside its charger, and a drill of 220 W on it by wire and fuse."""
    rig = clean_rig()
    board = Converter(
        name="tool board", kind="boost", at="rig", set_voltage=m(110.0), input_max=m(80.0), input_min=m(18.0),
        input_current=m(12.0),
    )  # fmt: skip
    load = Load(
        name="saw", kind="electronics", power=m(220.0), voltage=m(110.0), through="tool board", trigger="none"
    )
    fuse = Fuse(run="load", to="saw", rating=m(4.0), dc_voltage=m(drill.get("volts", 250.0)))
    return dataclasses.replace(
        rig,
        converter=(*rig.converter, board),
        load=(*rig.load, dataclasses.replace(load, power=m(drill.get("watts", 220.0)))),
        wire=(
            *(dataclasses.replace(w, to="lamp") if w.run == "load" else w for w in rig.wire),
            Wire(run="load", to="saw", length=m(5.0), size=m(1.5 * MM2)),
        ),
        fuse=(*(dataclasses.replace(f, to="lamp") if f.run == "load" else f for f in rig.fuse), fuse),
        switch=(dataclasses.replace(rig.switch[0], to="lamp"),),
    )


def test_a_lead_is_sized_for_its_own_load_at_its_own_volts() -> None:
    """By hand: 220 W / 110 V = 2 A to the saw, 10 W / 12 V = 0.83 A to the lamp; neither sees the other's."""
    rig = tools()
    saw, lamp = flow(rig, "lead of saw"), flow(rig, "lead of lamp")
    assert (saw.volts, saw.amps) == (110.0, pytest.approx(2.0))
    assert (lamp.volts, lamp.amps) == (12.0, pytest.approx(10 / 12))
    assert lamp.ceiling == pytest.approx(14.4)
    assert saw.ceiling >= 110.0
    assert size(guard(rig), "wire to the saw").why.startswith("2 A at 110 V over 5 m")


def test_what_several_rigs_share_carries_the_sum() -> None:
    """Four rigs and a pump: 150 W / 27.4 V = 5.47 A in the shared lead, its fuse and its switch, not a quarter of it."""
    rig = read_text(demo_text("schoolyard")).rig
    assert flow(rig, "lead of garden pump").amps == pytest.approx(150 / 27.4, rel=1e-3)
    answer = guard(rig)
    for what in ("wire to the garden pump", "fuse to the garden pump"):
        assert "5.5 A" in size(answer, what).why
    assert "5.5 A" in size(answer, "switch, pump switch").pick


def test_two_machines_on_one_battery_add_up() -> None:
    """Bare machines, the stronger rider on either: each lead carries its own amps, the battery's post both."""
    flows = scene_of(read_rig(SCENARIOS / "twin_riders.toml").rig).flows
    assert flows["battery post"].amps == pytest.approx(2 * flows["machine lead"].amps, rel=0.05)


def test_a_fuse_of_32_volts_on_110_is_a_stop() -> None:
    """The same fuse on the battery's 14.4 V is not: 32 V is above them (common practice, no source)."""
    answer = guard(tools(volts=32.0))
    bad = [f for f in answer.findings if f.key.startswith("fuse volts")]
    assert [f.check for f in bad] == ["stop"]
    assert "32 V" in bad[0].says
    assert "110 V" in bad[0].says
    assert not [f for f in guard(tools()).findings if f.key.startswith("fuse volts")]


def test_a_dead_short_by_hand() -> None:
    """14.4 V / (6 + 2 mohm) = 1800 A at the post, 0 where only legs push, and less behind a metre of wire.

    1 m of 4 mm2 there and back with 10 mohm of contacts: 14.4 / (0.008 + 0.0086 + 0.010) = 541 A. Ohm's law.
    """
    rig = with_part(tools(), "wire.2", contact_resistance=m(0.010))
    assert flow(rig, "battery post").fault == pytest.approx(1800, rel=1e-6)
    assert flow(rig, "lead of saw").fault == 0.0
    assert flow(rig, "machine lead").fault == 0.0
    assert flow(rig, "lead of lamp").fault == pytest.approx(541, rel=0.01)


def test_a_signal_contact_is_no_power_switch() -> None:
    """A 24 V button in the saw's run is a stop; marked as a signal it is not judged."""
    rig = tools()
    button = Switch(name="button", run="load", to="saw", dc_voltage=m(24.0), dc_current=m(0.1))
    power = dataclasses.replace(rig, switch=(*rig.switch, button))
    signal = dataclasses.replace(rig, switch=(*rig.switch, dataclasses.replace(button, signal=True)))
    assert found(guard(power), "switch: button").check == "stop"
    answer = guard(signal)
    assert not [f for f in answer.findings if "button" in f.key]
    assert not [s for s in answer.sizes if "button" in s.what]


def test_a_run_contact_belongs_within_reach() -> None:
    """With the board's contact out of reach, or nobody knows, guard asks for it; within reach it is quiet."""
    rig = tools()

    def keys(reach: bool | None) -> list[str]:
        board = dataclasses.replace(rig.converter[1], enable_voltage=m(3.3), enable_in_reach=reach)
        return [f.key for f in guard(dataclasses.replace(rig, converter=(rig.converter[0], board))).findings]

    assert "run contact: tool board" in keys(False)
    assert "run contact: tool board" in keys(None)
    assert "run contact: tool board" not in keys(True)


@pytest.mark.parametrize(
    ("volts", "amps", "check"), [(250.0, 10.0, None), (24.0, 10.0, "stop"), (250.0, 1.0, "stop")]
)
def test_a_socket_is_judged_on_its_own_branch(volts: float, amps: float, check: str | None) -> None:
    """A socket in the saw's lead sees 110 V and 2 A: 24 V or 1 A on its print are too little."""
    rig = dataclasses.replace(
        tools(),
        socket=(Socket(name="saw socket", run="load", to="saw", dc_voltage=m(volts), dc_current=m(amps)),),
    )
    answer = guard(rig)
    said = [f.check for f in answer.findings if f.key == "socket: saw socket"]
    assert said == ([check] if check else [])
    assert size(answer, "socket, saw socket").check == (check or "not refused")


def test_a_board_set_above_what_it_makes_is_a_stop() -> None:
    """110 V on a board that makes 100 V."""
    rig = tools()
    board = dataclasses.replace(rig.converter[1], output_max=m(100.0))
    answer = guard(dataclasses.replace(rig, converter=(rig.converter[0], board)))
    assert found(answer, "set beyond: tool board").check == "stop"


def test_a_board_with_too_few_amps_for_a_start_is_told() -> None:
    """A motor of 2 A that takes six times as much at first, on a board that gives 5 A for seconds."""
    rig = tools()
    motor = dataclasses.replace(rig.load[1], start_factor=m(6.0))
    board = dataclasses.replace(rig.converter[1], output_current_short=m(5.0))
    weak = dataclasses.replace(rig, load=(rig.load[0], motor), converter=(rig.converter[0], board))
    assert "12 A" in found(guard(weak), "first amps: tool board").says
    strong = dataclasses.replace(board, output_current_short=m(15.0))
    keys = [f.key for f in guard(dataclasses.replace(weak, converter=(rig.converter[0], strong))).findings]
    assert "first amps: tool board" not in keys


def test_a_stop_in_a_size_says_why() -> None:
    """A 100 A fuse before 1.5 mm2: the size is a stop, and a finding names the fuse, the wire and the cure."""
    rig = with_part(with_part(clean_rig(), "fuse.0", rating=m(100.0)), "wire.1", size=m(1.5 * MM2))
    answer = guard(rig)
    assert size(answer, "fuse at the battery post").check == "stop"
    told = found(answer, "size: fuse at the battery post")
    assert told.check == "stop"
    for words in ("100 A", "the thinnest wire behind it carries"):
        assert words in told.says
    assert told.do.startswith("Take ")


def stops_told(answer: GuardAnswer) -> bool:
    """Whether no size is a stop without a finding that is one."""
    return all(s.check != "stop" for s in answer.sizes) or any(f.check == "stop" for f in answer.findings)


def edits(answer: GuardAnswer) -> dict[str, str]:
    """Every change that the wires and fuses ask for, all together; of one piece in several leads the thickest."""
    wanted: dict[str, str] = {}
    for row in answer.sizes:
        for key, text in row.edits:
            old = wanted.get(key)
            if old is None or (key.endswith(".size") and float(text.split()[0]) > float(old.split()[0])):
                wanted[key] = text
    return wanted


def obeyed(loaded: Loaded) -> tuple[GuardAnswer, GuardAnswer]:
    """The answer before and after everything that the wire and fuse rows ask for is done."""
    first = guard(loaded.rig)
    return first, guard(tried(loaded, edits(first).items()).rig)


def rows(answer: GuardAnswer) -> list[Sized]:
    """Wires and fuses."""
    return [s for s in answer.sizes if s.what.startswith(("wire", "fuse"))]


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    thin=st.lists(st.sampled_from(("0.5 mm2", "0.75 mm2", "1.5 mm2", "4 mm2")), min_size=5, max_size=5),
    fuse=st.sampled_from(("", "2 A", "10 A", "40 A", "100 A")),
    own=st.sampled_from(("", "lamp", "drill")),
)
def test_wires_and_fuses_can_be_followed_together(thin: list[str], fuse: str, own: str) -> None:
    """Any wires and fuses: after all that is advised no size is a stop, and nothing new is advised."""
    text = TWO_SIDES.split("[[wire]]")[0].replace('plate_voltage = "130 V"', 'emf_constant = "0.4 V*s/rad"')
    for run, size_ in zip(("machine", "board", "battery"), thin, strict=False):
        text += f'[[wire]]\nrun = "{run}"\nlength = "2 m"\nsize = "{size_}"\n'
    for name, size_ in zip(("lamp", "drill", "phone"), (*thin[3:], "1.5 mm2"), strict=True):
        text += f'[[wire]]\nrun = "load"\nto = "{name}"\nlength = "3 m"\nsize = "{size_}"\n'
    text += f'[[fuse]]\nrun = "battery"\nrating = "{fuse}"\n' if fuse else ""
    text += f'[[fuse]]\nrun = "load"\nto = "{own}"\nrating = "20 A"\ndc_voltage = "250 V"\n' if own else ""
    before, after = obeyed(read_text(text))
    assert stops_told(before)
    assert [s.what for s in rows(after) if s.check != "not refused"] == []
    assert edits(after) == {}


@pytest.mark.parametrize(
    "name", [*(d.key for d in demo_list()), *sorted(p.stem for p in SCENARIOS.glob("*.toml"))]
)
def test_obeying_ends_there(name: str) -> None:
    """After all that its wires and fuses ask for, nothing of them is a stop and nothing is asked again."""
    path = SCENARIOS / f"{name}.toml"
    before, after = obeyed(read_rig(path) if path.is_file() else read_text(demo_text(name)))
    assert stops_told(before)
    assert not [s for s in rows(after) if s.check == "stop"]
    assert edits(after) == {}
