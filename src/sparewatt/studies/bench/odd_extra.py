"""Odd readings that no single factor explains: an ohmmeter on brushes, numbers rounded or copied, too good to be true."""

from __future__ import annotations

import math

from sparewatt.studies.bench.answers import Suspect
from sparewatt.studies.bench.known import Known

__all__ = ["copied_from", "ohms_through_brushes", "rounded_to", "too_good"]

LEADS = 0.3  # ohm, what the leads of a meter may add


def ohms_through_brushes(known: Known) -> list[Suspect]:
    """Ohms read through brushes that are well above the resistance the machine has when it works."""
    r = known.now["resistance"]
    names = known.fit.names
    sd = (
        known.fit.sd_of("resistance")
        if "resistance" in names
        else known.bench.unknowns["resistance"].prior_sd
    )
    found = []
    for t in known.taken:
        if t.kind != "winding_ohms" or not t.used:
            continue
        ohms = float(t.values["ohms"].value[0])
        off = (ohms - r) / math.hypot(LEADS, 0.01 * ohms, sd if sd and math.isfinite(sd) else r)
        if off <= 3:
            continue
        found.append(
            Suspect(
                row=t.key, rows=(t.key,), cause="ohmmeter_on_brushes", name="the ohmmeter read the brushes",
                says="The film on brushes and commutator shows 2 to 5 times the winding's resistance, another at each turn.",
                redo="Find the resistance with bulbs at speed, or with amps through the locked shaft.", factor=ohms / r,
                residual=off, chi2_before=off**2, chi2_after=0.0, chi2_left=0.0, likelihood=1.0,
            )
        )  # fmt: skip
    return found


def too_good(known: Known) -> list[Suspect]:
    """All readings together, where they agree better than the meters can."""
    if not any("Rounded or copied" in flag for flag in known.fit.flags):
        return []
    keys = tuple(k for k, on in zip(known.fit.keys, known.fit.counts, strict=True) if on)
    return [
        Suspect(
            row=keys[0], rows=keys, cause="too_good", name="numbers rounded, copied or worked out",
            says="The readings lie on the line far closer than these meters can show.",
            redo="Write what the meter shows each time, and disturb the set-up between readings.", factor=math.nan,
            residual=0.0, chi2_before=known.fit.chi2, chi2_after=known.fit.chi2,
            chi2_left=known.fit.chi2_per_degree, likelihood=math.nan,
        )
    ]  # fmt: skip


def rounded_to(value: float, sd: float) -> float:
    """The coarsest round step (1, 2, 5 times a power of ten) that a value stands on, if it is coarser than its spread."""
    if value == 0 or not math.isfinite(value):
        return 0.0
    top = math.floor(math.log10(abs(value)))
    for power in range(top, top - 5, -1):
        for lead in (5.0, 2.0, 1.0):
            step = lead * 10.0**power
            if step <= 3 * sd:
                return 0.0
            if abs(value / step - round(value / step)) < 1e-9 and abs(value) >= step:
                return step
    return 0.0


def copied_from(known: Known, row: int, sd: float) -> bool:
    """Whether another row of the same kind shows the same number where it should show another."""
    fit = known.fit
    batch, t = known.places[row]
    for k, (other, u) in enumerate(known.places):
        if other != batch or k == row or u is t:
            continue
        same = fit.seen[k] == fit.seen[row] and not float(fit.seen[k]).is_integer()
        if same and fit.counts[k] and abs(fit.fitted[k] - fit.fitted[row]) > 5 * sd:
            return True
    return False
