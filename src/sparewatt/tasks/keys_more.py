"""Published keys of `worth`, `loads`, `guard`, `heap`, and of the commands that are no study."""

from __future__ import annotations

from sparewatt.present import words_guard, words_loads
from sparewatt.studies.answers import ChargePlan, JudgedMachine
from sparewatt.tasks.keys import Key, band, mixed, number, rows, text, whole
from sparewatt.tasks.keys_bench import BENCH, DUMMY, PHONE
from sparewatt.tasks.keys_match import CHANGE, MATCH, UNKNOWN
from sparewatt.tasks.keys_mend import MEND
from sparewatt.tasks.keys_scene import SCENE

__all__ = ["CHECK", "DEMO", "GUARD", "HEAP", "LOADS", "OPEN", "SECTIONS", "SHEET", "START", "STOP", "WORTH"]

NOT_HERE = "it does not run this way"
ENDLESS = "as long as you like, or it does not run"


def _times(c: ChargePlan) -> list[dict[str, float]]:
    return [
        {"charge_share": x, "time_s": t.mid, "time_s_p05": t.low, "time_s_p95": t.high} for x, t in c.times
    ]


def _curve(c: ChargePlan) -> list[dict[str, float]]:
    return [{"time_s": t, "charge_share": s, "current_A": i} for t, s, i in c.curve]


def _best(m: JudgedMachine) -> list[dict[str, float]]:
    return [{"delivered_W": p, "speed_rad_per_s": w, "voltage_V": v, "lost_W": x} for p, w, v, x in m.best]


STOP: tuple[Key, ...] = (
    text("key", "key", "Which hazard."),
    text("title", "title", "Its name."),
    text("says", "says", "What is so here."),
    text("do", "do", "What to do."),
    text("short", lambda f: f.do.split(". ")[0].rstrip(".") + ".", "The first thing to do."),
    text("load", lambda f: f.load or None, "The one load it is about; null where it is about the rig."),
    text("source", "source", "Where the limit comes from."),
)

WORTH: tuple[Key, ...] = (
    text("rider", "rider", "Who rides."),
    band("hour_power_W", "sustain", "What this rider can hold for an hour."),
    band("per_day_s", "total_per_day", "Riding a day for everything, for each rider."),
    rows("rows", "rows", "One object per load.", (
        text("load", "load", "The load."),
        text("verdict", "verdict", "good use of legs, hard work, or not by legs."),
        text("says", words_loads.worth_row, "Its price, as sentences."),
        number("use_energy_J", "energy_use", "Energy of one use, at the appliance."),
        band("legs_energy_J", "energy_legs", "Work at the pedals for one use."),
        band("riding_s", "minutes", "Riding for one use."),
        band("per_day_s", "per_day", "Riding a day."),
        band("food_J", "food", "Food burnt for one use."),
        number("food_above_rest_J", "food_above_rest", "The part of it above sitting still."),
        number("co2_m3", "co2_litres", "Carbon dioxide breathed out above rest."),
        mixed("chain", lambda r: [{"link": name, "passes_share": share} for name, share in r.chain],
              "Share that each link passes on, at the actual power."),
        text("runs", "runs", "How it is run."),
        text("why", "why", "Why the verdict."),
        rows("nearest_yes", "nearest_yes", "Changes that turn a no.", CHANGE),
    )),
    rows("unknowns", "unknowns", "What the doubt comes from, largest first.", UNKNOWN),
)  # fmt: skip

_STATE: tuple[Key, ...] = (
    text("state", "state", "start, idle, light or rated."),
    whole("works", "works", "It does."),
    text("says", words_loads.load_state, "In words."),
    number("chance_share", "chance", "Share of draws in which it does."),
    text("gear", "gear", "In which gear."),
    text("stop", "stop", "Outcome, as one word."),
    text("stop_says", lambda s: s.stop.value, "Outcome, as a sentence."),
    band("load_power_W", "p_load", "Watts at the appliance.", NOT_HERE),
    band("rider_power_W", "p_rider", "Watts at the pedals.", NOT_HERE),
    band("cadence_rad_per_s", "hold", "Crank speed where it holds.", NOT_HERE),
    number("current_A", "amps", "Amps it takes.", NOT_HERE),
    number("voltage_V", "volts", "Volts it gets.", NOT_HERE),
    number("speed_share", "speed_share", "Of its rated-load speed.", "it does not turn"),
    number("torque_share", "torque_share", "Of its rated torque.", "it does not turn"),
    band("time_s", "time", "How long this rider can hold it.", ENDLESS),
    text(
        "seconds",
        lambda s: s.seconds or None,
        "Words of the scene that shows a start; null where none was played.",
    ),
)

