"""Published keys of the bench: constants with spreads, readings with residuals, odd ones, what to read next."""

from __future__ import annotations

import math

from sparewatt.tasks.keys import Key, band, mixed, number, rows, text, whole

__all__ = ["BENCH", "DUMMY", "PHONE", "PROCEDURE"]


def _finite(x: float) -> float | None:
    return x if math.isfinite(x) else None


NO_SPREAD = "the readings cannot tell it apart from others"

_CONSTANT: tuple[Key, ...] = (
    text("name", "name", "The constant."),
    text("says", "says", "What it is."),
    text("unit", "unit", "SI unit of the numbers beside."),
    mixed("value", "value", "Its value."),
    mixed("value_p05", "low", "5 % point.", NO_SPREAD),
    mixed("value_p95", "high", "95 % point.", NO_SPREAD),
    mixed("sd", "sd", "One standard deviation.", NO_SPREAD),
    text("how", "how", "measured, computed, typical or guess."),
    text("why_no_sd", "why_no_sd", "Why it has no spread; empty when it has one."),
    text("key", "key", "Where it stands in the rig file; empty when it has no place there."),
    mixed("before", "before", "Its value before any reading.", "nothing was known before"),
    mixed("before_sd", "before_sd", "Its spread before any reading.", "nothing was known before"),
)  # fmt: skip

_READING: tuple[Key, ...] = (
    text("reading", "key", "The reading."),
    text("says", "says", "What was read."),
    mixed("lines", lambda r: list(r.lines), "Lines of readings.csv that it stands on."),
    text("unit", "unit", "SI unit of the numbers beside."),
    mixed("seen", "seen", "What was read."),
    mixed("fitted", "fitted", "What the fit says it should be."),
    mixed("sd", "sd", "Its usual error."),
    number("residual_ratio", "residual", "How far it lies from the fit, in usual errors."),
    whole("used", "used", "It counts."),
    text("left_out", "left_out", "Why it does not count."),
    text("odd", "odd", "Key of what is odd about it; empty for nothing."),
)  # fmt: skip

_SUSPECT: tuple[Key, ...] = (
    text("reading", "row", "The odd reading."),
    text("cause", "cause", "Key of the cause that would explain it; empty when none does."),
    text("name", "name", "The cause in words."),
    text("says", "says", "What it does to a reading."),
    text("redo", "redo", "What to do about it."),
    number("factor_ratio", "factor", "What the reading would have to be multiplied by.", "the cause is not a factor"),
    number("chi2_before_ratio", "chi2_before", "Misfit of all readings with it."),
    number("chi2_after_ratio", "chi2_after", "Misfit of all readings without it."),
    number("likelihood_share", "likelihood", "How likely this cause is among those known.", "no cause is named"),
    mixed("others", lambda s: list(s.others), "Causes that explain it nearly as well."),
)  # fmt: skip

_NEXT: tuple[Key, ...] = (
    text("what", "what", "The procedure."),
    text("procedure", "procedure", "Its key."),
    text("why", "why", "What it makes known."),
    number("gain_share", "gain", "Share of the asked answer's variance that it takes away."),
    number("time_s", lambda n: 60 * n.minutes, "Time it takes."),
)  # fmt: skip

_CHECK: tuple[Key, ...] = (
    text("says", "says", "What is compared."),
    text("unit", "unit", "SI unit of the numbers beside."),
    mixed("one", lambda c: c.one.mid, "One way."),
    mixed("other", lambda c: c.other.mid, "The other way."),
    whole("agrees", "agrees", "They agree."),
    number("apart_ratio", "apart", "How far apart, in standard deviations of the difference."),
    text("hint", "hint", "Where to look when they do not."),
)  # fmt: skip

