"""Published keys of `match`."""

from __future__ import annotations

import math
from typing import Any

from sparewatt.studies.answers import Change, Room
from sparewatt.tasks.keys import Key, band, mixed, number, rows, text, whole

__all__ = ["CHANGE", "MATCH", "UNKNOWN"]

NO_TIP = "nothing tips over here: the battery holds the cadence, or it does not run"
NOT_RUN = "there is no running point"
NO_SPARE = "the battery takes what comes; there is no edge to fall over"
ENDLESS = "as long as you like, or there is no running point"
NO_EDGE = "nothing limits it on this side"
NEVER = "never below the fastest cadence looked at"

CHANGE: tuple[Key, ...] = (
    text("kind", "kind", "shed, shorter, gear, pulley, board, battery, riders, no electricity, effort, wait or drag."),
    text("says", "says", "The change."),
    text("gives", "gives", "What it gives."),
    mixed("edits", lambda c: [list(pair) for pair in c.edits],
          "Pairs of key path and text that make the change in the rig file; a path that ends in + adds a table."),
    mixed("ask", lambda c: _asked(c), "What the question becomes, where the question changes instead of the rig."),
    text("words", lambda c: c.words or None,
         "Of a scene: its words as it is ridden then; null where no scene was asked about."),
    whole("proven", "proven", "The changed rig was solved again, or its scene played again, and accepted."),
    number("cost_coin", "cost", "Price in the rig's own coin.", "no price is known"),
    number("size_ratio", "size", "How big a change it is; the smallest comes first."),
)  # fmt: skip

UNKNOWN: tuple[Key, ...] = (
    text("key", "key", "Key path in the rig file."),
    text("name", "name", "What it is."),
    number("variance_share", "share", "Share of the doubt in the answer that comes from it."),
    text("how", "how", "How it is known now."),
    text("measure", "measure", "What to do to know it better; empty when it cannot be measured."),
    number("time_s", lambda u: 60.0 * u.minutes, "How long that takes.", "it cannot be measured"),
)


def _asked(c: Change) -> dict[str, object] | None:
    if c.ask is None:
        return None
    return {
        "rider": c.ask.rider,
        "load": c.ask.load,
        "gear": c.ask.gear,
        "effort_W": c.ask.effort,
        "duration_s": c.ask.duration,
    }


_LINK: tuple[Key, ...] = (
    text(
        "key",
        "key",
        "Which link: legs, stage 1.., flywheel, machine, diode, wire, board, battery wire, battery, load wire, "
        "load board, load.",
    ),
    text("name", "name", "What the rig file calls it."),
    number("in_W", "p_in", "Watts that come in."),
    number("out_W", "p_out", "Watts that go out."),
    number("toll_W", "toll", "Watts it keeps."),
    number("speed_rad_per_s", "speed", "Speed of its driven shaft.", "it does not turn"),
    number("torque_N_m", "torque", "Torque on its driven shaft.", "it does not turn"),
    number("voltage_V", "volts", "Volts behind it.", "it carries no current"),
    number("current_A", "amps", "Amps through it.", "it carries no current"),
    number("temperature_K", "temperature", "How hot it gets.", "no temperature is worked out for it"),
    text("limit", "limit", "The limit nearest to being reached."),
    number("limit_used_share", "used", "How much of that limit is used; 1 is at it.", "it has no limit"),
    whole("binds", "binds", "This link is what limits the answer."),
    text("how", "how", "The least certain origin of its constants."),
)