LOADS: tuple[Key, ...] = (
    text("rider", "rider", "Who rides."),
    rows("rows", "rows", "One object per load.", (
        text("load", "load", "The load."),
        text("verdict", "verdict", "good use of legs, hard work, or not by legs."),
        text("says", words_loads.load_answer, "In words."),
        text("direct_current", "dc", "not refused, look again or stop: may it be put on direct current?"),
        text("direct_current_why", "dc_why", "Why."),
        text("stop", "stop", "Outcome, as one word."),
        text("why", "why", "Why the verdict."),
        rows("states", "states", "Start, idle, light and rated work.", _STATE),
        rows("bout", "bout", "Work and rest.", (
            number("bout_s", "bout", "One spell of work."),
            number("breather_s", "breather", "Rest after it."),
            number("bout_power_W", "p_bout", "Watts at the pedals while working."),
            number("rest_power_W", "p_rest", "Watts at the pedals while resting."),
            band("longest_s", "longest", "One unbroken spell until the reserve is gone.", ENDLESS),
            number("cycles_count", "cycles", "How many rounds.", "you can go on"),
            number("reserve_after_J", "reserve_after", "Reserve left after a dozen rounds."),
            text("says", words_loads.bout, "In words."),
        ), "it is not run in bouts"),
        rows("run", "run", "How long the battery alone runs it.", (
            band("current_A", "amps", "Amps it takes from the battery."),
            band("time_s", "time", "How long."),
            number("cutoff_V", "cutoff", "Where to stop."),
            band("legs_time_s", "legs_time", "Riding that puts it back."),
            text("says", words_loads.run, "In words."),
        ), "it does not run from the battery"),
        rows("nearest_yes", "nearest_yes", "Changes that turn a no.", CHANGE),
    )),
    rows("charge", "charge", "Charging the battery.", (
        text("chemistry", "chemistry", "What the battery is made of."),
        number("set_V", "set_voltage", "Where charging is held or stopped, at the battery's temperature."),
        number("set_25_V", "set_voltage_25", "The same at 25 degC."),
        number("limit_A", "current_limit", "Most amps the case allows."),
        band("given_A", "amps", "Amps this rider and rig give."),
        band("accepted_A", "accepted", "Amps the battery takes of it."),
        band("power_W", "p_battery", "Watts into the battery."),
        number("efficiency_share", "efficiency", "Share of it that comes out again."),
        mixed("times", _times, "Riding until it is so full."),
        number("useful_end_share", "useful_end", "How full it is when it takes less than you can give."),
        band("useful_s", "useful_time", "Riding until then.", ENDLESS),
        band("ride_gain_share", "ride_gain", "Share of the capacity that the asked ride puts in."),
        number("float_V", "float_voltage", "Where it may stay for months."),
        mixed("curve", _curve, "The charge as it goes."),
        text("says", words_loads.charge, "In words."),
    ), "there is no battery"),
)  # fmt: skip

GUARD: tuple[Key, ...] = (
    text("check", "check", "not refused, look again or stop: the worst of all."),
    rows("findings", "findings", "Hazards found on this rig, the worst first.", (
        text("key", "key", "Which hazard."),
        text("title", "title", "Its name."),
        text("check", "check", "not refused, look again or stop."),
        text("says", "says", "What is so here."),
        text("do", "do", "What to do."),
        mixed("value", "value", "The number found, in the unit beside it.", "it is no number"),
        mixed("threshold", "threshold", "The limit, in the unit beside it.", "it is no number"),
        text("unit", "unit", "SI unit of both."),
        text("source", "source", "Where the limit comes from."),
        mixed("at", lambda f: list(f.at), "Where the decision is taken: sections and links."),
        whole("severity_count", "severity", "1 nuisance, 2 broken part, 3 injury, 4 death or fire."),
        text("sentence", words_guard.finding, "All of it, as sentences."),
        text("seconds", lambda f: f.seconds or None,
             "The scene that shows it, in the words that `scene` takes; null when none was played to find it."),
    )),
    rows("sizes", "sizes", "What was sized.", (
        text("what", "what", "The part."),
        mixed("need", "need", "What is needed, in the unit beside it.", "it is no number"),
        mixed("have", "have", "What is there, in the unit beside it.", "the rig file does not say"),
        text("unit", "unit", "SI unit of both."),
        text("check", "check", "not refused, look again or stop."),
        text("pick", "pick", "The standard size to take."),
        text("why", "why", "Why."),
        text("source", "source", "Where the rule comes from."),
        mixed("edits", lambda x: [list(pair) for pair in x.edits],
              "Edits of the rig file that put it right, key and text; all of them can be made together."),
    )),
    mixed("quiet", lambda a: list(a.quiet), "Hazards looked at and not found."),
)  # fmt: skip

