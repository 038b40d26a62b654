"""What a phone said, in sentences: how fast, how sure, what else it could be, and what a run-down makes of it."""

from __future__ import annotations

import math

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import sentence
from sparewatt.studies.phone.phoned import Phoned

__all__ = ["coast_lines", "others_line", "phone_answer"]

RPM = 2 * math.pi / 60


def phone_answer(found: Phoned) -> str:
    """The one sentence at the top, with what is left open."""
    if found.coast is not None:
        return " ".join((_falls(found), *_if(others_line(found))))
    parts = [f"It turns {say.turns_span(found.speed)}.", sentence(found.says) if found.says else ""]
    return " ".join(part for part in (*parts, others_line(found)) if part)


def or_list(words: list[str]) -> str:
    """ "a, b or c"."""
    return ", ".join(words[:-1]) + (" or " if len(words) > 1 else "") + words[-1]


def _if(text: str) -> tuple[str, ...]:
    return (text,) if text else ()


def others_line(found: Phoned) -> str:
    """The other speeds that fit; empty when there are none."""
    if not found.others:
        return ""
    shown = [say.whole_turns(w) for w in found.others[:4]]
    more = ", and more still" if len(found.others) > 4 else ""
    return f"It may just as well be {or_list(shown)} turns a minute{more}: settle that before you use it."


def _falls(found: Phoned) -> str:
    down = found.coast
    assert down is not None
    rate, sd = down.decel(down.w_start.value)
    seconds = say.time(float(down.time[-1]))
    top = say.turns(down.w_start.value)
    per = f"{rate / RPM:.0f}" if rate / RPM >= 10 else f"{rate / RPM:.1f}"
    sure = f", within {max(100 * 1.6449 * sd / rate, 1):.0f} %" if rate > 0 else ""
    return (
        f"It runs down from {top} and was followed for {seconds}. "
        f"At first it loses {per} turns a minute each second{sure}."
    )


def coast_lines(found: Phoned) -> list[str]:
    """What the run-down says of drag and inertia; the joint fit makes torque of it once the inertia is known."""
    down = found.coast
    if down is None:
        return []
    lines = []
    for one, says, unit in (
        (down.drag_rate, "steady drag over inertia", "rad/s²"),
        (down.damping_rate, "drag that grows with speed, over inertia", "1/s"),
    ):
        if math.isfinite(one.sd):
            lines.append(f"{says}: {one.low:.3g} to {one.high:.3g} {unit}")
        else:
            lines.append(f"{says}: about {one.value:.3g} {unit}; {one.why_no_sd}")
    lines.append(
        "with the inertia, from a known disc or a falling weight, that is a torque; all of it goes into one fit"
    )
    return [sentence(line) for line in lines]
