"""Two more netlists, for what the solver knows beyond the formulas: no diode at all, and a step-down board out of volts."""

from __future__ import annotations

__all__ = ["machine_without_diode", "step_down_out_of_volts"]

_END = """.model oneway d(is=1e-9 n=0.001)
.options reltol=1e-5 abstol=1e-9 vntol=1e-7 method=gear
.tran {step:.6g} {stop:.6g} 0 {step:.6g} uic
"""


def machine_without_diode(*, emf: float, r_wind: float, v_drop: float, v_open: float, r_store: float) -> str:
    """A machine at a steady speed, no diode, on a battery: current may flow either way. Reads v_bus and i_out.

    The drop is that of brushes: it opposes the current, so it changes sides with it.
    """
    return (
        f"* machine without a diode\nVemf emf 0 {emf:.12g}\nRwind emf coil {r_wind:.12g}\n"
        f"Bbrush coil sense v={v_drop:.12g}*tanh(i(Vsense)/1e-4)\nVsense sense bus 0\n"
        f"Lcalm bus post 1e-6 ic=0\nRstore post cell {r_store:.12g}\nVcell cell 0 {v_open:.12g}\n"
        + _END.format(step=1e-5, stop=0.01)
        + ".meas tran v_bus find v(bus) at=0.0099\n.meas tran i_out find i(Vsense) at=0.0099\n.end\n"
    )


def step_down_out_of_volts(*, emf: float, r_wind: float, v_drop: float, v_loss: float, r_load: float) -> str:
    """A step-down board whose switch is on all the time: a wire that keeps v_loss. Reads v_bus, v_out and i_out."""
    return (
        f"* step-down board out of volts\nVemf emf 0 {emf:.12g}\nRwind emf coil {r_wind:.12g}\n"
        f"Vdrop coil anode {v_drop:.12g}\nDblock anode bus oneway\nCbus bus 0 1e-4 ic=0\n"
        f"Vloss bus through {v_loss:.12g}\nDthrough through out oneway\nCout out 0 1e-4 ic=0\nRload out 0 {r_load:.12g}\n"
        + _END.format(step=1e-5, stop=0.1)
        + ".meas tran v_bus find v(bus) at=0.099\n.meas tran v_out find v(out) at=0.099\n"
        + ".meas tran i_out find i(Vdrop) at=0.099\n.end\n"
    )
