"""One ask, one answer: what two sections say of the same question of the same rig is the same."""

from __future__ import annotations

import math

import pytest
from tests.agreement.rigs import any_rig, known_rigs

from sparewatt.files import Loaded
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.operating import operate
from sparewatt.rig.outcome import Stop
from sparewatt.studies.guard.findings import STATED, guard, put_first
from sparewatt.studies.guard.scene import scene_of
from sparewatt.studies.loads import loads
from sparewatt.studies.match import match
from sparewatt.studies.worth import worth

KNOWN = known_rigs()
SEEDS = range(12)


def rigs() -> list[pytest.ParameterSet]:
    """Every known rig, and some drawn by a seed."""
    known = [pytest.param(loaded, id=name) for name, loaded in KNOWN]
    return known + [pytest.param(seed, id=f"seed {seed}") for seed in SEEDS]


def filled_of(rig: Loaded | int) -> Filled:
    """The rig, filled in."""
    return fill((any_rig(rig) if isinstance(rig, int) else rig).rig)


@pytest.mark.parametrize("rig", rigs())
def test_one_verdict_in_every_section(rig: Loaded | int) -> None:
    """`match`, `loads` and `worth` give each load the same word for the same question."""
    filled = filled_of(rig)
    if not filled.rig.load:
        return
    ran = {row.load: row for row in loads(filled).rows}
    priced = {row.load: row for row in worth(filled).rows}
    for load in filled.rig.load:
        matched = match(filled, ask_for(filled.rig, load=load.name))
        words = (matched.verdict, ran[load.name].verdict, priced[load.name].verdict)
        assert len(set(words)) == 1, (
            load.name,
            words,
            matched.stop,
            ran[load.name].why,
            priced[load.name].why,
        )
        assert matched.nearest_yes == ran[load.name].nearest_yes == priced[load.name].nearest_yes


@pytest.mark.parametrize("rig", rigs())
def test_one_number_in_every_section(rig: Loaded | int) -> None:
    """Charging amps and watts, cadence, watts at the pedals and warmth are the same numbers, bands included."""
    filled = filled_of(rig)
    names = [x.name for x in filled.rig.load] + (["charge"] if filled.rig.battery is not None else [])
    answer = loads(filled)
    rows = {row.load: row for row in answer.rows}
    for name in names:
        ask = ask_for(filled.rig, load=name)
        matched = match(filled, ask, nearest=False)
        if matched.point is None:
            continue
        state = operate(filled, ask)
        assert matched.point is state.at
        assert scene_of(filled, ask=ask).solved is state
        assert matched.hot == (state.warmth.winding, state.warmth.longrun, state.warmth.limit)
        if name == "charge" and answer.charge is not None and state.stop in (Stop.FOUND, Stop.PINNED):
            assert answer.charge.amps.mid == pytest.approx(matched.point.i_battery, rel=1e-9)
            assert answer.charge.p_battery == matched.delivered
        row = rows.get(name)
        worked = [s for s in row.states if s.works and s.state in ("rated", "light")] if row else []
        if worked and math.isfinite(worked[-1].hold.mid) and len(worked) == 1:
            assert worked[-1].hold == matched.hold
            assert worked[-1].p_rider == matched.rider


@pytest.mark.parametrize("rig", rigs())
def test_what_must_be_put_right_first_is_what_guard_stops(rig: Loaded | int) -> None:
    """The stops beside a verdict are the stops of `guard` for that question, played or not."""
    filled = filled_of(rig)
    ask = ask_for(filled.rig)
    titles = {title for title, _check in STATED}
    stops = {f.key for f in guard(filled, ask=ask).findings if f.check == "stop"}
    assert {f.key for f in put_first(filled, ask)} == stops, titles
