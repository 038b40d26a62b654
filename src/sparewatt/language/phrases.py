"""The phrases a script is written in: many everyday ways to say each thing that can happen.

A phrase is a row of marks: a word, "a|b" one of several, "a?" may be left out, "a_b" two words as one choice, "{load}",
"{who}" any words (looked up later), and "{w}", "{r}", "{p}", "{n}" amounts of watts, turning, share and a number alone.
Words are compared in one form each (`FORMS`); articles and the like are passed over (`QUIET`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from sparewatt.language.lexer import ARTICLES, NUMBER_WORDS, ORDINALS, Token

__all__ = ["FORMS", "PHRASES", "QUIET", "Heard", "Phrase", "compiled", "encoded", "heard", "reserved", "slot"]

QUIET = ARTICLES | {
    "his", "her", "their", "its", "my", "our", "your", "please", "now", "just", "is", "are", "was", "be", "been", "being",
    "has", "have", "again",
}  # fmt: skip
_FORMS = """
switch: switches switched switching turn turns turned turning flick flicks flip flips
start: starts started starting begin begins
stop: stops stopped stopping halt halts
run: runs running
shift: shifts shifted shifting change changes changed changing click clicks
go: goes going
pull: pulls pulled pulling yank yanks tug tugs
plug: plugs plugged plugging
unplug: unplugs unplugged unplugging
fall: falls fell fallen slip slips slipped drop drops dropped come comes came jump jumps
take: takes took taking
put: puts putting
hook: hooks hooked clip clips clipped connect connects connected attach attaches attached reconnect reconnects reconnected
hook: join joins joined
unhook: unhooks unhooked disconnect disconnects disconnected detach detaches detached unclip unclips unclipped
unhook: remove removes removed
pedal: pedals pedalling pedaling pedalled pedaled
ride: rides riding
push: pushes pushing pushed
press: presses pressing
hold: holds holding keep keeps keeping
spin: spins spinning
give: gives giving
lean: leans leaning
bite: bites bit biting
cut: cuts cutting
let: lets letting
release: releases released releasing
lift: lifts lifted lifting
step: steps stepped stepping get gets getting climb climbs hop hops
leave: leaves left leaving
return: returns returned
fail: fails failed failing
short: shorts shorted shorting short-circuit short-circuits short-circuited
open: opens opened
sprint: sprints sprinting
ease: eases easing slacken slackens
coast: coasts coasting freewheel freewheels
rest: rests resting
work: works worked working
foot: feet
leg: legs
light: lightly gently gentle lighter
even: steady constant level evenly steadily
break: breaks broke
quit: quits
missing: absent gone away
gear: gears
everything: all
"""
FORMS: dict[str, str] = {
    form: base
    for line in _FORMS.strip().splitlines()
    for base, forms in [line.split(": ")]
    for form in forms.split()
}

_SHARE = "{p}|half|quarter|full|{o}"
_BATTERY = "battery|accumulator"
_GEAR = "{g}|{o}|top|highest|hardest|high|lowest|easiest|low|bottom|{n}"

# kind and a way to say it; the first that fits and whose names are found counts. RIDER kinds may name their rider first.
PHRASES: tuple[tuple[str, str], ...] = (
    # how the rider pushes
    ("power", "hold|give|ride|push|pedal|go? at|to|with|on? even {w} at? pedal?"),
    ("power", "hold|give|ride|push|pedal power? at|to? {w} even"),
    ("power", "ride|pedal|push even at|with? {w}"),
    ("power", "hold power? at|to|of? {w}"),
    ("power", "hold? even? power at|to|of? even? {w}|{n}"),
    ("power", "hold power even at {w}|{n}"),
    ("effort", "ride|push|pedal|work|give|go|put put_in? at|to|with|in|out|down? effort? worth|of|at? {w} at? pedal?"),
    ("effort", "hold|raise|lower|switch|shift|set|push? effort up|down? to|of|at|worth? {w}|{n}"),
    ("effort", "ease|fall|raise|push|step|go|ramp off|up|down|back? to {w}"),
    ("effort", "push {n}"),
    ("effort", "{w}"),
    ("cadence", "hold|ride|spin|pedal|switch|shift|raise|lower|set|go|push|cadence|work? cadence? at|to|of|on? even? {r}"),
    ("cadence", "speed|slow|spin|pedal|ease|go|fall|raise up|down|off? to {r}"),
    ("cadence", "hold|raise|lower|shift|set? cadence at|to|of? {n}"),
    ("cadence", "spin|pedal at|to? {n}"),
    ("sprint", "go? sprint all_out|flat_out|hard?"),
    ("sprint", "go|ride|pedal|push? all_out|flat_out|all-out|flat-out|everything_out"),
    ("sprint", "full sprint"),
    ("sprint", "give it? everything"),
    ("ease", "ease|slacken off|up"),
    ("ease", "take|go|ride it? easy|easier"),
    ("stop", "stop to? pedal|ride"),
    ("stop", "stop|rest leg|foot pedal?"),
    ("stop", "stop switch|move leg|foot|pedal|crank?"),
    ("stop", "hold|let|take leg|foot still|rest|stop|off pedal?"),
    ("stop", "leg|foot|pedal still|stop|rest|off pedal?"),
    ("stop", "stop|coast|rest"),
    ("stop", "take? rest"),
    ("pedal", "start|resume|go|hold|carry? on? to? pedal|ride on?"),
    ("pedal", "go|carry on"),
    ("pedal", "resume"),
    ("pedal", "leg|foot|pedal go|start|on on?"),
    ("pedal", "switch|start leg|pedal|crank"),
    # the tool on its work
    ("let_go", "let go of? it|{load}?"),
    ("let_go", "let it|{load} go"),
    ("let_go", "release it|{load}?"),
    ("let_go", "lift it|{load}? off|out|up|clear|free"),
    ("let_go", "lift it|{load}"),
    ("let_go", "blade|bit|disc|wheel|{load}? fall|run|go? free|clear"),
    ("let_go", "stop cut"),
    ("let_go", "no|zero work|load"),
    ("let_go", "run free|light"),
    ("light", "light work|load|cut|touch|push|press"),
    ("light", "work|load|cut|push|press|lean light"),
    ("light", "lean|press|push light on it|{load}"),
    ("full", "blade|bit|disc|wheel|tool|it? bite in?"),
    ("full", "{load} bite in?"),
    ("full", "lean hard? on|into|in it|{load}?"),
    ("full", "lean|press|push it|{load}? hard"),
    ("full", "press on? it|{load}"),
    ("full", "work|cut hard"),
    ("full", "hard|full work|load|cut"),
    ("full", "start? cut"),
    ("share", f"work|lean|press|push|load|cut at|to|with? {_SHARE}|{{n}} of? load|push|work?"),
    ("share", f"{_SHARE} work|load"),
    ("share", f"work it|{{load}} at|to|with? {_SHARE}|{{n}}"),
    ("share", f"run|set|dim|switch|load|hold it|{{load}} up|down? at|to {_SHARE}"),
    ("share", f"{{load}} work|run? up|down? at|to {_SHARE}"),
    ("share", f"lean|press|push on it|{{load}} at|with|to {_SHARE}"),
    # gears
    ("shift", "up|down {k}? gear?"),
    ("shift", "{k} gear up|down"),
    ("shift", "gear up|down"),
    ("shift", "shift gear? up|down {k}? gear?"),
    ("shift", "go|switch|fall|move|step up|down {k}? gear"),
    ("shift", "fall gear"),
    ("shift", "shift|go|switch|fall|move|put|take|select|to it? to|into|in? {k}? higher|harder|next|lower|easier gear"),
    ("shift", "{k}? higher|harder|next|lower|easier gear"),
    ("shift", f"shift|go|switch|fall|move|put|take|select it|down|up? back? gear? to|into|in? gear? {_GEAR} gear?"),
    ("shift", "shift|go|switch|fall|move|put|select it|down|up? back? to|into|in? {n} tooth|teeth|cog|sprocket"),
    ("shift", "back? in|into|to gear? {g}|{o}|top|highest|hardest|high|lowest|easiest|low|bottom gear?"),
    ("shift", "{g}|{o}|top|highest|hardest|high|lowest|easiest|low|bottom gear"),
    ("shift", "gear {n}|{g}"),
    ("shift", "{g}"),
    # plug and battery
    ("unplug", "pull plug out?"),
    ("unplug", "pull|take|knock|cut out? plug|everything out|off?"),
    ("unplug", "plug fall|pull|go|knock|work? out|off|loose"),
    ("unplug", "plug pull"),
    ("unplug", "unplug|unhook it|everything|rig|board|output?"),
    ("unplug", "pull it|everything out"),
    ("unplug", "lose plug"),
    ("unhook", f"unhook|unplug|lose {_BATTERY} clip?"),
    ("unhook", f"take|pull|switch off|out {_BATTERY} clip?"),
    ("unhook", f"take|pull|switch {_BATTERY} clip? off|out|away"),
    ("unhook", f"{_BATTERY} clip? fall|go|pull|take? off|out|loose|missing|unhook"),
    ("unhook", "stop charge|charging"),
    ("plug", "plug it|everything? back? in"),
    ("plug", "plug back it|everything? in?"),
    ("plug", "plug it|everything"),
    ("plug", "plug in back? it|everything"),
    ("plug", "put|push|take|plug plug|everything? back? in"),
    ("plug", "put plug back"),
    ("plug", "plug it|everything back"),
    ("plug", "plug go? back? in"),
    ("plug", "hook back? it|everything"),
    ("plug", "hook it|everything back? up?"),
    ("hook", f"hook back? up|on? {_BATTERY} clip?"),
    ("hook", f"hook|plug|put|switch|take {_BATTERY} clip? back? up|on|in?"),
    ("hook", f"plug in {_BATTERY}"),
    ("hook", f"{_BATTERY} clip? go|fall? back? on|in|hook up?"),
    ("hook", "start charge|charging"),
    ("unplug_load", "unplug|unhook {load}"),
    ("unplug_load", "pull|take {load} plug? out"),
    ("plug_load", "plug {load} back? in"),
    ("plug_load", "plug back? in {load}"),
    ("plug_load", "hook {load} back? up|in?"),
    ("plug_load", "hook back? up? {load}"),
    # what breaks
    ("diode_open", "diode fail|fall|break? open"),
    ("diode_open", "open|break diode"),
    ("diode_short", "diode fail|go|fall? short|missing|bridge|bridged|out"),
    ("diode_short", "no|without|missing|short|bridge|unhook|lose|bypass diode"),
    ("diode_short", "take|pull out diode"),
    ("diode_short", "take|pull diode out"),
    ("diode_back", "diode put? in? reversed|backward|backwards|wrong_way_round|wrong_way"),
    ("diode_back", "reverse|reversed|backward|switch diode round|around?"),
    ("diode_good", "diode good|whole|mended|fixed|repaired|replaced|back|fine in|on?"),
    ("diode_good", "mend|replace|repair|fix diode"),
    ("diode_good", "put diode back in?"),
    ("diode_good", "good diode"),
    ("clamp_off", "clamp fail|fall|go|switch|stop? off|out|missing|unhook|broken"),
    ("clamp_off", "clamp fail|stop"),
    ("clamp_off", "no|without|unhook|lose|stop clamp"),
    ("clamp_off", "switch|take|pull off|out clamp"),
    ("clamp_off", "switch|take|pull clamp off|out|away"),
    ("clamp_on", "clamp go|fall|switch? back? on|in|hook"),
    ("clamp_on", "switch|hook|put|start clamp back? on|in|up?"),
    ("clamp_on", "switch|hook|put back? on|in|up clamp"),
    ("clamp_on", "clamp back"),
    # riders
    ("leave", "rider_of? {who} step|fall down? off bike|saddle|frame|pedal?"),
    ("leave", "{who} step down"),
    ("leave", "{who} leave|quit"),
    ("leave", "{who} fall out"),
    ("leave", "step|get off {who}?"),
    ("join", "rider_of? {who} step|fall back? up? on bike|saddle|frame|pedal?"),
    ("join", "{who} back on?"),
    ("join", "{who} hook|return|join in?"),
    ("join", "{who} fall back"),
    ("join", "step back? on {who}?"),
    # the load's own switch
    ("on", "switch back? on {load}?"),
    ("on", "switch|put {load}? back? on"),
    ("on", "set|start {load} go|up|on"),
    ("on", "power|start|fire up {load}"),
    ("on", "{load} switch|go|fall|start back? on|up"),
    ("on", "start|run|use|light {load}"),
    ("on", "on"),
    ("on", "on with {load}"),
    ("on", "{load} on|start|run"),
    ("off", "switch back? off {load}?"),
    ("off", "switch|put {load}? off"),
    ("off", "shut off|down {load}?"),
    ("off", "shut {load} off|down"),
    ("off", "{load} switch|go|shut off|out"),
    ("off", "{load} shut down"),
    ("off", "stop|kill {load}"),
    ("off", "off with {load}"),
    ("off", "{load} off|stop"),
    ("off", "off"),
    ("bare", "hold|ride|pedal|go? at|to? {n}"),
)  # fmt: skip
RIDER = frozenset(
    {
        "power",
        "effort",
        "cadence",
        "sprint",
        "ease",
        "stop",
        "pedal",
        "let_go",
        "light",
        "full",
        "share",
        "shift",
    }
)
_SUBJECT = r"(?:(?:rider |she |he |they |i |we |you |somebody |someone )|(?P<who>(?:\S+ )+?))??"
LONGEST = 40  # marks in one step; more is not one step


@dataclass(frozen=True, slots=True)
class Phrase:
    """One way to say one kind of thing."""

    kind: str
    text: str
    pattern: re.Pattern[str]


@dataclass(frozen=True, slots=True)
class Heard:
    """A phrase that fits: kind, the words of its slots as marks, and the plain words in it."""

    kind: str
    slots: dict[str, tuple[Token, ...]]
    words: frozenset[str]


def encoded(tokens: Sequence[Token]) -> tuple[str, list[tuple[int, int]]]:
    """The marks as one line the phrases can be tried on, and for each piece of it where it starts and which mark it is."""
    line, places = "", []
    for index, token in enumerate(tokens):
        if token.kind in ("word", "q"):
            code = "#q" if token.kind == "q" else FORMS.get(token.word, token.word)
            if code in QUIET and code == token.word:
                continue
        else:
            code = f"#{token.kind}"
        places.append((len(line), index))
        line += code + " "
    return line, places


def compiled(text: str) -> str:
    """A phrase as a regular expression over an encoded line."""
    seen: dict[str, int] = {}
    return "".join(_piece(piece, seen) for piece in text.split())


def _piece(piece: str, seen: dict[str, int]) -> str:
    maybe = piece.endswith("?")
    ways = [_way(way, seen) for way in piece.removesuffix("?").split("|")]
    return f"(?:{'|'.join(ways)})" + ("?" if maybe else "")


def _way(way: str, seen: dict[str, int]) -> str:
    if not way.startswith("{"):
        return "".join(re.escape(FORMS.get(word, word)) + " " for word in way.split("_"))
    name = way.strip("{}")
    seen[name] = seen.get(name, 0) + 1
    label = name if seen[name] == 1 else f"{name}{seen[name]}"
    inner = {"load": r"(?:\S+ )+?", "who": r"(?:\S+ )+?", "one": r"\S+ ", "k": "#n "}.get(name, f"#{name} ")
    return f"(?P<{label}>{inner})"


@cache
def phrases() -> tuple[Phrase, ...]:
    """Every phrase, ready to be tried."""
    out = []
    for kind, text in PHRASES:
        head = "" if kind in ("leave", "join") else _SUBJECT
        out.append(Phrase(kind, text, re.compile(head + compiled(text))))
    return tuple(out)


def heard(tokens: Sequence[Token]) -> Iterator[Heard]:
    """Every reading of one step, the likelier first."""
    line, places = encoded(tokens)
    if not line or len(places) > LONGEST:
        return
    for phrase in phrases():
        match = phrase.pattern.fullmatch(line)
        if match is not None:
            yield _heard(phrase.kind, match, tokens, places)


def slot(
    match: re.Match[str], label: str, tokens: Sequence[Token], places: list[tuple[int, int]]
) -> tuple[Token, ...]:
    """The marks that stand in one slot of a phrase that fits; none when it was left out."""
    if match.groupdict().get(label) is None:
        return ()
    first, last = match.span(label)
    inside = [index for start, index in places if first <= start < last]
    return tuple(tokens[inside[0] : inside[-1] + 1])


def _heard(kind: str, match: re.Match[str], tokens: Sequence[Token], places: list[tuple[int, int]]) -> Heard:
    filled = {name: slot(match, name, tokens, places) for name in match.groupdict()}
    slots = {name.rstrip("0123456789"): got for name, got in filled.items() if got}
    return Heard(kind, slots, frozenset(match.group().split()))


@cache
def reserved() -> frozenset[str]:
    """Words that mean something to a script, so that a name made of them has to stand in quotes."""
    words = set(QUIET) | set(FORMS) | set(NUMBER_WORDS) | set(ORDINALS) | set(FORMS.values())
    words |= {way for _, text in PHRASES for way in re.findall(r"[a-z'-]+", re.sub(r"\{\w+\}", "", text))}
    return frozenset(words | set(_EXTRA.split()))


_EXTRA = """
at after from then later and with in on off for lasting lasts long along standstill still standing already rides rider
rig frame number first it load tool appliance thing them that this by s min h W w seconds second minutes minute hours hour
rpm turns watts half quarter charge charging battery effort worth power cadence single more another further that into onward
onwards once beginning until while not no so to of or nobody
"""
