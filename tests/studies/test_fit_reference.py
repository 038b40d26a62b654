"""The fit against certified and published numbers."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import uncertainties
from uncertainties import umath

from sparewatt.studies.fit.fitting import Batch, Unknown, fit
from sparewatt.studies.fit.next_reading import answer_of, interval, predict, propagate

STRD = Path(__file__).parents[1] / "reference" / "strd"

MODELS: dict[str, Callable[..., np.ndarray]] = {
    "misra1a": lambda p, x: p["b1"] * (1 - np.exp(-p["b2"] * x)),
    "misra1d": lambda p, x: p["b1"] * p["b2"] * x / (1 + p["b2"] * x),
    "chwirut2": lambda p, x: np.exp(-p["b1"] * x) / (p["b2"] + p["b3"] * x),
    "nelson": lambda p, x1, x2: p["b1"] - p["b2"] * x1 * np.exp(-p["b3"] * x2),
    "roszman1": lambda p, x: p["b1"] - p["b2"] * x - np.arctan(p["b3"] / (x - p["b4"])) / np.pi,
    "rat42": lambda p, x: p["b1"] / (1 + np.exp(p["b2"] - p["b3"] * x)),
    "mgh09": lambda p, x: p["b1"] * (x**2 + x * p["b2"]) / (x**2 + x * p["b3"] + p["b4"]),
    "mgh10": lambda p, x: p["b1"] * np.exp(p["b2"] / (x + p["b3"])),
    "eckerle4": lambda p, x: p["b1"] / p["b2"] * np.exp(-0.5 * ((x - p["b3"]) / p["b2"]) ** 2),
    "thurber": lambda p, x: (
        (p["b1"] + p["b2"] * x + p["b3"] * x**2 + p["b4"] * x**3)
        / (1 + p["b5"] * x + p["b6"] * x**2 + p["b7"] * x**3)
    ),
}


def certified(name: str) -> tuple[list[dict[str, str]], dict[str, np.ndarray]]:
    """Constants (start, certified value and spread) and data of one set."""
    lines = (STRD / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    body = [x for x in lines if not x.startswith("#")]
    gap = body.index("")
    rows = list(csv.DictReader(body[gap + 1 :]))
    data = {c: np.array([float(r[c]) for r in rows]) for c in rows[0]}
    if name == "nelson":
        data["y"] = np.log(data["y"])
    return list(csv.DictReader(body[:gap])), data


def test_every_certified_set_is_used() -> None:
    """No set lies in the folder unread."""
    assert {p.stem for p in STRD.glob("*.csv")} == set(MODELS)
    assert all(p.read_text(encoding="utf-8").startswith("# NIST Statistical") for p in STRD.glob("*.csv"))


@pytest.mark.parametrize("start", ["start_1", "start_2"])
@pytest.mark.parametrize("name", MODELS)
def test_certified_constants_and_spreads_to_six_digits(name: str, start: str) -> None:
    """NIST StRD: from both starting values, constants, standard deviations and residual scatter to 6 digits."""
    parameters, data = certified(name)
    y = data.pop("y")
    found = fit(
        Batch(model=MODELS[name], y=y, sd=1.0, x=tuple(data.values())),
        [Unknown(name=p["parameter"], start=float(p[start])) for p in parameters],
        sd_known=False,
    )
    np.testing.assert_allclose(found.values, [float(p["certified"]) for p in parameters], rtol=5e-7)
    np.testing.assert_allclose(found.sd, [float(p["standard_deviation"]) for p in parameters], rtol=5e-7)
    assert found.degrees == pytest.approx(y.size - len(parameters), abs=1e-6)
    assert found.why_no_sd == ("",) * len(parameters)


# York's data: Pearson's points with York's weights. Solution 5.47991022403, -0.48053340745 (Williamson 1968, as quoted
# in the tutorial of a public fitting library); spreads 0.294971, 0.0579850 (York and others 2004, from memory).
PEARSON_X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
YORK_WX = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0])
YORK_WY = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def test_errors_in_both_axes_give_the_published_line() -> None:
    """York's weighted line is met to nine digits, its spreads to six."""
    found = fit(
        Batch(
            model=lambda p, x: p["a"] + p["b"] * x,
            y=PEARSON_Y,
            sd=YORK_WY**-0.5,
            x=(PEARSON_X,),
            x_sd=(YORK_WX**-0.5,),
        ),
        [Unknown(name="a", start=1.0), Unknown(name="b", start=0.1)],
        robust=False,
    )
    np.testing.assert_allclose(found.values, [5.47991022403, -0.48053340745], rtol=1e-9)
    np.testing.assert_allclose(found.sd, [0.294971, 0.0579850], rtol=2e-6)
    assert found.chi2 == pytest.approx(11.8663531941, rel=1e-9)


# JCGM 100:2008, H.2, table H.2 (from memory; its means, spreads and correlations agree with those printed).
H2 = np.array(
    [
        [5.007, 19.663e-3, 1.0456],
        [4.994, 19.639e-3, 1.0438],
        [5.005, 19.640e-3, 1.0468],
        [4.990, 19.685e-3, 1.0428],
        [4.999, 19.678e-3, 1.0433],
    ]
)


def impedance(v: float, i: float, phi: float) -> np.ndarray:
    """Resistance, reactance and size of the impedance."""
    return np.array([v / i * np.cos(phi), v / i * np.sin(phi), v / i])