HEAP: tuple[Key, ...] = (
    rows("machines", "machines", "Every machine of the heap.", (
        text("name", "name", "The machine."),
        text("kind", "kind", "What sort."),
        text("says", words_guard.machine, "Take it or leave it, in words."),
        text("refused", "refused", "Why it makes nothing; empty when it does."),
        band("emf_V_s_per_rad", "k_emf", "Volts per speed."),
        band("resistance_ohm", "r_wind", "Winding."),
        band("brush_drop_V", "brush_drop", "At both brushes."),
        band("friction_N_m", "friction", "To keep it turning."),
        number("stiffness_N_m_per_rad_per_s", "stiffness", "How stiffly it brakes: K squared over R."),
        mixed("best", _best, "Its best speed for several powers."),
        text("board", "board", "The board it needs."),
        text("call", "call", "buy, only if free or leave."),
        text("why", "why", "Why."),
        mixed("odd", lambda m: list(m.odd), "What on its label does not agree with itself."),
    )),
    rows("combinations", "combinations", "Ways to join the parts, the best first.", (
        text("machine", "machine", "The machine."),
        text("drive", "drive", "The drive."),
        text("board", "board", "The board."),
        text("gear", "gear", "The gear."),
        band("cadence_rad_per_s", "hold", "Crank speed where it holds.", NOT_HERE),
        band("delivered_power_W", "delivered", "Watts that come out.", NOT_HERE),
        number("spare_W", "spare", "Watts to the edge."),
        number("chance_share", "chance", "Share of draws in which it works."),
        number("cost_coin", "cost", "Price in the rig's own coin.", "no price is known"),
        text("verdict", "verdict", "good use of legs, hard work, or not by legs."),
        text("why", "why", "Why."),
    )),
    rows("purchase", "purchase", "The cheapest thing that helps.", CHANGE, "nothing needs to be bought"),
)  # fmt: skip

START: tuple[Key, ...] = (
    mixed("understood", lambda s: list(s.understood), "What was taken from the sentence."),
    mixed("guessed", lambda s: list(s.guessed), "What it did not say and had to be guessed."),
    mixed("not_used", lambda s: list(s.not_used), "Words and numbers nothing was made of."),
    text("rig_toml", "text", "The rig file."),
    text("file", lambda s: s.file or None, "Where it was written; null when it was not."),
    rows("match", "match", "The first verdict, as in `match`.", MATCH, "it was not worked out"),
    rows("loads", "loads", "The first verdict on a tool, as in `loads`.", LOADS, "no tool was named"),
    rows("worth", "worth", "The price of each thing, as in `worth`.", WORTH, "it was not worked out"),
)

DEMO: tuple[Key, ...] = (
    rows("demos", "demos", "The demo rigs.", (
        text("key", "key", "The word it is asked for by."),
        text("name", "name", "The name of the build."),
        text("story", "story", "Its story."),
    )),
    text("file", lambda d: d.file or None, "Where one was written; null when none was."),
)  # fmt: skip

CHECK: tuple[Key, ...] = (
    text("file", "file", "The rig file."),
    mixed("parts", "parts", "How many of each part."),
    number("numbers_count", "numbers", "Numbers given in the file."),
    mixed("known_how", "hows", "How many of them are measured, computed, from a nameplate, typical or guessed."),
    mixed("stand_ins", lambda c: [{"key": key, "says": says} for key, says in c.assumed],
          "What the file leaves out, and a typical value stands in for."),
    mixed("updated", lambda c: list(c.updated), "Keys of what was brought up to date."),
    mixed("beyond", lambda c: [{"key": key, "says": says} for key, says in c.beyond],
          "Set points that their board cannot make."),
)  # fmt: skip

OPEN: tuple[Key, ...] = (
    text("address", "address", "Where the pages are on this machine."),
    text(
        "shared_address",
        "shared_address",
        "Where others on the network find them; null when it is not shared.",
    ),
    text("code", "code", "The code that they type once; null when it is not shared."),
)

SHEET: tuple[Key, ...] = (
    text("file", "file", "The sheet that was written."),
    number("size_count", "size", "Its size in bytes."),
)

SECTIONS: dict[str, tuple[str, tuple[Key, ...]]] = {
    "start": ("From one sentence to a first verdict.", START),
    "worth": ("Is it worth the legs?", WORTH),
    "heap": ("What have I got, and is it any good?", HEAP),
    "bench": ("What is it really?", BENCH),
    "bench with a phone": ("How fast does it turn, from a sound, a film or a list of volts?", PHONE),
    "bench with a dummy load": ("What in the drawer eats so many watts at so many volts?", DUMMY),
    "match": ("What ratio, volts and settings?", MATCH),
    "loads": ("Will it run, and how long?", LOADS),
    "guard": ("What size, what fuse, what can hurt?", GUARD),
    "scene": ("What happens second by second?", SCENE),
    "mend": ("What is wrong, and what would help most?", MEND),
    "check": ("Is the rig file in order?", CHECK),
    "demo": ("Which demo rigs are there?", DEMO),
    "open": ("Where are the pages?", OPEN),
    "sheet": ("The summary on paper.", SHEET),
}
