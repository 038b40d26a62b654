"""How well the bench knows what it knows, over hundreds of synthetic rigs: coverage, planted slips, what to read next.

Rigs are drawn from the spread that a nameplate has; readings are made by the formulas of the tests' own simulator.
The rigs are shared out over the cores; all of it takes a few minutes on two. By itself: `python -m benchmarks.estimation`,
with --small for a first look.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import TypeVar

import numpy as np
from tests.studies.bench_rigs import Shed, Truth, bench, drawn
from tests.studies.test_known import TRUE_NAMES, everything
from tests.studies.test_odd import PLANTS, book, of_reading, planted

from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.known import Known, know_taken, measure_next
from sparewatt.studies.bench.known_asked import delivered
from sparewatt.studies.bench.known_cards import bench_answer
from sparewatt.studies.bench.known_taken import taken_of
from sparewatt.studies.bench.odd import suspects_of
from sparewatt.studies.fit.next_reading import answer_of

T = TypeVar("T")
Row = tuple[str, float, str, str]
PLAIN = bench()


def fitted(entries: list[Entry]) -> Known:
    """The joint fit of a book."""
    return know_taken(PLAIN, *taken_of(entries))


def shared_out(work: Callable[[int], T], seeds: Iterable[int]) -> list[T]:
    """What `work` makes of each seed, in order, on all cores; every process does one thing at a time."""
    held = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
    before = {name: os.environ.get(name) for name in held}
    os.environ.update(held)
    try:
        with ProcessPoolExecutor(os.cpu_count() or 1, mp_context=get_context("spawn")) as pool:
            return list(pool.map(work, seeds, chunksize=4))
    finally:
        for name, value in before.items():
            os.environ.pop(name) if value is None else os.environ.__setitem__(name, value)


def covered(seed: int) -> list[bool]:
    """Of one drawn rig: which constants' 90 % bands hold the truth."""
    rng = np.random.default_rng(seed)
    truth = drawn(PLAIN, rng)
    fit = fitted(everything(Shed(truth, rng)).entries).fit
    at = [(fit.names.index(name), getattr(truth, attribute)) for name, attribute in TRUE_NAMES.items()]
    return [bool(fit.low[k] <= true <= fit.high[k]) for k, true in at]


def coverage(rigs: int) -> list[Row]:
    """Share of 90 % bands that hold the truth: all constants together, and the worst of them."""
    held = np.array(shared_out(covered, range(rigs)), dtype=float)
    shares = dict(zip(TRUE_NAMES, held.mean(axis=0), strict=True))
    print(" ".join(f"{name} {share:.3f}" for name, share in shares.items()), file=sys.stderr)
    mean = float(held.mean())
    return [
        (f"90 % bands hold the truth, {rigs} rigs", mean, "share", ">= 0.86"),
        ("the same, no more often than they should", mean, "share", "<= 0.94"),
        ("the constant held least often", float(min(shares.values())), "share", ">= 0.86"),
    ]


def slipped(number: int) -> tuple[int, int, int]:
    """Of one book with a planted slip: (the slip is large enough to count, it was named, another reading was blamed)."""
    seed, n = divmod(number, len(PLANTS))
    entries, key = planted(book(9000 + 1000 * seed + n), *PLANTS[n])
    known = fitted(entries)
    suspects = suspects_of(known)
    mine = of_reading(suspects, key)
    blamed = any(s.cause for s in suspects if s not in mine)
    rows = [k for k, name in enumerate(known.fit.keys) if name.startswith(key)]
    counts = not rows or max(abs(known.fit.deviate[k]) for k in rows) > 3
    return int(counts), int(counts and bool(mine) and mine[0].cause == PLANTS[n][0]), int(blamed)


def honest(seed: int) -> bool:
    """Whether a reading is blamed in a book without a slip."""
    return any(s.cause for s in suspects_of(fitted(book(70_000 + seed).entries)))


def slips(rounds: int) -> list[Row]:
    """Planted slips named, and readings blamed that are honest."""
    books = rounds * len(PLANTS)
    counted, named, blamed = np.array(shared_out(slipped, range(books))).sum(axis=0)
    plain = 20 * rounds
    wronged = sum(shared_out(honest, range(plain)))
    return [
        (f"planted slips named, {books} books", named / counted, "share", ">= 0.9"),
        ("other readings blamed in those books", blamed / books, "share", "<= 0.03"),
        (f"honest books in which a reading is blamed, {plain}", wronged / plain, "share", "<= 0.03"),
    ]