BENCH: tuple[Key, ...] = (
    rows("constants", lambda a: a.fitted.constants, "Every constant that the readings bear on.", _CONSTANT),
    mixed("names", lambda a: list(a.fitted.names), "Order of the rows and columns of the correlations."),
    mixed("correlations", lambda a: a.fitted.correlation, "Correlation of every two constants; null where there is none."),
    rows("known_parts", "parts", "Parts that the readings made better known.", (
        text("part", "part", "Which part of the rig file."),
        text("name", "name", "Its name."),
        whole("readings_count", "readings", "Readings behind it."),
        mixed("constants", lambda p: [c.name for c in p.constants], "Its constants."),
    )),
    rows("readings", lambda a: a.fitted.rows, "Every reading.", _READING),
    rows("odd_readings", "suspects", "Readings that do not fit, each with its likely cause.", _SUSPECT),
    rows("next_readings", "next_readings", "What to read next, best gain a minute first.", _NEXT),
    text("asked", "asked", "The answer that next is ranked for."),
    mixed("asked_W", lambda a: a.asked_band.mid, "That answer now."),
    mixed("asked_W_p05", lambda a: a.asked_band.low, "Its 5 % point."),
    mixed("asked_W_p95", lambda a: a.asked_band.high, "Its 95 % point."),
    rows("checks", "checks", "Two ways to one number.", _CHECK),
    rows("told", "told", "What readings say that is no constant.", (
        text("key", "key", "wrong_way, right_way, shares, appliance, weak_cell, even_cells, warm_board, leads, dark_clamp."),
        mixed("names", lambda t: list(t.names), "Riders, cells, boards or appliances that it is about."),
        mixed("values", lambda t: list(t.values), "Numbers that go with it, SI."),
        whole("stops", "stops", "A matter to stop at."),
    )),
    number("misfit_ratio", lambda a: a.fitted.chi2_per_degree, "Misfit for each reading to spare; about 1 is usual.",
           "there are no more readings than constants"),
    mixed("flags", lambda a: list(a.fitted.flags), "What is strange about the readings as a whole."),
)  # fmt: skip

PROCEDURE: tuple[Key, ...] = (
    text("procedure", lambda g: g.procedure.key, "Its key."),
    text("title", lambda g: g.procedure.title, "What is done."),
    text("why", lambda g: g.procedure.why, "What for."),
    number("time_s", lambda g: 60 * g.procedure.minutes, "Time it takes."),
    text("effort", "effort", "How hard a body works: none, gentle, steady or maximal."),
    mixed("needs", lambda g: list(g.procedure.needs), "What it takes."),
    mixed("makes_known", lambda g: list(g.procedure.fixes), "What it makes known."),
    mixed("cautions", lambda g: list(g.procedure.cautions), "Cautions, before anything else."),
    mixed("steps", lambda g: [
        {"says": s.says, "caution": s.caution,
         "readings": [{"what": x.what, "says": x.says, "unit": x.unit} for x in s.slots]}
        for s in g.procedure.steps
    ], "Its steps, with the readings asked for at each."),
)  # fmt: skip

PHONE: tuple[Key, ...] = (
    text("how", "how", "sound, film, clock (passes timed by hand) or volts."),
    text("origin", "origin", "What it was read from."),
    whole("clear", "clear", "Nothing is left open; else other_rad_per_s lists what fits as well."),
    mixed("speed_rad_per_s", lambda p: None if p.falls else p.speed.mid, "One steady speed of the shaft."),
    mixed("speed_rad_per_s_p05", lambda p: None if p.falls else p.speed.low, "Its 5 % point."),
    mixed("speed_rad_per_s_p95", lambda p: None if p.falls else p.speed.high, "Its 95 % point."),
    mixed("other_rad_per_s", lambda p: list(p.others), "Speeds that fit just as well."),
    mixed("drag_rate", lambda p: None if p.coast is None else p.coast.drag_rate.value,
          "Of a run-down: steady drag over inertia, rad/s2."),
    mixed("drag_rate_sd", lambda p: None if p.coast is None else _finite(p.coast.drag_rate.sd),
          "Its standard deviation; null where it is not told apart from the next."),
    mixed("damping_rate", lambda p: None if p.coast is None else p.coast.damping_rate.value,
          "Of a run-down: speed-proportional drag over inertia, 1/s."),
    mixed("damping_rate_sd", lambda p: None if p.coast is None else _finite(p.coast.damping_rate.sd),
          "Its standard deviation; null where it is not told apart from the one before."),
    mixed("moments", lambda p: [[t, v, _finite(sd)] for t, v, sd in p.moments],
          "Of a run-down: seconds, speed in rad/s (or volts, where volts were typed) and its spread, as they are kept."),
)  # fmt: skip

DUMMY: tuple[Key, ...] = (
    number("wanted_W", "watts", "Watts wanted."),
    number("wanted_V", "volts", "At these volts."),
    rows("loads", "found", "Ways to join what is there, best first.", (
        text("says", "says", "What is joined how."),
        mixed("items", lambda d: [{"what": what, "many": many} for what, many in d.items], "What it takes."),
        mixed("series", "series", "How many in a row."),
        mixed("parallel", "parallel", "How many rows side by side."),
        number("power_W", "watts", "What it takes, warm."),
        number("current_A", "amps", "Its amps, warm."),
        number("first_A", "cold_amps", "Its amps at switch-on, cold."),
        band("surface_K", "surface", "Its hottest surface."),
        text("guard", "guard", "What has to be around it."),
        text("stands", "stands", "What it stands on."),
        number("off_share", "off", "Share by which the watts miss what is wanted."),
        mixed("cautions", lambda d: [c.text for c in d.caveats], "Cautions."),
    )),
)  # fmt: skip
