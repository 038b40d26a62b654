"""Netlists of the electrical side of a rig, as text, with everything that matters as a parameter.

Mechanics stand in as a circuit: the voltage of the node `w` is a speed in rad/s, the current into it a torque in N*m,
its capacitor an inertia in kg*m^2. Drops that do not change with current are voltage sources; the diodes that let current
through one way only have a knee of about half a millivolt, so that hand formulas with a constant drop hold to a few parts
in ten thousand. Every netlist is a run over time that starts from nothing and is measured when it has settled.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = [
    "battery_drives_machine",
    "boost_passes_to_battery",
    "boost_passes_to_resistor",
    "constant_power_behind_a_coil",
    "machine_into_battery",
    "machine_into_constant_power",
    "machine_into_resistor",
    "resistor_divider",
    "rider_into_battery",
    "rider_into_constant_power",
    "series_motor_with_fan",
    "sources_share_bus",
    "sources_share_power",
]

_ONE_WAY = ".model oneway d(is=1e-9 n=0.001)"
_OPTIONS = ".options reltol=1e-5 abstol=1e-9 vntol=1e-7 method=gear"


def _n(x: float) -> str:
    """A number as the simulator reads it, whole."""
    return f"{x:.12g}"


def _deck(title: str, lines: Sequence[str], *, stop: float, step: float, finds: dict[str, str]) -> str:
    """A whole netlist: title, parts, one run over time from nothing, and what to read at its end."""
    at = _n(stop * 0.999)
    measures = [f".meas tran {name} find {what} at={at}" for name, what in finds.items()]
    run = f".tran {_n(step)} {_n(stop)} 0 {_n(step)} uic"
    return "\n".join([f"* {title}", *lines, _ONE_WAY, _OPTIONS, run, *measures, ".end", ""])


def _machine(*, emf: float, r_wind: float, v_brush: float, v_diode: float, bus: str = "bus") -> list[str]:
    """A machine at a steady speed, its brushes, and the diode that feeds the bus. The current is that of Vdrop."""
    return [
        f"Vemf emf 0 {_n(emf)}",
        f"Rwind emf brush {_n(r_wind)}",
        f"Vdrop brush anode {_n(v_brush + v_diode)}",
        f"Dblock anode {bus} oneway",
    ]


def _power_load(bus: str, *, p_load: float, v_floor: float, t_ramp: float) -> list[str]:
    """A regulating load that takes P/v above v_floor, and is a plain resistor v_floor^2/P below it. It comes on slowly."""
    ramp = f"min(1,time/{_n(t_ramp)})"
    draw = f"v({bus})>{_n(v_floor)} ? {_n(p_load)}/v({bus}) : {_n(p_load)}*v({bus})/{_n(v_floor**2)}"
    return [f"Bload {bus} 0 i={ramp}*({draw})"]


def resistor_divider(*, v_in: float, r_top: float, r_bottom: float) -> str:
    """Two resistors. Reads v_out and i_in."""
    lines = [f"V1 in 0 {_n(v_in)}", f"R1 in out {_n(r_top)}", f"R2 out 0 {_n(r_bottom)}"]
    return _deck("divider", lines, stop=1e-3, step=1e-5, finds={"v_out": "v(out)", "i_in": "par('-i(V1)')"})


def machine_into_resistor(*, emf: float, r_wind: float, v_brush: float, v_diode: float, r_load: float) -> str:
    """A machine at a steady speed through its diode into a resistor. Reads v_bus and i_out."""
    lines = [
        *_machine(emf=emf, r_wind=r_wind, v_brush=v_brush, v_diode=v_diode),
        f"Rload bus 0 {_n(r_load)}",
    ]
    return _deck(
        "machine into a resistor", lines, stop=0.01, step=1e-4, finds={"v_bus": "v(bus)", "i_out": "i(Vdrop)"}
    )


def machine_into_constant_power(
    *,
    emf: float,
    r_wind: float,
    v_brush: float,
    v_diode: float,
    p_load: float,
    v_floor: float,
    capacitance: float = 5e-3,
) -> str:
    """A machine at a steady speed into a regulating load that comes on slowly. Reads v_bus, i_out and p_bus.

    Below the edge it settles on the upper of the two running points; beyond it the bus collapses onto the resistor.
    """
    lines = [
        *_machine(emf=emf, r_wind=r_wind, v_brush=v_brush, v_diode=v_diode),
        f"Cbus bus 0 {_n(capacitance)} ic={_n(emf - v_brush - v_diode)}",
        *_power_load("bus", p_load=p_load, v_floor=v_floor, t_ramp=1.0),
    ]
    finds = {"v_bus": "v(bus)", "i_out": "i(Vdrop)", "p_bus": "par('v(bus)*i(Vdrop)')"}
    return _deck("machine into a constant-power load", lines, stop=4.0, step=1e-3, finds=finds)


def constant_power_behind_a_coil(
    *, v_open: float, r_source: float, inductance: float, capacitance: float, p_load: float, v_floor: float
) -> str:
    """A source with resistance and inductance, a capacitor, and a regulating load; nudged by a hundredth of its power.

    Reads v_bus at the end, and swing_early and swing_late: how far the bus swings, top to bottom, in two equal stretches.
    """
    v = (v_open + (v_open**2 - 4 * r_source * p_load) ** 0.5) / 2
    period = 2 * 3.141592653589793 * (inductance * capacitance) ** 0.5
    nudge = f"1+0.01*(time>{_n(period)} ? 1 : 0)"
    draw = f"v(bus)>{_n(v_floor)} ? {_n(p_load)}/v(bus) : {_n(p_load)}*v(bus)/{_n(v_floor**2)}"
    lines = [
        f"Vsource source 0 {_n(v_open)}",
        f"Rsource source coil {_n(r_source)}",
        f"Lsource coil bus {_n(inductance)} ic={_n(p_load / v)}",
        f"Cbus bus 0 {_n(capacitance)} ic={_n(v)}",
        f"Bload bus 0 i=({nudge})*({draw})",
    ]
    deck = _deck(
        "constant power behind a coil", lines, stop=40 * period, step=period / 400, finds={"v_bus": "v(bus)"}
    )
    stretches = (("swing_early", 2, 6), ("swing_late", 34, 38))
    swings = [
        f".meas tran {name} pp v(bus) from={_n(a * period)} to={_n(b * period)}" for name, a, b in stretches
    ]
    return deck.replace(".end\n", "\n".join([*swings, ".end", ""]))


def _boost_straight_through(*, r_coil: float, v_boost_diode: float, inductance: float) -> list[str]:
    """What is left of a step-up board whose input is above its setting: its coil and its diode."""
    return [
        f"Lcoil bus mid {_n(inductance)} ic=0",
        "Rcalm bus mid 10",  # gives the coil's current a way out when the diode closes in the first swings
        f"Rcoil mid knee {_n(r_coil)}",
        f"Vboost knee gate {_n(v_boost_diode)}",
        "Dboost gate out oneway",
    ]


def boost_passes_to_resistor(
    *,
    emf: float,
    r_wind: float,
    v_brush: float,
    v_diode: float,
    r_coil: float,
    v_boost_diode: float,
    r_load: float,
    inductance: float = 1e-4,
) -> str:
    """A machine through a step-up board that has nothing left to step, into a resistor. Reads v_bus, v_out, i_out."""
    lines = [
        *_machine(emf=emf, r_wind=r_wind, v_brush=v_brush, v_diode=v_diode),
        "Cbus bus 0 1e-4 ic=0",
        *_boost_straight_through(r_coil=r_coil, v_boost_diode=v_boost_diode, inductance=inductance),
        "Cout out 0 1e-4 ic=0",
        f"Rload out 0 {_n(r_load)}",
    ]
    finds = {"v_bus": "v(bus)", "v_out": "v(out)", "i_out": "i(Vboost)"}
    return _deck("step-up board passes through to a resistor", lines, stop=0.2, step=1e-5, finds=finds)


def boost_passes_to_battery(
    *,
    emf: float,
    r_wind: float,
    v_brush: float,
    v_diode: float,
    r_coil: float,
    v_boost_diode: float,
    v_open: float,
    r_store: float,
    inductance: float = 1e-4,
) -> str:
    """A machine through a step-up board that has nothing left to step, into a battery. Reads v_bus, v_store, i_out."""
    lines = [
        *_machine(emf=emf, r_wind=r_wind, v_brush=v_brush, v_diode=v_diode),
        "Cbus bus 0 1e-4 ic=0",
        *_boost_straight_through(r_coil=r_coil, v_boost_diode=v_boost_diode, inductance=inductance),
        f"Rstore out cell {_n(r_store)}",
        f"Vcell cell 0 {_n(v_open)}",
    ]
    finds = {"v_bus": "v(bus)", "v_store": "v(out)", "i_out": "i(Vboost)"}
    return _deck("step-up board passes through to a battery", lines, stop=0.2, step=1e-5, finds=finds)


def machine_into_battery(
    *, emf: float, r_wind: float, v_brush: float, v_diode: float, v_open: float, r_store: float
) -> str:
    """A machine at a steady speed through its diode into a battery. Reads v_bus and i_out (nothing below cut-in)."""
    lines = [
        *_machine(emf=emf, r_wind=r_wind, v_brush=v_brush, v_diode=v_diode),
        f"Rstore bus cell {_n(r_store)}",
        f"Vcell cell 0 {_n(v_open)}",
    ]
    return _deck(
        "machine into a battery", lines, stop=0.01, step=1e-4, finds={"v_bus": "v(bus)", "i_out": "i(Vdrop)"}
    )


def sources_share_bus(
    *, v_set: Sequence[float], r_lead: Sequence[float], v_diode: float, i_load: float
) -> str:
    """Several regulated sources, each through its lead and diode, on one bus that gives a steady current away.

    Reads v_bus and i_1, i_2, ... in the order given.
    """
    lines: list[str] = []
    for k, (volts, lead) in enumerate(zip(v_set, r_lead, strict=True), start=1):
        lines += [
            f"Vset{k} s{k} 0 {_n(volts)}",
            f"Rlead{k} s{k} l{k} {_n(lead)}",
            f"Vd{k} l{k} a{k} {_n(v_diode)}",
            f"Dshare{k} a{k} bus oneway",
        ]
    lines += [f"Iload bus 0 {_n(i_load)}", f"Cbus bus 0 1e-4 ic={_n(max(v_set) - v_diode)}"]
    finds = {"v_bus": "v(bus)", **{f"i_{k}": f"i(Vd{k})" for k in range(1, len(v_set) + 1)}}
    return _deck("several sources on one bus", lines, stop=0.05, step=1e-5, finds=finds)


def sources_share_power(*, v_set: Sequence[float], r_lead: Sequence[float], p_load: float) -> str:
    """Several regulated sources, each through its lead and a diode of no drop, on one load of steady watts.

    Reads v_bus and i_1, i_2, ... in the order given.
    """
    lines: list[str] = []
    for k, (volts, lead) in enumerate(zip(v_set, r_lead, strict=True), start=1):
        lines += [
            f"Vset{k} s{k} 0 {_n(volts)}",
            f"Rlead{k} s{k} l{k} {_n(lead)}",
            f"Vd{k} l{k} a{k} 0",
            f"Dshare{k} a{k} bus oneway",
        ]
    lines += _power_load("bus", p_load=p_load, v_floor=0.5 * min(v_set), t_ramp=0.01)
    lines.append(f"Cbus bus 0 1e-4 ic={_n(max(v_set))}")
    finds = {"v_bus": "v(bus)", **{f"i_{k}": f"i(Vd{k})" for k in range(1, len(v_set) + 1)}}
    return _deck("several sources on a load of steady watts", lines, stop=0.05, step=1e-5, finds=finds)


def battery_drives_machine(
    *,
    v_open: float,
    r_store: float,
    r_wind: float,
    l_wind: float,
    v_brush: float,
    k_emf: float,
    inertia: float,
    drag_fixed: float,
    drag_viscous: float,
) -> str:
    """The blocking diode is missing: the battery turns the machine from a standstill. Reads w_shaft, i_drain, i_first.

    i_drain is taken out of the battery; i_first is its peak at the start.
    """
    settle = 12.0 * inertia / (drag_viscous + k_emf**2 / (r_store + r_wind))
    lines = [
        f"Vcell cell 0 {_n(v_open)}",
        f"Rpath cell coil {_n(r_store + r_wind)}",
        f"Lwind coil brush {_n(l_wind)} ic=0",
        f"Bbrush brush emf v={_n(v_brush)}*tanh(i(Vsense)/1e-3)",
        f"Bemf emf sense v={_n(k_emf)}*v(w)",
        "Vsense sense 0 0",
        f"Bpull 0 w i={_n(k_emf)}*i(Vsense)",
        f"Cturn w 0 {_n(inertia)} ic=0",
        f"Bdrag w 0 i={_n(drag_fixed)}*tanh(v(w)/0.01)+{_n(drag_viscous)}*v(w)",
    ]
    deck = _deck(
        "battery drives the machine",
        lines,
        stop=settle,
        step=settle / 20000,
        finds={"w_shaft": "v(w)", "i_drain": "i(Vsense)"},
    )
    return deck.replace(".end\n", ".meas tran i_first max i(Vsense)\n.end\n")


def series_motor_with_fan(
    *,
    v_bus: float,
    r_motor: float,
    l_motor: float,
    k_series: float,
    inertia: float,
    drag_fixed: float,
    drag_square: float,
) -> str:
    """A series motor on direct current with dry friction and a fan. Reads w_shaft, i_motor, i_first.

    Unsaturated: emf = k_series * i * w and torque = k_series * i^2.
    """
    lines = [
        f"Vbus bus 0 {_n(v_bus)}",
        f"Rmotor bus coil {_n(r_motor)}",
        f"Lmotor coil emf {_n(l_motor)} ic=0",
        f"Bemf emf sense v={_n(k_series)}*i(Vsense)*v(w)",
        "Vsense sense 0 0",
        f"Bpull 0 w i={_n(k_series)}*i(Vsense)*i(Vsense)",
        f"Cturn w 0 {_n(inertia)} ic=0",
        f"Bdrag w 0 i={_n(drag_fixed)}*tanh(v(w)/0.01)+{_n(drag_square)}*v(w)*abs(v(w))",
    ]
    deck = _deck(
        "series motor with a fan",
        lines,
        stop=20.0,
        step=1e-3,
        finds={"w_shaft": "v(w)", "i_motor": "i(Vsense)"},
    )
    return deck.replace(".end\n", ".meas tran i_first max i(Vsense)\n.end\n")


def _rider(
    *, torque_still: float, w_free: float, ratio: float, efficiency: float, inertia: float, w_start: float
) -> list[str]:
    """A rider's straight torque line through a drive onto the machine's shaft, the node `w`."""
    crank = f"v(w)/{_n(ratio)}"
    return [
        f"Blegs 0 w i={_n(torque_still * efficiency / ratio)}*(1-{crank}/{_n(w_free)})",
        f"Cturn w 0 {_n(inertia)} ic={_n(w_start)}",
    ]


def _turning_machine(
    *, k_emf: float, r_wind: float, v_brush: float, v_diode: float, drag_fixed: float, drag_viscous: float
) -> list[str]:
    """A machine whose volts follow the node `w` and whose current brakes it."""
    return [
        f"Bemf emf 0 v={_n(k_emf)}*v(w)",
        f"Rwind emf brush {_n(r_wind)}",
        f"Vdrop brush anode {_n(v_brush + v_diode)}",
        "Dblock anode bus oneway",
        f"Bbrake w 0 i={_n(k_emf)}*i(Vdrop)+{_n(drag_fixed)}*tanh(v(w)/0.01)+{_n(drag_viscous)}*v(w)",
    ]


def rider_into_battery(
    *,
    torque_still: float,
    w_free: float,
    ratio: float,
    efficiency: float,
    k_emf: float,
    r_wind: float,
    v_brush: float,
    v_diode: float,
    drag_fixed: float,
    drag_viscous: float,
    v_open: float,
    r_store: float,
    inertia: float = 0.005,
) -> str:
    """A rider who pushes along a straight torque line charges a battery. Reads w_crank, i_out, v_bus, p_crank."""
    lines = [
        *_rider(
            torque_still=torque_still,
            w_free=w_free,
            ratio=ratio,
            efficiency=efficiency,
            inertia=inertia,
            w_start=0.0,
        ),
        *_turning_machine(
            k_emf=k_emf,
            r_wind=r_wind,
            v_brush=v_brush,
            v_diode=v_diode,
            drag_fixed=drag_fixed,
            drag_viscous=drag_viscous,
        ),
        f"Rstore bus cell {_n(r_store)}",
        f"Vcell cell 0 {_n(v_open)}",
    ]
    return _deck(
        "rider into a battery", lines, stop=40.0, step=4e-3, finds=_rider_finds(torque_still, w_free, ratio)
    )


def rider_into_constant_power(
    *,
    torque_still: float,
    w_free: float,
    ratio: float,
    efficiency: float,
    k_emf: float,
    r_wind: float,
    v_brush: float,
    v_diode: float,
    drag_fixed: float,
    drag_viscous: float,
    p_load: float,
    v_floor: float,
    inertia: float = 0.005,
    capacitance: float = 5e-3,
    t_ramp: float = 10.0,
) -> str:
    """A rider who pushes along a straight torque line runs a regulating load. Reads w_crank, i_out, v_bus, p_crank.

    The legs start nearly free and the load comes on over t_ramp, so a rig with a holding point finds it; one without stalls.
    """
    lines = [
        *_rider(
            torque_still=torque_still,
            w_free=w_free,
            ratio=ratio,
            efficiency=efficiency,
            inertia=inertia,
            w_start=0.95 * w_free * ratio,
        ),
        *_turning_machine(
            k_emf=k_emf,
            r_wind=r_wind,
            v_brush=v_brush,
            v_diode=v_diode,
            drag_fixed=drag_fixed,
            drag_viscous=drag_viscous,
        ),
        f"Cbus bus 0 {_n(capacitance)} ic={_n(0.95 * w_free * ratio * k_emf - v_brush - v_diode)}",
        *_power_load("bus", p_load=p_load, v_floor=v_floor, t_ramp=t_ramp),
    ]
    finds = _rider_finds(torque_still, w_free, ratio)
    return _deck("rider into a constant-power load", lines, stop=60.0, step=4e-3, finds=finds)


def _rider_finds(torque_still: float, w_free: float, ratio: float) -> dict[str, str]:
    """What both rider circuits read."""
    crank = f"v(w)/{_n(ratio)}"
    return {
        "w_crank": f"par('{crank}')",
        "i_out": "i(Vdrop)",
        "v_bus": "v(bus)",
        "p_crank": f"par('{crank}*{_n(torque_still)}*(1-{crank}/{_n(w_free)})')",
    }
