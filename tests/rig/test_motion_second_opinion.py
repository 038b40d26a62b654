"""The moving rig against somebody else's stiff solvers on right-hand sides written out here, restarted at every happening.

Scenes that the circuit simulator does not cover: a rider who holds a cadence, late and with a will of their own; a tool
behind a board of its own on a battery; an hour's slow things in two minutes: warmth, charge, and a battery that fills up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from tests.rig.movers import happened, mover, ride, series

from sparewatt.rig.motion_layout import Act, Chan, Event, Shared

F = NDArray[np.float64]
Rates = Callable[[float, F], Sequence[float]]


def near(ours: F, theirs: F, share: float = 2e-3) -> None:
    """Within a share of the range."""
    assert float(np.max(np.abs(ours - theirs))) < share * float(np.ptp(theirs))


# ---- a rider who holds a cadence --------------------------------------------------------------------------------------

N, GAIN, J_C, J_S = 30.0, 34.0, 0.15, 3e-3
R, DROP, COIL, CAP, K = 0.12, 1.2, 1e-3, 2e-3, 0.066
BACK, R_STORE = 12.6, 0.05
SPRINT, REACTION, RIPPLE = 24.0, 0.6, 0.9


class _Cadence:
    """Nine states: angle, crank, machine, amps, volts, felt cadence, two lags of the push, its trim."""

    def __init__(self) -> None:
        self.engaged, self.conducts, self.wanted = True, False, 6.8

    def push(self, y: F) -> float:
        return float(max(0.0, y[7] * (1 - max(y[1], 0.0) / SPRINT)) * (1 - RIPPLE * math.cos(2 * y[0])))

    def ask(self, y: F) -> float:
        w = y[2]
        dry = max(-1.0, min(1.0, w / 0.5))
        return float(K * y[3] * self.conducts + 0.035 * dry + 1.1e-4 * w)

    def ahead(self, y: F) -> float:
        return float(1.2 * max(-1.0, min(1.0, y[1] / 0.02)) + 0.02 * y[1])

    def accelerations(self, y: F) -> tuple[float, float]:
        push, ask, ahead = self.push(y), self.ask(y), self.ahead(y)
        if self.engaged:
            a = (push - ahead - GAIN * ask) / (J_C + GAIN * N * J_S)
            return a, N * a
        return (push - ahead) / J_C, -ask / J_S

    def passed(self, y: F) -> float:
        return self.ask(y) + J_S * self.accelerations(y)[1]

    def __call__(self, _t: float, y: F) -> list[float]:
        a_c, a_g = self.accelerations(y)
        emf = K * y[2]
        room = max(1 - y[5] / SPRINT, 0.05)
        j = J_C + GAIN * N * J_S
        want = max(0.0, y[8] + j / (2 * REACTION) * (self.wanted - y[5]) / room)
        return [
            y[1], a_c, a_g,
            (emf - DROP - R * y[3] - y[4]) / COIL if self.conducts else 0.0,
            (y[3] * self.conducts - (y[4] - BACK) / R_STORE) / CAP,
            (y[1] - y[5]) / 0.25,
            (want - y[6]) / (0.5 * REACTION),
            (y[6] - y[7]) / (0.5 * REACTION),
            j / (12 * REACTION**2) * (self.wanted - y[5]),
        ]  # fmt: skip

    def freewheel(self, _t: float, y: F) -> float:
        return self.passed(y) if self.engaged else float(y[2] - N * y[1])

    def diode(self, _t: float, y: F) -> float:
        return float(y[3]) if self.conducts else float(y[4] + DROP - K * y[2])

    def switch(self, which: int, y: F) -> None:
        if which == 0:
            self.engaged = not self.engaged
            if self.engaged:
                y[2] = N * y[1]
        else:
            self.conducts = not self.conducts
            y[3] = 0.0


def _restarted(model: _Cadence, y: F, t0: float, times: F) -> F:
    """States at the given times from t0 on, starting again at each happening."""
    gauges = [model.freewheel, model.diode]
    for gauge in gauges:
        gauge.__func__.terminal, gauge.__func__.direction = True, -1.0  # type: ignore[attr-defined]
    rows: list[F] = []
    end = float(times[-1])
    while True:
        for which, gauge in enumerate(gauges):  # what is past its mark already happens now
            if gauge(t0, y) < -1e-9:
                model.switch(which, y)
        left = times[len(rows) :]
        run = solve_ivp(
            model,
            (t0, end),
            y,
            method="Radau",
            events=gauges,
            t_eval=left,
            rtol=1e-8,
            atol=1e-9,
            max_step=0.05,
        )
        assert run.success
        rows += list(np.array(run.y).T) if len(run.t) else []
        hit = next((k for k in (0, 1) if len(run.t_events[k])), None)
        if hit is None:
            return np.array(rows)
        t0, y = float(run.t_events[hit][0]), np.array(run.y_events[hit][0])
        model.switch(hit, y)


def test_a_rider_who_holds_a_cadence() -> None:
    """Light legs that pulse before a heavy machine, held at 65 rpm and then at 72: freewheel and diode work all the time,
    and the rider corrects late, by feel, and with a slow will to come out right."""
    m = mover(
        param={
            "k_emf": K, "r_source": R, "v_drop": DROP, "t_coulomb": 0.03, "b_viscous": 1e-4, "u_rest": BACK,
        },
        geo={
            "gain": GAIN, "j_crank": J_C, "j_shaft": J_S, "drag_before": 1.2, "slope_before": 0.02,
            "drag_after": 0.005, "slope_after": 1e-5,
        },
        move={"inductance": COIL, "capacitance": CAP, "ripple": RIPPLE, "reaction": REACTION, "w_sprint": SPRINT},
        output={"has_battery": 1.0, "v_rest": BACK, "r_store": R_STORE},
    )  # fmt: skip
    t = np.linspace(0, 5, 101)
    done = ride(m, t, script=[(2.0, Act.CADENCE, 0, 7.6)], holds=1, want=6.8, w_crank=6.8)
    volts = float(series(done, Chan.V_BUS)[0])
    model = _Cadence()
    push = float(series(done, Chan.T_CRANK)[0]) / (1 - 6.8 / SPRINT)
    y = np.array([math.pi / 4, 6.8, N * 6.8, 0.0, volts, 6.8, push, push, push])
    first = _restarted(model, y, 0.0, t[t <= 2.0])
    y = first[-1].copy()
    model.wanted, y[8] = 7.6, y[6]  # a new wish: the will starts from where the legs are
    both = np.concatenate([first, _restarted(model, y, 2.0, t[t >= 2.0])[1:]])
    for column, name in ((1, Chan.W_CRANK), (2, Chan.W_SHAFT), (4, Chan.V_BUS)):
        near(series(done, name), both[:, column])
    assert len(happened(done, Event.FREEWHEEL_OPENS)) > 5
    assert len(happened(done, Event.DIODE_BLOCKS)) > 5


# ---- a tool behind its own board --------------------------------------------------------------------------------------


def test_a_tool_behind_its_own_board_on_a_battery() -> None:
    """A universal motor on a 90 V board with an amps screw and an input limit, fed by a battery that a rider charges: the
    board's input limit binds in the run-up, the bus sags, and the tool is let go and loaded again."""
    m = mover(
        param={"k_emf": 0.075, "r_source": 0.3, "v_drop": 1.2, "t_coulomb": 0.03, "b_viscous": 1e-4, "u_rest": 12.6},
        geo={"gain": 34.0, "j_shaft": 2e-3},
        move={"inductance": 3e-4, "capacitance": 5e-3},
        output={
            "has_battery": 1.0, "v_rest": 12.6, "r_store": 0.03, "motor": 1.0, "motor_k": 0.035, "motor_r": 6.0,
            "motor_l": 0.03, "motor_sat": 6.0, "motor_j": 1.5e-4, "motor_tc": 0.02, "motor_fan": 1.2e-7,
            "motor_tool": 0.12, "motor_brush": 1.5, "motor_on": 1.0, "own_set": 90.0, "own_amps": 3.0, "own_in": 12.0,
            "own_l0": 2.0, "own_l1": 0.09, "own_l2": 1e-4,
        },
    )  # fmt: skip
    t = np.linspace(0, 4, 161)
    script = [(0.2, Act.ON, 0, 0.0), (2.0, Act.WORK, 0, 1.0), (3.0, Act.WORK, 0, 0.2)]
    done = ride(m, t, script=script, w_crank=6.5, want=150.0, work=0.0)

    def rates(time: float, y: F) -> list[float]:
        w, i, v, amps, speed = y
        on, work = time >= 0.2, 0.0 if time < 2.0 else (1.0 if time < 3.0 else 0.2)
        feed = 90.0 * max(0.0, min(1.0, (1.01 - amps / 3.0) / 0.02))
        watts_in = 12.0 * v - 2.0
        most = (-1.09 + math.sqrt(1.09**2 + 4e-4 * watts_in)) / 2e-4 if watts_in > 0 else 0.0
        feed = min(feed, most / max(amps, 1e-6))
        p = feed * amps
        drawn = (p + 2.0 + 0.09 * p + 1e-4 * p * p) if on else 0.0
        flux = 0.035 * amps / (1 + amps / 6.0)
        torque = 4 * 150.0 / 15.0 * (1 - w / 15.0)
        ask = 0.075 * i + 0.03 + 1e-4 * 30.0 * w
        return [
            (torque - 34.0 * ask) / (0.4 + 34.0 * 30.0 * 2e-3),
            (0.075 * 30.0 * w - 1.2 - 0.3 * i - v) / 3e-4,
            (i - (v - 12.6) / 0.03 - drawn / v) / 5e-3,
            (feed - 1.5 * min(amps / 0.02, 1.0) - 6.0 * amps - flux * speed) / 0.03 if on else 0.0,
            (flux * amps - (0.02 + work * 0.12) * min(speed / 2.0, 1.0) - 1.2e-7 * speed**2) / 1.5e-4,
        ]

    y = np.array([6.5, float(series(done, Chan.AMPS)[0]), float(series(done, Chan.V_BUS)[0]), 0.0, 0.0])
    rows = []
    for start, end in ((0.0, 0.2), (0.2, 2.0), (2.0, 3.0), (3.0, 4.0)):
        here = t[(t >= start - 1e-9) & (t < end - 1e-9)]
        at = np.append(here, end)
        run = solve_ivp(
            rates, (start, end), y, method="LSODA", t_eval=at, rtol=1e-8, atol=1e-9, max_step=5e-3
        )
        assert run.success
        rows += list(run.y.T[:-1])
        y = run.y[:, -1]
    theirs = np.array([*rows, y])
    near(series(done, Chan.W_CRANK), theirs[:, 0])
    near(series(done, Chan.V_BUS), theirs[:, 2])
    near(series(done, Shared.TOOL_AMPS), theirs[:, 3])
    near(series(done, Shared.TOOL_SPEED), theirs[:, 4])
    assert series(done, Shared.TOOL_SPEED).max() > 500.0