PASSES = (
    "spin_open",
    "spin_loaded",
    "run_free",
    "falling_weight",
    "board_power",
    "battery_dip",
    "ratio_and_slip",
)


def take(shed: Shed, procedure: str) -> None:
    """One pass of a procedure."""
    t = shed.truth
    if procedure == "spin_open":
        shed.open_volts((90, 160, 230))
    elif procedure == "spin_loaded":
        shed.loaded(tuple(((12 + t.v_b + t.r * i) / t.k, i) for i in (1.7, 4.5, 6.0)))
    elif procedure == "run_free":
        shed.run_free((12.6, 25.2))
    elif procedure == "falling_weight":
        shed.falling((2.0, 2.0, 4.0, 4.0))
    elif procedure == "board_power":
        shed.board((15, 40, 75, 120))
    elif procedure == "battery_dip":
        shed.dips(3)
    else:
        shed.turns()


def off(known: Known, truth: Truth) -> float:
    """How far the asked watts are from the truth."""
    asked = delivered(PLAIN)
    p = {name: np.array([u.start]) for name, u in PLAIN.unknowns.items()}
    held = {"emf_constant": truth.k, "resistance": truth.r, "brush_drop": truth.v_b, "friction": truth.t0,
            "friction_slope": truth.b, **{f"loss_{n}.0": x for n, x in enumerate(truth.losses)}}  # fmt: skip
    true = p | {name: np.array([x]) for name, x in held.items()}
    return abs(answer_of(known.fit, asked).value - float(np.asarray(asked(true))[0]))


def led_is_better(seed: int, passes: int = 3, tries: int = 4) -> bool:
    """On one rig: whether following "measure next" leaves a smaller mean error, over a few tries, than random order."""
    truth = drawn(PLAIN, np.random.default_rng(30_000 + seed))
    led = [_led(truth, 100 * seed + n, passes) for n in range(tries)]
    lots = [_lot(truth, 100 * seed + n, passes, n) for n in range(2 * tries)]
    return float(np.mean(led)) <= float(np.mean(lots))


def greedy(rigs: int, passes: int = 3) -> list[Row]:
    """Rigs on which "measure next" leads better than random order."""
    better = sum(shared_out(led_is_better, range(rigs)))
    return [(f"led beats random order over {passes} passes, {rigs} rigs", better / rigs, "share", ">= 0.9")]


def _led(truth: Truth, seed: int, passes: int) -> list[float]:
    shed = Shed(truth, np.random.default_rng(seed))
    left = list(PASSES)
    errors = []
    for _ in range(passes):
        known = fitted(shed.entries)
        ranked = [n.procedure for n in measure_next(known, most=30) if n.procedure in left]
        take(shed, ranked[0] if ranked else left[0])
        left.remove(ranked[0] if ranked else left[0])
        errors.append(off(fitted(shed.entries), truth))
    return errors


def _lot(truth: Truth, seed: int, passes: int, lot: int) -> list[float]:
    shed = Shed(truth, np.random.default_rng(seed))
    order = np.random.default_rng(1000 * seed + lot).permutation(len(PASSES))
    errors = []
    for n in range(passes):
        take(shed, PASSES[int(order[n])])
        errors.append(off(fitted(shed.entries), truth))
    return errors


def speed() -> list[Row]:
    """Joint fit of sixty readings, and a whole answer, best of five, warm."""
    shed = everything(Shed(Truth(), np.random.default_rng(2)))
    shed.riding(tuple((5.5 + 0.1 * n, 1.0 + 0.4 * n) for n in range(10)), gear="42/21")
    taken = taken_of(shed.entries)
    fits, answers = [], []
    for _ in range(6):
        start = time.perf_counter()
        known = know_taken(PLAIN, *taken)
        fits.append(time.perf_counter() - start)
        start = time.perf_counter()
        bench_answer(PLAIN.filled, shed.entries)
        answers.append(time.perf_counter() - start)
    return [
        (
            f"joint fit of {len(known.fit.keys)} rows, {len(known.fit.names)} unknowns",
            min(fits),
            "s",
            "<= 0.2",
        ),
        ("whole bench answer for them", min(answers), "s", "<= 0.3"),
    ]


def measure(rigs: int = 500, rounds: int = 6) -> list[Row]:
    """All of it."""
    return [*speed(), *coverage(rigs), *slips(rounds), *greedy(max(rigs // 5, 20))]


if __name__ == "__main__":
    small = "--small" in sys.argv
    for what, value, unit, bound in measure(60, 2) if small else measure():
        print(f"{what:64s} {value:10.4g} {unit:6s} {bound}")