_GEAR: tuple[Key, ...] = (
    text("gear", "gear", "Driver and driven teeth, or single."),
    number("speed_ratio", "ratio", "Turns of the machine for one of the crank."),
    text("stop", "stop", "Outcome in this gear, as one word."),
    text("stop_says", lambda g: g.stop.value, "Outcome in this gear, as a sentence."),
    number("chance_share", "chance", "Share of draws in which it holds and serves the load."),
    band("cadence_rad_per_s", "hold", "Crank speed where it holds.", NOT_RUN),
    band("tip_cadence_rad_per_s", "tip", "Crank speed below which it drags you to a stop.", NO_TIP),
    band("delivered_power_W", "delivered", "Watts into the battery or the load.", NOT_RUN),
    band("rider_power_W", "rider", "Watts at the pedals.", NOT_RUN),
    text("mode", lambda g: g.mode.sentence(), "How the electrical side runs there."),
    band(
        "bus_voltage_V",
        "bus_volts",
        "Volts at the board's input, or at battery or load when there is no board.",
        NOT_RUN,
    ),
    number("wakes_rad_per_s", "wakes", "Crank speed where current first flows.", NEVER),
    number(
        "passes_rad_per_s",
        "passes",
        "Crank speed where a step-up board passes the volts straight through.",
        NEVER,
    ),
    number("breaks_rad_per_s", "breaks", "Crank speed where open volts pass the lowest rating.", NEVER),
    text("breaks_what", "breaks_what", "The part with that rating."),
    number(
        "fastest_rad_per_s",
        "fastest",
        "Crank speed where open volts are read: 120 turns a minute, or the fastest sprint that the file gives.",
    ),
    number("ceiling_V", "ceiling", "Open volts there."),
    whole("best", "best", "This gear is the one reported."),
)


def _point(name: str) -> Any:
    return lambda a: getattr(a.point, name) if a.point is not None else math.nan


def _cells(room: Room) -> list[list[str]]:
    return [[Room.CELLS[int(code)] for code in row] for row in room.cells]


_ROOM: tuple[Key, ...] = (
    mixed("cadence_rad_per_s", "cadence", "Crank speeds of the columns."),
    mixed("gears", lambda r: list(r.gears), "Gears of the rows."),
    mixed("cells", _cells, "One word per gear and cadence: " + ", ".join(Room.CELLS) + "."),
    mixed("closing", lambda r: list(r.closing) if r.closing else None, "The two limits that close it, if empty.",
          "something in it can be ridden"),
    mixed("by_load", lambda r: [{"load_share": m, "rideable_count": n} for m, n in r.by_load],
          "Cells that can be ridden at several sizes of the load."),
)  # fmt: skip

_PICTURE: tuple[Key, ...] = (
    mixed("cadence_rad_per_s", "cadence", "Crank speeds of all lines."),
    mixed("rider_N_m", "rider", "Torque these legs have at this effort."),
    mixed("rider_N_m_p05", "rider_low", "The same, 5 % point."),
    mixed("rider_N_m_p95", "rider_high", "The same, 95 % point."),
    mixed("load_N_m", "load", "Torque the rig asks for in the reported gear; null where nothing flows."),
    mixed("other_loads_N_m", "other_loads", "The same for the other gears, by gear."),
    rows("crossings", "crossings", "Where the lines meet.", (
        text("kind", "kind", "holds, tips or chatters."),
        number("cadence_rad_per_s", "w_crank", "Crank speed."),
        number("torque_N_m", "torque_crank", "Torque at the crank."),
    )),
    number("comfortable_rad_per_s", "comfortable", "The rider's comfortable crank speed."),
)  # fmt: skip

_STATION: tuple[Key, ...] = (
    text("name", "name", "The rig."),
    text("rider", "rider", "Its rider."),
    band("current_A", "amps", "Its share."),
    number(
        "power_W", "watts", "Watts it puts on the bus in the end, when whoever cannot hold has dropped out."
    ),
    number("rider_power_W", "p_rider", "What its rider feels then.", "its rider is dragged to a stop"),
    whole("holds", "holds", "Its rider is not dragged to a stop."),
    number("stops_count", "order", "Which is dragged to a stop first (1), next (2); 0 holds."),
    text("says", "says", "In words."),
)

_SHARES: tuple[Key, ...] = (
    rows("stations", "rows", "As they are.", _STATION),
    number("bus_voltage_V", "bus_volts", "Volts on the shared bus."),
    number("wanted_A", "wanted", "Amps the bus asks for."),
    number("power_W", "watts", "Watts on the bus in the end, from all of them together."),
    number("fair_resistance_ohm", "fair_resistance", "Resistance to add in each lead."),
    rows("fair_stations", "fair_rows", "With that resistance.", _STATION),
    number("limit_each_A", "limit_each", "Or the amps to set on each board instead."),
    number("wire_length_m", "wire_length", "Length of thin wire, there and back, that has this resistance."),
    number("wire_area_m2", "wire_area", "Its area."),
)

