"""Charts and the curves of an advice."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rules
from schemas.units import System
from service.pages.charts import ticks, waterfall
from service.pages.plots import (
    HEELS,
    decay,
    freeboard,
    off_side_plate,
    plate_points,
    plots,
    righting,
)
from service.pages.svg import SURF
from tests.pages.conftest import MOVING, PLAIN, SINKING, Ask
from tests.pages.test_loading_plan import SVG, read


@given(
    st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(2, 10)
)  # fmt: skip
def test_ticks_are_round_and_within(low: float, span: float, about: int) -> None:
    found = ticks(low, low + span, about)
    steps = np.diff(found)
    assert len(found) <= about + 1
    assert all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in found)
    if len(steps):
        step = float(steps[0])
        np.testing.assert_allclose(steps, step, rtol=1e-6, atol=1e-9 * max(abs(low), 1))
        mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
        assert min(abs(mantissa - k) for k in (1, 2, 5, 10)) < 1e-3


def points(picture: str) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """The curve's points (pixels)."""
    root = read(picture)
    path = next(p for p in root.iter(f"{SVG}path") if p.get("fill") == "none")
    numbers = re.findall(r"-?[\d.]+", path.get("d") or "")
    return np.array(numbers, float).reshape(-1, 2)


def marks(picture: str) -> list[tuple[float, float]]:
    root = read(picture)
    return [
        (float(c.get("cx", "nan")), float(c.get("cy", "nan")))
        for c in root.iter(f"{SVG}circle")
        if c.get("fill") == SURF
    ]


def test_righting_arm_crosses_zero_where_the_boat_lies(ask: Ask) -> None:
    """At the angle of rest the arm is zero by definition of equilibrium."""
    advice, system = ask(PLAIN)
    plot = righting(advice, system)
    assert plot is not None
    curve, (mark,) = points(plot.picture), marks(plot.picture)
    assert len(curve) == len(HEELS)
    # The arm rises through zero there: y (downwards) at the mark, read off the curve.
    assert np.interp(mark[0], curve[:, 0], curve[:, 1]) == pytest.approx(mark[1], abs=0.3)


def test_more_people_never_raise_the_lowest_edge(ask: Ask) -> None:
    advice, system = ask(PLAIN)
    plot = freeboard(advice, system)
    assert plot is not None
    assert np.all(np.diff(points(plot.picture)[:, 1]) > 0), "lower on the page with each person"
    assert len(points(plot.picture)) == 1 + sum(seat.places for seat in advice.boat.seats)


def test_off_side_plate_never_falls_with_load_and_stands_on_its_curve(ask: Ask) -> None:
    advice, system = ask(PLAIN)
    plot = off_side_plate(advice, system)
    assert plot is not None
    curve, (mark,) = points(plot.picture), marks(plot.picture)
    assert np.all(np.diff(curve[:, 1]) <= 1e-9)
    # The advised plate is rounded to a whole percent: half of one is 1.3 pixels here.
    assert np.interp(mark[0], curve[:, 0], curve[:, 1]) == pytest.approx(mark[1], abs=1.5)
    values = [plate for _, plate in plate_points(rules.load())]
    assert values == sorted(values)


def test_decay_is_relative_and_follows_the_cube_root() -> None:
    """Havelock 1908 (as quoted in EM 1110-2-1100): at 8 times the distance half the height."""
    distances = {"near": 60.0, "far": 480.0}
    plot = decay(5.0, distances, System.METRIC)
    assert plot is not None
    (_, near), (_, far) = marks(plot.picture)
    root = read(plot.picture)
    level = [line for line in root.iter(f"{SVG}line") if line.get("y1") == line.get("y2")]
    zero = max(float(line.get("y1", "nan")) for line in level if line.get("stroke-width") == "1.2")
    assert (zero - far) / (zero - near) == pytest.approx(0.5, abs=0.005)
    assert "Relative only" in plot.says


def test_decay_is_not_drawn_where_the_law_does_not_hold() -> None:
    # At 60 km/h a wave is longer than the nearest published distance; at rest there is none.
    assert decay(17.0, {"near": 60.0, "far": 300.0}, System.METRIC) is None
    assert decay(0.0, {"near": 60.0, "far": 300.0}, System.METRIC) is None


def test_every_curve_says_what_it_shows(ask: Ask) -> None:
    advice, system = ask(MOVING)
    found = plots(advice, system)
    assert len(found) == 3
    for plot in found:
        root = read(plot.picture)
        assert (root.findtext(f"{SVG}title"), root.get("role")) == (plot.title, "img")
        assert "style=" not in plot.picture


def test_a_boat_that_sinks_has_no_curves_of_floating(ask: Ask) -> None:
    advice, system = ask(SINKING)
    assert righting(advice, system) is None
    assert freeboard(advice, system) is None


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=8))
def test_waterfall_ends_where_the_steps_lead(changes: list[float]) -> None:
    root = read(waterfall("w", "sum", [(change, "") for change in changes]))
    bars = [r for r in root.iter(f"{SVG}rect") if r.get("stroke-width") == "1"]
    assert len(bars) == len(changes)
    for bar in root.iter(f"{SVG}rect"):
        top, high = float(bar.get("y", "0")), float(bar.get("height", "0"))
        assert -0.02 <= top <= top + high <= 26.02 + 1.5