# ---- slow things -----------------------------------------------------------------------------------------------------


def test_warmth_charge_and_a_battery_that_fills_up() -> None:
    """Four minutes at the legs' best into a small battery that is nearly full: the winding warms and resists more, the
    magnets weaken, the battery rises on its curve and then holds its volts while the amps fade."""
    m = mover(
        param={"k_emf": 0.075, "r_source": 0.45, "v_drop": 1.2, "t_coulomb": 0.04, "b_viscous": 1e-4, "u_rest": 12.8},
        geo={"gain": 33.0},
        move={
            "v_brush": 0.7, "magnet_slope": -2e-3, "magnet_share": 0.5, "r_th_in": 0.9, "r_th_out": 1.8, "c_wind": 60.0,
            "c_case": 250.0, "capacitance": 1e-3,
        },
        output={
            "has_battery": 1.0, "v_rest": 12.8, "r_store": 0.06, "capacity": 4000.0, "soc": 0.6, "v_full": 14.4,
            "tail": 150.0, "eta_fill": 0.95, "eta_tail": 0.8, "v_gas": 0.5, "i_gas": 0.05,
        },
    )  # fmt: skip
    m.ocv[:] = [[0.0, 1.0], [12.2, 13.2]]
    t = np.linspace(0, 240, 241)
    done = ride(m, t, w_crank=6.5, want=150.0, heats=True)

    def rates(_t: float, y: F) -> list[float]:
        w, i, wind, case, soc, extra = y
        magnet = 293.15 + 0.5 * (case - 293.15)
        k, r = 0.075 * (1 - 2e-3 * (magnet - 293.15)), 0.45 * (1 + 0.00393 * (wind - 293.15))
        rested = 12.8 + (soc - 0.6)
        v = rested + extra + 0.06 * i
        torque = 4 * 150.0 / 15.0 * (1 - w / 15.0)
        friction = 0.04 + 1e-4 * 30.0 * w
        inward = (wind - case) / 0.9
        takes = (1 - soc) * 4000.0 / 150.0
        full = min(i / (takes + 0.05), 1.0)
        wish = max(14.4 - rested - 0.06 * i, 0.0) * full**4 + 0.5 * math.log(
            1 + max(i - takes - 0.05, 0) / 0.05
        )
        kept = 0.95 - 0.15 * min(max(20 * i / takes - 19, 0), 1)
        return [
            (torque - 33.0 * (k * i + friction)) / (0.4 + 33.0 * 30.0 * 1e-3),
            (k * 30.0 * w - 1.2 - r * i - v) / 1e-3,
            (i * i * r + 0.7 * i - inward) / 60.0,
            (friction * 30.0 * w + inward - (case - 293.15) / 1.8) / 250.0,
            kept * min(i, takes) / 4000.0,
            (wish - extra) / 60.0,
        ]

    y = [6.5, float(series(done, Chan.AMPS)[0]), 293.15, 293.15, 0.6, 0.0]
    run = solve_ivp(rates, (0.0, 240.0), y, method="LSODA", t_eval=t, rtol=1e-9, atol=1e-10)
    assert run.success
    # slow things stand still within a step of at most a tenth of a second
    near(series(done, Chan.W_CRANK)[1:], run.y[0, 1:], 4e-3)
    near(series(done, Chan.AMPS)[1:], run.y[1, 1:], 4e-3)
    near(series(done, Chan.WINDING), run.y[2], 4e-3)
    near(series(done, Chan.MAGNET), 293.15 + 0.5 * (run.y[3] - 293.15), 4e-3)
    near(series(done, Shared.CHARGE), run.y[4], 4e-3)
    assert series(done, Chan.WINDING)[-1] > 310.0
    assert len(happened(done, Event.FULL_VOLTS)) == 1
