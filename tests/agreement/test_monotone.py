"""Less never gives more: thinner or longer wire, wetter, colder, older, slacker, hotter, more ohms, weaker legs.

One thing of a rig is made worse and the same question is asked again, of the known rigs and of rigs drawn by a seed.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from tests.agreement.rigs import any_rig, known_rigs

from sparewatt.parts import Measured, Place, Rig
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.operating import State, delivered, operate, works
from sparewatt.studies.charge import charge_plan
from sparewatt.studies.judging import RANK, running_verdict

SEEDS = range(30)
RIGS = [pytest.param(loaded.rig, id=name) for name, loaded in known_rigs()] + [
    pytest.param(seed, id=f"seed {seed}") for seed in SEEDS
]
KELVIN = 273.15
ROOM = 1.002  # two runs of the same sums end a little apart


def rig_of(rig: Rig | int) -> Rig:
    """The rig with everything filled in, so that what is made worse is one number and not what stands in for it too."""
    return any_rig(rig).rig if isinstance(rig, int) else rig


def times(measured: Measured | None, factor: float) -> Measured | None:
    """A number that many times as large."""
    return None if measured is None else measured.scaled(factor)


def wires(rig: Rig, **factors: float) -> Rig:
    """Every wire changed in the same way."""
    return dataclasses.replace(
        rig,
        wire=tuple(
            dataclasses.replace(w, **{key: times(getattr(w, key), x) for key, x in factors.items()})
            for w in rig.wire
        ),
    )


def battery(rig: Rig, **changed: Measured) -> Rig:
    """The battery changed, where there is one."""
    return (
        rig
        if rig.battery is None
        else dataclasses.replace(rig, battery=dataclasses.replace(rig.battery, **changed))
    )


def slack(rig: Rig) -> Rig:
    """Every belt slacker and every roller pressed less."""
    return dataclasses.replace(
        rig,
        stage=tuple(
            dataclasses.replace(s, tension=times(s.tension, 0.4), friction=times(s.friction, 0.7))
            for s in rig.stage
        ),
    )


def machine(rig: Rig, key: str, factor: float) -> Rig:
    """One constant of the machine changed."""
    assert rig.machine is not None
    return dataclasses.replace(
        rig, machine=dataclasses.replace(rig.machine, **{key: times(getattr(rig.machine, key), factor)})
    )


def place(rig: Rig, **changed: object) -> Rig:
    """Where it stands, changed."""
    return dataclasses.replace(rig, place=dataclasses.replace(rig.place or Place(), **changed))  # type: ignore[arg-type]


def stages_of(rig: Rig) -> Rig:
    """The rig with tension and friction written out."""
    return dataclasses.replace(rig, stage=fill(rig).rig.stage)


# what is made worse: the rig before and after
WORSE: dict[str, tuple[Callable[[Rig], Rig], Callable[[Rig], Rig]]] = {
    "longer wire": (lambda r: r, lambda r: wires(r, length=6.0)),
    "thinner wire": (lambda r: r, lambda r: wires(r, size=0.3)),
    "worse contacts": (lambda r: wires(r), lambda r: wires(r, contact_resistance=5.0)),
    "wetter": (lambda r: place(r, wet=False), lambda r: place(r, wet=True)),
    "slacker belts": (stages_of, lambda r: slack(stages_of(r))),
    "more ohms": (
        lambda r: machine(fill(r).rig, "resistance", 1.0),
        lambda r: machine(fill(r).rig, "resistance", 1.6),
    ),
    "stiffer machine": (lambda r: fill(r).rig, lambda r: machine(fill(r).rig, "friction", 2.0)),
    "worn brushes": (lambda r: fill(r).rig, lambda r: machine(fill(r).rig, "brush_drop", 2.0)),
}


def asked(rig: Rig, effort: float) -> State:
    """The battery charged at an effort, every gear open."""
    ask = dataclasses.replace(ask_for(rig, load="charge", draws=0), effort=effort, gear=None, cadence=None)
    return operate(fill(rig), ask)


def arrives(state: State) -> np.ndarray:
    """Watts that arrive in each gear, 0 where it does not work."""
    watts = np.where(works(state.found)[:, 0], delivered(state.bound, state.found)[:, 0], 0.0)
    return np.nan_to_num(watts)


@pytest.mark.parametrize("what", WORSE)
@pytest.mark.parametrize("rig", RIGS)
def test_worse_never_gives_more(rig: Rig | int, what: str) -> None:
    """The battery of a rig made worse gets no more watts in its best gear.

    One thing may: a wire so thin that the board at its end asks for less can let legs run where they stalled, as an amps
    screw does. So wires are held gear by gear where the board works alike with both.
    """
    one = rig_of(rig)
    if one.battery is None:
        return
    before, after = (change(one) for change in WORSE[what])
    for effort in (60.0, 120.0, 200.0):
        good, bad = asked(before, effort), asked(after, effort)
        more, less = arrives(good), arrives(bad)
        if "wire" in what or "contacts" in what:
            alike = (more > 0) & (good.found.mode[:, 0] == bad.found.mode[:, 0])
            assert (less <= ROOM * more + 0.02)[alike].all(), (effort, more, less)
        else:
            assert less.max() <= ROOM * more.max() + 0.02, (effort, more, less)


AGEING: dict[str, tuple[dict[str, Measured], ...]] = {
    "colder": tuple({"temperature": Measured(KELVIN + t)} for t in (35, 25, 15, 5, -5)),
    "older": tuple({"health": Measured(x)} for x in (1.0, 0.8, 0.6, 0.4)),
}


# Cold lead-acid rests at fewer volts (0.2 mV a cell and kelvin), so before acceptance decides it takes a little more
COLD_RESTS_LOWER = 1.03


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel", "lifepo4", "lithium_other"])
@pytest.mark.parametrize("what", AGEING)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_colder_or_older_battery_gains_no_more(seed: int, what: str, chemistry: str) -> None:
    """Charge gained in an hour from half full and from nearly full, where acceptance decides.

    Held where it is charged in the same way: an old battery whose volts rise sooner asks less of the legs, and they may then
    hold what stalled them.
    """
    rig = rig_of(seed)
    if rig.battery is None or rig.battery.capacity is None:
        return
    for charge in (0.5, 0.9):
        last, way = math.inf, ""
        for changed in AGEING[what]:
            part = dataclasses.replace(
                rig.battery, chemistry=chemistry, charge=Measured(charge), charge_voltage=None
            )
            filled = fill(dataclasses.replace(rig, battery=dataclasses.replace(part, **changed)))
            ask = dataclasses.replace(ask_for(filled.rig, load="charge", draws=0), duration=3600.0)
            plan, state = charge_plan(filled, ask), operate(filled, ask)
            assert plan is not None
            health = filled.rig.battery.health if filled.rig.battery is not None else None
            gained = plan.ride_gain.mid * rig.battery.capacity.value * (health.value if health else 1.0)
            now = f"{state.gear} {state.found.mode[state.gear, 0]} {state.stop}"
            if now == way:
                assert gained <= COLD_RESTS_LOWER * last + 1.0, (changed, last, gained)
            last, way = gained, now


@pytest.mark.parametrize("kind", ["flooded", "agm", "gel"])
def test_frost_halves_the_last_of_a_charge(kind: str) -> None:
    """Nearly full and with amps to spare, a cold battery takes far less: acceptance decides, not the legs."""
    rig = next(r for r in map(rig_of, SEEDS) if r.battery is not None and r.battery.capacity is not None
               and (asked(r, 150.0).found.i_battery[:, 0] > 3.0).any())  # fmt: skip
    assert rig.battery is not None
    gains = []
    for t in (25.0, 0.0):
        part = dataclasses.replace(
            rig.battery, chemistry=kind, charge=Measured(0.95), capacity=Measured(7 * 3600.0), charge_voltage=None,
            temperature=Measured(KELVIN + t),
        )  # fmt: skip
        filled = fill(dataclasses.replace(rig, battery=part))
        ask = dataclasses.replace(ask_for(filled.rig, load="charge", draws=0), effort=150.0, duration=900.0)
        plan = charge_plan(filled, ask)
        assert plan is not None
        gains.append(plan.ride_gain.mid)
    assert 0 < gains[1] < 0.6 * gains[0]


@pytest.mark.parametrize("rig", RIGS)
def test_less_press_never_turns_a_no_into_a_yes(rig: Rig | int) -> None:
    """A roller pressed less, in the dry and in the wet: where it slips nothing is promised, and where more press slips, so
    does less."""
    one = stages_of(rig_of(rig))
    if one.battery is None or not any(s.kind in ("roller", "rim_wheel") for s in one.stage):
        return
    for effort in (60.0, 120.0, 200.0):
        slipped = False
        for press in (400.0, 200.0, 100.0, 50.0, 20.0, 5.0):
            stages = tuple(
                dataclasses.replace(s, press_force=Measured(press)) if s.press_force is not None else s
                for s in one.stage
            )
            state = asked(dataclasses.replace(one, stage=stages), effort)
            runs = bool((arrives(state) > 0).any())
            assert not (slipped and runs), (effort, press)
            assert state.found.slips is not None
            assert not arrives(state)[state.found.slips[:, 0]].any()
            slipped = slipped or bool(state.found.slips[:, 0].all())


@pytest.mark.parametrize("rig", RIGS)
def test_weaker_legs_never_get_a_better_verdict(rig: Rig | int) -> None:
    """The same ride asked of a rider with less to give."""
    one = fill(rig_of(rig)).rig
    names = [load.name for load in one.load][:2]
    for name in names:
        last = math.inf
        for share in (1.3, 1.0, 0.75, 0.5):
            weaker = tuple(
                dataclasses.replace(
                    r,
                    critical_power=times(r.critical_power, share),
                    work_reserve=times(r.work_reserve, share),
                    peak_power=times(r.peak_power, share),
                )
                for r in one.rider
            )
            ask = ask_for(one, load=name, draws=0)
            word = running_verdict(operate(fill(dataclasses.replace(one, rider=weaker)), ask))
            rank = RANK[word]
            assert rank <= last, (name, share, word)
            last = rank
