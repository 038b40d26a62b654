"""`make bench`: print every figure with its bound; exit 1 when a bound is not met."""

from __future__ import annotations

import json
import sys

from benchmarks import answers, bench_page, estimation, faults, motion, operating_points, programs, scene_page


def met(value: float, bound: str) -> bool:
    """Whether a value meets a bound such as ">= 100" (an empty bound is always met)."""
    if not bound:
        return True
    sign, limit = bound.split()
    return value >= float(limit) if sign == ">=" else value <= float(limit)


def main() -> int:
    """Run all, print a table, and JSON with --json."""
    rows = [
        *operating_points.measure(),
        *answers.measure(),
        *programs.measure(),
        *motion.measure(),
        *scene_page.measure(),
        *bench_page.measure(),
        *faults.measure(),
        *estimation.measure(),
    ]
    if "--json" in sys.argv:
        print(
            json.dumps(
                [{"what": w, "value": v, "unit": u, "bound": b, "met": met(v, b)} for w, v, u, b in rows],
                indent=1,
            )
        )
    else:
        for what, value, unit, bound in rows:
            mark = "" if not bound else ("met" if met(value, bound) else "NOT MET")
            print(f"{what:58s} {value:14.4g} {unit:9s} {bound:10s} {mark}")
    return 0 if all(met(v, b) for _w, v, _u, b in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