MATCH: tuple[Key, ...] = (
    text("rider", lambda a: a.ask.rider, "Who rides."),
    text("load", lambda a: a.ask.load, "What is run, or charge."),
    number("effort_W", lambda a: a.ask.effort, "The effort asked about: what it is worth at its best cadence."),
    number("duration_s", lambda a: a.ask.duration, "How long was asked about."),
    number("asked_cadence_rad_per_s", lambda a: a.ask.cadence or math.nan, "The cadence asked about.",
           "no cadence was asked about; it is where the effort settles"),
    number("draws_count", lambda a: a.ask.draws, "How many draws the bands come from."),
    text("stop", "stop", "Outcome, as one word."),
    text("stop_says", lambda a: a.stop.value, "Outcome, as a sentence."),
    text("gear", "gear", "The gear reported."),
    number("chance_share", "chance", "Share of draws in which it holds and serves the load."),
    band("cadence_rad_per_s", "hold", "Crank speed where it holds.", NOT_RUN),
    band("tip_cadence_rad_per_s", "tip", "Crank speed below which it drags you to a stop.", NO_TIP),
    band("delivered_power_W", "delivered", "Watts into the battery, or into the load that was asked about.", NOT_RUN),
    band("rider_power_W", "rider", "Watts at the pedals.", NOT_RUN),
    band("spare_W", "spare", "Watts between the load and the edge.", NO_SPARE),
    band("time_to_limit_s", "time_to_limit", "How long this rider can hold that.", ENDLESS),
    band("hour_power_W", "hour_power", "What this rider can hold for an hour."),
    text("binds", "binds", "Key of the link that binds."),
    text("binds_says", "binds_says", "What binds, in words."),
    number("edge_legs_W", lambda a: a.edges.legs, "Most watts behind the board that the legs allow.", NO_EDGE),
    number("edge_machine_W", lambda a: a.edges.machine, "Most watts that the machine's winding allows.", NO_EDGE),
    number("edge_board_W", lambda a: a.edges.board, "Most watts that the board allows.", NO_EDGE),
    text("edge_lowest", lambda a: a.edges.lowest, "Which of the three is lowest."),
    number("bus_voltage_V", _point("v_bus"), "Volts at the board's input; without a board at battery or load.", NOT_RUN),
    number("output_voltage_V", _point("v_out"), "Volts behind the board.", NOT_RUN),
    number("machine_current_A", _point("i_out"), "Amps out of the machine.", NOT_RUN),
    number("battery_current_A", _point("i_battery"), "Amps into the battery, below zero when it gives.", NOT_RUN),
    number("battery_power_W", _point("p_battery"), "Watts into the battery, below zero when it gives.", NOT_RUN),
    number("load_power_W", _point("p_load"), "Watts that reach the appliance.", NOT_RUN),
    number("machine_speed_rad_per_s", _point("w_shaft"), "Speed of the machine.", NOT_RUN),
    number("crank_torque_N_m", _point("torque_crank"), "Torque at the crank.", NOT_RUN),
    number("winding_temperature_K", lambda a: a.hot[0], "Winding after the ride.", NOT_RUN),
    number("winding_longrun_K", lambda a: a.hot[1], "Winding if the ride never ended.", NOT_RUN),
    number("winding_limit_K", lambda a: a.hot[2], "Hottest it may get.", NOT_RUN),
    rows("chain", "chain", "Every link from the legs to battery or load.", _LINK),
    rows("gears", "gears", "Every gear.", _GEAR),
    rows("room", "room", "The room to ride in.", _ROOM),
    rows("leg_picture", "picture", "The lines of the leg picture.", _PICTURE),
    rows("settings", "settings", "The settings card, in the order it is done.", (
        text("what", "what", "What to set or to read."),
        mixed("value", "value", "To what.", "nothing to set here, only something to do"),
        text("unit", "unit", "Unit of the value."),
        text("why", "why", "Why."),
        text("meter", "meter", "What the meter shows."),
    )),
    rows("unknowns", "unknowns", "What the doubt comes from, largest first.", UNKNOWN),
    rows("shares", "shares", "How several rigs share the bus.", _SHARES, "there is one rig only"),
)  # fmt: skip