def test_gum_h2_resistance_and_reactance_with_correlations() -> None:
    """JCGM 100 H.2: three outputs from correlated inputs, values, spreads and correlations as printed."""
    mean = H2.mean(axis=0)
    cov = np.cov(H2, rowvar=False) / 5
    sd = np.sqrt(np.diag(cov))
    np.testing.assert_allclose(mean, [4.9990, 19.6610e-3, 1.04446], rtol=1e-6)
    np.testing.assert_allclose(sd, [0.0032, 0.0095e-3, 0.00075], rtol=0.02)
    r = cov / np.outer(sd, sd)
    np.testing.assert_allclose([r[0, 1], r[0, 2], r[1, 2]], [-0.36, 0.86, -0.65], atol=0.006)
    values, out = propagate(impedance, mean, cov)
    u = np.sqrt(np.diag(out))
    np.testing.assert_allclose(values, [127.732, 219.847, 254.260], atol=6e-4)
    np.testing.assert_allclose(u, [0.071, 0.295, 0.236], atol=6e-4)
    c = out / np.outer(u, u)
    np.testing.assert_allclose([c[0, 1], c[0, 2], c[1, 2]], [-0.588, -0.485, 0.993], atol=6e-4)


def test_propagation_equals_an_independent_package() -> None:
    """Values, spreads and correlations of the same three outputs by a library that differentiates symbolically."""
    mean, cov = H2.mean(axis=0), np.cov(H2, rowvar=False) / 5
    v, i, phi = uncertainties.correlated_values(mean, cov)
    theirs = [v / i * umath.cos(phi), v / i * umath.sin(phi), v / i]
    values, out = propagate(impedance, mean, cov)
    np.testing.assert_allclose(values, [y.nominal_value for y in theirs], rtol=1e-12)
    np.testing.assert_allclose(out, uncertainties.covariance_matrix(theirs), rtol=1e-7)


# JCGM 100:2008, H.3, table H.6 (as stored in the documentation of two public metrology libraries).
H3_T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
H3_B = np.array([-171, -169, -166, -159, -164, -165, -156, -157, -159, -161, -160]) * 1e-3


def test_gum_h3_thermometer_line_with_correlated_outputs() -> None:
    """JCGM 100 H.3: intercept, slope, their spreads and correlation, and the correction predicted at 30 degrees."""

    def line(p: dict[str, np.ndarray], t: np.ndarray) -> np.ndarray:
        return p["y1"] + p["y2"] * (t - 20)

    found = fit(
        Batch(model=line, y=H3_B, sd=1.0, x=(H3_T,)),
        [Unknown(name="y1", start=0.0), Unknown(name="y2", start=0.1)],
        sd_known=False,
    )
    assert [round(x, d) for x, d in zip(found.values, (4, 5), strict=True)] == [-0.1712, 0.00218]
    assert [round(x, d) for x, d in zip(found.sd, (4, 5), strict=True)] == [0.0029, 0.00067]
    assert found.correlation[0, 1] == pytest.approx(-0.930, abs=6e-4)
    assert np.sqrt(found.chi2 / found.degrees) == pytest.approx(0.0035, abs=6e-5)
    at_30 = predict(found, Batch(model=line, y=[0.0], sd=1.0, x=([30.0],)))
    assert at_30.value[0] == pytest.approx(-0.1494, abs=6e-5)
    assert at_30.sd[0] == pytest.approx(0.0041, abs=6e-5)
    answered = answer_of(found, lambda p: p["y1"] + p["y2"] * 10)
    assert answered.value == pytest.approx(-0.1494, abs=6e-5)
    assert answered.sd == pytest.approx(0.0041, abs=6e-5)


def mass(reference: float, extra: float, air: float, weight: float, standard: float) -> float:
    """JCGM 101 9.3: deviation of a weight's mass from 100 g, in mg."""
    return (reference + extra) * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 100_000


def test_jcgm_101_mass_calibration_first_order_and_by_draws() -> None:
    """JCGM 101 9.3 (from memory): first order 0.0539 [1.1285, 1.3395]; draws 0.0754 [1.0834, 1.3825] mg, 95 %."""
    values = [100_000.0, 1.234, 1.20, 8000.0, 8000.0]
    spreads = np.array([0.050, 0.020, 0.1 / np.sqrt(3), 1000 / np.sqrt(3), 50 / np.sqrt(3)])
    y, cov = propagate(mass, values, np.diag(spreads**2))
    u = float(np.sqrt(cov[0, 0]))
    assert y[0] == pytest.approx(1.2340, abs=6e-5)
    assert u == pytest.approx(0.0539, abs=6e-5)
    assert (y[0] - 1.96 * u, y[0] + 1.96 * u) == pytest.approx((1.1285, 1.3395), abs=6e-4)
    rng = np.random.default_rng(7)
    n = 400_000
    drawn = mass(
        rng.normal(100_000, 0.050, n),
        rng.normal(1.234, 0.020, n),
        rng.uniform(1.10, 1.30, n),
        rng.uniform(7000, 9000, n),
        rng.uniform(7950, 8050, n),
    )
    assert float(np.std(drawn)) == pytest.approx(0.0754, abs=3e-4)
    assert interval(drawn, share=0.95, shortest=True) == pytest.approx((1.0834, 1.3825), abs=6e-3)
