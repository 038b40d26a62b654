"""What ratio, volts and settings: the holding point, the three edges, the leg picture, the room to ride in."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Rig
from sparewatt.physics import roller
from sparewatt.rig import solve
from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import Edges, edge_curves, edges_at, spare_band
from sparewatt.rig.endurance import HOURS_FACTOR, time_for
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.operating import (
    RPM,
    State,
    bands,
    ceiling_limits,
    delivered,
    overspeed,
    uncomfortable,
    works,
)
from sparewatt.rig.outcome import Band, Caveat, Link, Mode, Point, Stop
from sparewatt.studies.answers import Change, GearRow, LegPicture, MatchAnswer, Room
from sparewatt.studies.judging import Judgement, judge
from sparewatt.studies.nearest import offers
from sparewatt.studies.room import room_to_ride
from sparewatt.studies.settings import settings_card
from sparewatt.studies.shares import shares_of
from sparewatt.studies.unknowns import unknowns_of

__all__ = ["gear_rows", "leg_picture", "match"]

F = NDArray[np.float64]
NAN = math.nan
SOURCES = (
    "torque_cadence",
    "critical_power",
    "drive_losses",
    "small_roller",
    "dc_machine",
    "constant_power_load",
    "iec60028",
    "two_body_heat",
)
BIND_SAYS = {
    "legs": "your legs",
    "machine": "the machine: its own winding takes the rest",
    "board": "the amps the board can take in",
}


def match(rig: Rig | Filled, ask: Ask, *, nearest: bool = True) -> MatchAnswer:
    """Answer one question about one rig. With nearest=False the search for changes is left out."""
    filled = rig if isinstance(rig, Filled) else fill(rig)
    judged = judge(filled, ask)
    changes = offers(filled, judged) if nearest else ()
    if judged.state is None:
        return _refused(ask, judged, changes)
    return _answer_from(judged.state, judged, changes)


def _answer_from(solved: State, judged: Judgement, changes: tuple[Change, ...]) -> MatchAnswer:
    """The full answer of a solved question."""
    ask, bound, g = solved.ask, solved.bound, solved.gear
    at = solved.at
    edges = edges_at(solved.bound, solved.gear, solved.ask.effort)
    spare = spare_band(solved.bound, solved.gear, solved.ask.effort)
    verdict = judged.verdict
    stop = judged.stop if judged.views[0].key == "fit" else solved.stop
    shares = shares_of(solved)
    chain = solve.chain(bound, at) if at is not None else ()
    binds, says = _binding(solved, stop, at, edges, chain)
    rider = bands(solved, solved.found.p_rider[g])
    if ask.cadence is not None and at is not None:
        rider = dataclasses.replace(rider, mid=at.p_rider)
    return MatchAnswer(
        ask=ask,
        verdict=verdict,
        stop=stop,
        gear=bound.gears[g],
        point=at,
        chain=tuple(dataclasses.replace(link, binds=link.key == binds) for link in chain),
        binds=binds,
        binds_says=says,
        hold=bands(solved, solved.found.w_hold[g]),
        tip=bands(solved, solved.found.w_tip[g]),
        chance=float(solved.chances[g]),
        delivered=bands(solved, delivered(solved.bound, solved.found)[g]),
        rider=rider,
        edges=edges,
        spare=spare,
        time_to_limit=_time_band(solved),
        hour_power=Band.of(
            HOURS_FACTOR * bound.critical_power[1:], float(HOURS_FACTOR * bound.critical_power[0])
        ),
        gears=gear_rows(solved),
        picture=leg_picture(solved),
        room=room_to_ride(solved),
        settings=settings_card(solved, at),
        unknowns=unknowns_of(solved),
        nearest_yes=changes,
        shares=shares,
        caveats=_caveats(solved, at),
        sources=SOURCES,
        edge_curves=edge_curves(bound, g, ask.effort),
        why=judged.why if judged.views[0].key != "runs" and judged.verdict != "good use of legs" else "",
        screw=_screw(solved),
        hot=(solved.warmth.winding, solved.warmth.longrun, solved.warmth.limit),
    )


def _time_band(solved: State) -> Band:
    g, bound = solved.gear, solved.bound
    p = solved.found.p_rider[g]
    if solved.ask.cadence is not None:
        at = solve.point(bound, g, solved.ask.cadence)
        p = np.full(bound.cols, at.p_rider)
    t = time_for(p, bound.critical_power, bound.work_reserve)
    capped = np.minimum(np.where(np.isfinite(p), t, np.nan), 24 * 3600.0)
    mid = float(t[0]) if np.isfinite(p[0]) else NAN
    band = Band.of(capped[1:], mid)
    return dataclasses.replace(band, high=math.inf) if band.high >= 24 * 3600.0 or math.isinf(mid) else band


def _binding(
    solved: State, stop: Stop, at: Point | None, edges: Edges, chain: tuple[Link, ...]
) -> tuple[str, str]:
    """Key of the chain link that limits the answer, and why in words."""
    if stop == Stop.UNFAIR:
        return "board", stop.value
    if stop == Stop.OVERFILLS:
        return "battery", stop.value
    if stop == Stop.SLIPS:
        slipping = next((x for x in solved.limits if x.key == "grip"), None)
        return (slipping.link if slipping else "legs"), stop.value
    if stop == Stop.UNRIDABLE:
        pinned = solved.bound.hookup.battery is not None and solved.bound.hookup.board is None
        return (
            ("battery", "the battery holds your cadence there")
            if pinned
            else ("legs", "the drive does not fit these legs")
        )
    if stop == Stop.PINNED:
        tolls = {link.key: link.toll for link in chain if link.key not in ("legs", "battery", "load")}
        worst = max(tolls, key=lambda key: tolls[key]) if tolls else "legs"
        return (
            "battery",
            f"the battery holds your cadence; the largest toll is taken by the {_name(chain, worst)}",
        )
    if stop == Stop.BREAKS:
        return ("board" if solved.bound.hookup.board else "load"), "the volts pass a part's limit"
    if stop in (Stop.EDGE_BOARD, Stop.CHATTERS, Stop.NEVER_WAKES):
        return "board" if solved.bound.hookup.board else "load", stop.value
    if stop == Stop.EDGE_MACHINE:
        return "machine", stop.value
    for link in chain:
        if math.isfinite(link.used) and link.used > 1.0:
            return link.key, f"the {link.name} is past its limit ({link.limit})"
    screw = _screw(solved)
    if math.isfinite(screw):
        return "board", f"the amps screw of the {solved.bound.hookup.board.name}"  # type: ignore[union-attr]
    lowest = edges.lowest
    key = (
        "board"
        if lowest == "board" and solved.bound.hookup.board
        else ("machine" if lowest == "machine" else "legs")
    )
    return key, BIND_SAYS.get(lowest, BIND_SAYS["legs"])


def _screw(solved: State) -> float:
    """Amps at which the screw of the charging board holds the amps back (A); NaN where something else does."""
    joined, at = solved.bound.hookup, solved.at
    if joined.load is not None or joined.board is None or joined.battery is None or at is None:
        return NAN
    limit = float(solved.bound.extras["i_set"][0])
    held = at.mode == Mode.REGULATES and math.isfinite(limit) and at.i_board_out >= 0.995 * limit
    return limit if held else NAN


def _name(chain: tuple[Link, ...], key: str) -> str:
    return next((link.name for link in chain if link.key == key), key)


def gear_rows(solved: State) -> tuple[GearRow, ...]:
    """One row a gear."""
    bound, found = solved.bound, solved.found
    limits = ceiling_limits(bound)
    what, volts = limits[0] if limits else ("", math.inf)
    fast = overspeed(bound.rig)
    watts = delivered(solved.bound, solved.found)
    ok = works(found)
    rows = []
    for g, name in enumerate(bound.gears):
        k_n = float(bound.params[Param.K_EMF, 0] * bound.ratio[g, 0])

        def band(values: F, g: int = g) -> Band:
            kept = np.where(ok[g], values[g], np.nan)
            mid = float(values[g, 0]) if ok[g, 0] else None
            return Band.of(kept[1:], mid) if kept.size > 1 else Band(float(values[g, 0]), NAN, NAN)

        breaks = volts / k_n
        wakes, passes = _wakes_passes(bound, g)
        rows.append(
            GearRow(
                gear=name,
                ratio=float(bound.ratio[g, 0]),
                stop=solved.stops[g],
                chance=float(solved.chances[g]),
                hold=band(found.w_hold),
                tip=band(found.w_tip),
                delivered=band(watts),
                rider=band(found.p_rider),
                mode=Mode(int(found.mode[g, 0])),
                bus_volts=band(found.v_bus),
                wakes=wakes,
                passes=passes,
                breaks=breaks if breaks < 150 * RPM else NAN,
                breaks_what=what if breaks < 150 * RPM else "",
                ceiling=k_n * fast,
                fastest=fast,
                best=g == solved.gear,
            )
        )
    return tuple(rows)


def _wakes_passes(bound: Bound, g: int) -> tuple[float, float]:
    """Crank speed where current first flows, and where a step-up board stops holding back the volts."""
    cadence = np.linspace(5 * RPM, 200 * RPM, 391)
    mode = solve.lines(bound, cadence)[1, g, 0]
    awake = np.flatnonzero(~np.isin(mode, (Mode.ASLEEP, Mode.CHATTERS)))
    passing = np.flatnonzero(mode == Mode.PASSES)
    if "v_open" in bound.extras and bound.hookup.board is None:
        first = float(bound.extras["v_open"][0] + bound.params[Param.V_DROP, 0])
        return first / float(bound.params[Param.K_EMF, 0] * bound.ratio[g, 0]), NAN
    return (
        float(cadence[awake[0]]) if awake.size else NAN,
        float(cadence[passing[0]]) if passing.size else NAN,
    )


def leg_picture(solved: State) -> LegPicture:
    """Lines and marks of the leg picture for the reported gear."""
    bound, g, ask = solved.bound, solved.gear, solved.ask
    cadence = np.linspace(5 * RPM, float(bound.w_top[0]), 141)
    table = solve.lines(bound, cadence)

    def line(k: int) -> F:
        flowing = ~np.isin(table[1, k, 0], (Mode.ASLEEP, Mode.CHATTERS))
        return np.where(flowing, table[0, k, 0], np.nan)

    start = solve.rider_line(bound, ask.effort)
    every = start[:, None] * (1 - cadence[None, :] / bound.w_top[:, None])
    low, high = np.percentile(every[1:], (5, 95), axis=0) if bound.cols > 1 else (every[0], every[0])
    wakes, passes = _wakes_passes(bound, g)
    limits = ceiling_limits(bound)
    breaks = limits[0][1] / float(bound.params[Param.K_EMF, 0] * bound.ratio[g, 0]) if limits else math.inf
    return LegPicture(
        cadence=cadence,
        rider=every[0],
        rider_low=low,
        rider_high=high,
        load=line(g),
        other_loads={name: line(k) for k, name in enumerate(bound.gears) if k != g},
        crossings=solve.all_crossings(bound, g, solved.nominal_w, solved.nominal_kind),
        passes=passes,
        breaks=breaks if breaks < 150 * RPM else NAN,
        breaks_what=limits[0][0] if breaks < 150 * RPM else "",
        breaks_volts=limits[0][1] if limits else NAN,
        wakes=wakes,
        comfortable=bound.rider.cadence.value if bound.rider.cadence else 65 * RPM,
    )


def _caveats(solved: State, at: Point | None) -> tuple[Caveat, ...]:
    bound = solved.bound
    found = [Caveat("rig file", says) for says in bound.assumed]
    after, longrun, limit = solved.warmth.winding, solved.warmth.longrun, solved.warmth.limit
    if solved.stop not in (Stop.FOUND, Stop.PINNED) and after - solved.warmth.air > 5:
        found.append(Caveat("machine", "it holds for the first minutes; as the copper warms it tips over"))
    if longrun > limit:
        found.append(
            Caveat(
                "machine",
                "left running at this load for hours its winding passes what it may stand; rest it, or ride with fewer amps",
            )
        )
    elif after - solved.warmth.air > 40:
        found.append(Caveat("machine", "solved with the copper hot; the first minutes give a little more"))
    if at is not None and solved.ask.cadence is None and uncomfortable(solved):
        found.append(
            Caveat(
                "drive",
                "this cadence is far from what this rider likes; change the pulley or the gear, not the legs",
            )
        )
    for k, stage in enumerate(bound.rig.stage):
        if stage.kind == "roller" and stage.driver_diameter and stage.driven_diameter:
            warning = roller.roller_caveat(stage.driver_diameter.value, stage.driven_diameter.value)
            if warning:
                found.append(Caveat(f"stage {k + 1}", warning))
    if bound.rig.machine is not None and bound.rig.machine.kind == "alternator":
        found.append(
            Caveat(
                "machine",
                "its field takes tens of watts before the first useful one; a machine with magnets suits legs better",
            )
        )
    if bound.hookup.board is not None and bound.hookup.board.panel_tracker:
        found.append(
            Caveat(
                "board",
                "a charger made for sun panels hunts for all you have and pulls you to the edge; use a fixed amps limit",
            )
        )
    if at is not None and at.mode == Mode.PASSES:
        found.append(
            Caveat("board", "the board passes the volts straight through here: its amps limit does nothing")
        )
    return tuple(found)


def _refused(ask: Ask, judged: Judgement, changes: tuple[Change, ...]) -> MatchAnswer:
    """The answer for a machine or load that is refused before solving."""
    nan = Band(NAN, NAN, NAN)
    empty = np.zeros(0)
    stop, why = judged.stop, judged.why
    return MatchAnswer(
        ask=ask,
        verdict="not by legs",
        stop=stop,
        gear="",
        point=None,
        chain=(),
        binds="machine" if stop == Stop.NO_MACHINE else "load",
        binds_says=why,
        hold=nan,
        tip=nan,
        chance=0.0,
        delivered=nan,
        rider=nan,
        edges=Edges(legs=NAN, machine=NAN, board=NAN, lowest="legs"),
        spare=nan,
        time_to_limit=nan,
        hour_power=nan,
        gears=(),
        picture=LegPicture(
            cadence=empty,
            rider=empty,
            rider_low=empty,
            rider_high=empty,
            load=empty,
            other_loads={},
            crossings=(),
            passes=NAN,
            breaks=NAN,
            breaks_what="",
            breaks_volts=NAN,
            wakes=NAN,
            comfortable=NAN,
        ),
        room=Room(
            cadence=empty,
            gears=(),
            cells=np.zeros((0, 0), dtype=np.int64),
            chosen=None,
            closing=None,
            by_load=(),
        ),
        settings=(),
        unknowns=(),
        nearest_yes=changes,
        shares=None,
        caveats=(Caveat("load" if stop == Stop.NOT_ON_DC else "machine", why),),
        sources=SOURCES,
    )
