"""What a boat would read: against the solver itself, and its derivatives against differences."""

from __future__ import annotations

import numpy as np
import pytest

from service.calibration.predict import NotFloatingError, broadened, corrected, predict
from service.calibration.survey import Condition, Direct, Freeboard, Survey, Unknown
from service.hydrostatics.equilibrium import equilibrium
from service.hydrostatics.stability import freeboard_at
from service.hydrostatics.weights import Weight, combine
from tests.calibration import synthetic

BOAT = synthetic.FLEET["demo-7m"]
TRUTH = np.array([2350.0, 2.6, 0.02, 0.8, 0.01, 0.015, 0.01])


def test_freeboards_are_those_of_the_corrected_hull() -> None:
    plan = synthetic.freeboards_once(BOAT)
    values, _ = predict(BOAT.hull, TRUTH, plan)
    hull = corrected(BOAT.hull, depth=0.01, breadth=0.015)
    loading = combine([Weight("light", 2350.0, 2.6, 0.02, 0.8), synthetic.fuel(BOAT)])
    floating = equilibrium(hull, loading, synthetic.WATER)
    expected = [
        freeboard_at(hull, floating, board.x, board.side) for board in plan.conditions[0].freeboards
    ]
    # The side leans a little less with its top raised, which moves the waterline on it.
    assert values == pytest.approx(expected, abs=2e-5)


def test_derivatives_are_those_of_differences() -> None:
    plan = synthetic.dock(BOAT)
    plan = Survey(plan.conditions, (Direct(Unknown.MASS, 0.0, 20.0),))
    _, slopes = predict(BOAT.hull, TRUTH, plan)
    for unknown, step in enumerate([0.1, 1e-4, 1e-4, 1e-4, 1e-4, 1e-4, 1e-4]):
        move = np.zeros(len(Unknown))
        move[unknown] = step
        above, below = (predict(BOAT.hull, TRUTH + s * move, plan)[0] for s in (1.0, -1.0))
        # Where a waterline passes a chine the second derivative jumps: hence not tighter.
        difference = (above - below) / (2.0 * step)
        assert slopes[:, unknown] == pytest.approx(difference, abs=2e-7, rel=1e-6)


def test_breadths_scale_the_volume() -> None:
    wide = broadened(BOAT.hull, 0.02)
    rebuilt = corrected(BOAT.hull, 0.0, 0.02)
    assert wide.volume == pytest.approx(1.02 * BOAT.hull.volume, rel=1e-12)
    assert wide.volume == pytest.approx(rebuilt.volume, rel=1e-12)
    assert np.allclose(wide.vertices, rebuilt.vertices, atol=1e-12)
    assert np.allclose(wide.below, rebuilt.below, atol=1e-12)


def test_a_sheer_comes_down_everywhere_even_at_the_stem_head() -> None:
    lowered = corrected(BOAT.hull, -0.02, 0.0)
    assert lowered.sheer[:, 2] == pytest.approx(BOAT.hull.sheer[:, 2] - 0.02, abs=1e-12)


def test_a_boat_that_sinks_has_no_readings() -> None:
    heavy = TRUTH + np.eye(len(Unknown))[Unknown.MASS] * 1e5
    survey = Survey((Condition((), 998.0, (Freeboard(0.0, "port", 0.5),)),))
    with pytest.raises(NotFloatingError, match="sinks"):
        predict(BOAT.hull, heavy, survey)


def test_one_reading_left_out_is_that_one() -> None:
    survey = synthetic.with_values(synthetic.dock(BOAT), np.arange(15.0))
    for number in range(15):
        left = survey.without(number)
        assert left.values.tolist() == [v for v in range(15) if v != number]
        assert len(left.sd) == 14
