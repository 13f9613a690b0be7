"""GM from an inclining: against the closed form and a box; classical and nonlinear side by side."""

from __future__ import annotations

import math

import numpy as np
import pytest

from service.boats.model import Light
from service.calibration.fit import fit
from service.calibration.inclining import (
    Estimate,
    classical,
    displacement,
    from_pendulum,
    metacentric_height,
)
from service.calibration.predict import predict
from service.calibration.survey import Condition, Heel, Particulars, Survey, Unknown
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import upright
from service.hydrostatics.weights import Weight, combine
from tests.calibration import synthetic

SECTION = [(0.0, 0.0), (1.2, 0.0), (1.2, 1.2)]
BOX = Hull.from_stations([(0.0, SECTION), (6.0, SECTION)])
"""6 × 2.4 m: at 7200 kg in 1000 kg/m³ T 0.5, KB 0.25, BM 0.96 m; with KG 0.8 GM 0.41 m
(closed form: KB = T/2, BM = B²/(12 T))."""
LIGHT = Light(7200.0, 3.0, 0.0, 0.8)
EXACT = Estimate(7200.0, 0.0)


def test_classical_gm_is_w_d_over_displacement_times_tangent() -> None:
    """GM = w d / (W tan φ): the angle of the small-angle formula gives back GM 0.41 m."""
    heel = math.radians(6.952957)
    found = classical([Heel(heel, -360.0), Heel(0.0, 0.0), Heel(-heel, 360.0)], EXACT)
    assert found is not None
    assert found.value == pytest.approx(0.41, abs=1e-6)


def test_instrument_zero_and_a_first_list_do_not_matter() -> None:
    slope = 0.41 * 7200.0
    moments = [-300.0, -100.0, 0.0, 100.0, 300.0]
    read = [Heel(math.atan(0.03 - moment / slope), moment) for moment in moments]
    found = classical(read, EXACT)
    assert found is not None
    assert found.value == pytest.approx(0.41, rel=1e-9)


@pytest.mark.parametrize(
    "read",
    [
        [Heel(0.0, 0.0), Heel(4e-234, 1.0)],
        [Heel(0.0, 0.0), Heel(-1e-3, 300.0)],  # no more than the readings may be off
        [Heel(0.0, 0.0), Heel(-0.1, 1e-200)],
        [Heel(0.0, 0.0), Heel(0.1, 300.0)],
        [Heel(0.0, 300.0), Heel(0.1, 300.0)],
    ],
)
def test_where_the_readings_say_nothing_of_the_slope_there_is_no_gm(read: list[Heel]) -> None:
    assert classical(read, EXACT) is None


def test_standard_error_is_that_of_repeated_experiments() -> None:
    rng = np.random.default_rng(1)
    slope = 0.41 * 7200.0
    moments = np.array([-200.0, -100.0, 0.0, 100.0, 200.0])
    sd = math.radians(0.2)
    found = []
    for _ in range(2000):
        angles = np.arctan(-moments / slope) + sd * rng.standard_normal(5)
        weight = Estimate(7200.0 + 70.0 * rng.standard_normal(), 70.0)
        heels = [Heel(a, m, sd) for a, m in zip(angles, moments, strict=True)]
        result = classical(heels, weight)
        assert result is not None
        found.append((result.value, result.error))
    values, errors = np.array(found).T
    assert np.std(values) == pytest.approx(np.mean(errors), rel=0.06)
    assert np.mean(values) == pytest.approx(0.41, abs=0.002)


def test_an_exact_heel_gives_the_centres_height_where_the_formula_does_not() -> None:
    """The box at 6.838913° with the centre 0.05 m off (closed form by wall-sided GZ = 0)."""
    heel = math.radians(6.838913)
    heels = (Heel(heel, -360.0), Heel(0.0), Heel(-heel, 360.0))
    survey = Survey((Condition((Weight("nothing", 0.0, 3.0, 0.0, 0.0),), 1000.0, heels=heels),))
    exact = Particulars(mass=1e-6, x=1e-6, y=1e-6, z=5.0, depth=1e-6, breadth=1e-6, zero=1e-6)
    found = fit(BOX, Light(7200.0, 3.0, 0.0, 0.6), survey, exact)
    assert found.light.z == pytest.approx(0.8, abs=2e-4)
    gm = metacentric_height(found, survey.conditions[0])
    assert gm is not None
    assert gm.value == pytest.approx(0.41, abs=2e-4)
    # The formula takes the box's stiffening for more GM: GM + BM tan² φ / 2.
    straight = classical(heels, EXACT)
    assert straight is not None
    assert straight.value == pytest.approx(0.41 + 0.96 * math.tan(heel) ** 2 / 2.0, abs=1e-5)


@pytest.mark.parametrize("boat_id", sorted(synthetic.FLEET))
def test_classical_tends_to_the_metacentric_height_at_small_heels(boat_id: str) -> None:
    """A V bottom is not wall-sided, so the formula is wrong at large heels, and right at small."""
    boat = synthetic.FLEET[boat_id]
    weights = (synthetic.fuel(boat),)
    loading = combine([Weight("light", boat.light.mass, boat.light.x, 0.0, boat.light.z), *weights])
    true = upright(boat.hull, loading, 998.0)
    assert true is not None
    errors = []
    for moment in (300.0, 30.0, 3.0):
        exact = (Heel(0.0, -moment, 1e-6), Heel(0.0, moment, 1e-6))
        plan = Survey((Condition(weights, 998.0, heels=exact),))
        angles, _ = predict(boat.hull, synthetic.before(boat.light), plan)
        heels = synthetic.with_values(plan, angles).conditions[0].heels
        found = classical(heels, Estimate(loading.mass, 0.0))
        assert found is not None
        errors.append(abs(found.value / true.gm_fluid - 1.0))
    assert errors[0] > 0.05
    assert errors[2] < 2e-4


def test_gm_is_better_known_than_the_height_of_the_centre() -> None:
    """KM depends on the square of a breadth that is known to 2 %; GM is what was measured."""
    boat = synthetic.FLEET["demo-7m"]
    case = synthetic.drawn(np.random.default_rng(2), synthetic.dock(boat), boat)
    found = fit(boat.hull, boat.light, case.survey)
    gm = metacentric_height(found, case.survey.conditions[0])
    assert gm is not None
    prior = fit(boat.hull, boat.light, Survey())
    before = metacentric_height(prior, case.survey.conditions[0])
    assert before is not None
    assert gm.error < 0.7 * before.error
    assert found.sd[Unknown.Z] < prior.sd[Unknown.Z]


def test_displacement_is_boat_and_weights() -> None:
    boat = synthetic.FLEET["demo-7m"]
    found = displacement(fit(boat.hull, boat.light, Survey()), synthetic.dock(boat).conditions[0])
    assert found.value == pytest.approx(boat.light.mass + 100.0)
    assert found.error == pytest.approx(0.1 * boat.light.mass)


def test_readings_that_are_no_experiment_give_no_gm() -> None:
    assert classical([], EXACT) is None
    assert classical([Heel(0.1, 50.0), Heel(0.1, 50.0)], EXACT) is None
    # Weight to port, and she heels to starboard: a sign is wrong somewhere.
    assert classical([Heel(0.0), Heel(0.05, 100.0)], EXACT) is None


def test_a_pendulum_reads_the_tangent() -> None:
    assert math.tan(from_pendulum(0.05, 1.0)) == pytest.approx(0.05)
    with pytest.raises(ValueError, match="length"):
        from_pendulum(0.05, 0.0)
