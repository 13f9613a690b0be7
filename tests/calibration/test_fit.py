"""The fit at the dock: truth within the stated bands, wrong readings named, gains as foretold.

Synthetic boats with known truth. Reading errors: normal, one standard deviation of 5 mm for a
freeboard and 0.2° for a heel (in one test uniform with those standard deviations). The truth is
drawn from the uncertainty that is stated for the particulars, which is what makes 95 % mean 95 %.

A sample of boats by default; ``WAVESETUP_TEST_BOATS=500`` for five hundred, within 93–97 %.
"""

from __future__ import annotations

import math
import os
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from service.calibration.fit import WIDTH, CalibrationError, Fit, fit
from service.calibration.inclining import metacentric_height
from service.calibration.known import gains, known, proposals
from service.calibration.predict import broadened, predict
from service.calibration.survey import Condition, Direct, Freeboard, Heel, Survey, Unknown
from service.hydrostatics.stability import upright
from service.hydrostatics.weights import Weight, combine
from tests.calibration import synthetic
from tests.calibration.synthetic import Case, drawn

BOATS = int(os.environ.get("WAVESETUP_TEST_BOATS", "40"))
BOAT = synthetic.FLEET["demo-7m"]


def within(found: Fit, truth: np.ndarray) -> np.ndarray:
    hits: np.ndarray = np.abs(found.unknowns - truth) <= WIDTH * found.sd
    return hits


def bounds(boats: int) -> tuple[float, float]:
    """93 to 97 %; for fewer than 500 as wide as chance would have it, one time in a thousand."""
    if boats >= 500:
        return 0.93, 0.97
    low, high = binom.interval(0.999, boats, 0.95)
    return low / boats, high / boats


@pytest.mark.parametrize("uniform", [False, True], ids=["normal", "uniform"])
def test_truth_lies_in_the_stated_interval(uniform: bool) -> None:
    rng = np.random.default_rng(20)
    boats = sorted(synthetic.FLEET)
    hits = np.zeros(len(Unknown))
    gm_hits = 0
    for number in range(BOATS):
        boat = synthetic.FLEET[boats[number % len(boats)]]
        case = drawn(rng, synthetic.dock(boat), boat, uniform=uniform)
        found = fit(boat.hull, boat.light, case.survey)
        hits += within(found, case.truth)
        gm = metacentric_height(found, case.survey.conditions[0])
        assert gm is not None
        gm_hits += abs(gm.value - _true_gm(case)) <= WIDTH * gm.error
    share = {unknown.name: float(hits[unknown]) / BOATS for unknown in Unknown} | {
        "GM": gm_hits / BOATS
    }
    print(f"\n{BOATS} boats, truth within the 95 % interval:", share)  # noqa: T201  # the figure measured
    low, high = bounds(BOATS)
    assert all(low <= value <= high for value in share.values()), share


def _true_gm(case: Case) -> float:
    light = Weight("light", *case.truth[: Unknown.DEPTH].tolist())
    hull = broadened(case.boat.hull, float(case.truth[Unknown.BREADTH]))
    loading = combine([light, *case.survey.conditions[0].weights])
    found = upright(hull, loading, synthetic.WATER)
    assert found is not None
    return found.gm_fluid


def test_readings_without_error_leave_nothing_over() -> None:
    plan = synthetic.dock(BOAT)
    exact, _ = predict(BOAT.hull, synthetic.before(BOAT.light), plan)
    found = fit(BOAT.hull, BOAT.light, synthetic.with_values(plan, exact))
    assert found.residuals == pytest.approx(np.zeros(len(exact)), abs=1e-9)
    assert found.light.mass == pytest.approx(BOAT.light.mass, rel=1e-9)
    assert found.suspect is None
    assert found.scatter == 1.0


def test_no_reading_changes_nothing() -> None:
    found = fit(BOAT.hull, BOAT.light, Survey())
    assert found.light == BOAT.light
    assert found.hull is BOAT.hull
    assert found.sd == pytest.approx(found.before_sd)


def test_the_boat_found_lies_as_she_was_read() -> None:
    """The corrected hull with the light boat found floats at the fitted freeboards."""
    case = drawn(np.random.default_rng(3), synthetic.dock(BOAT), BOAT)
    found = fit(BOAT.hull, BOAT.light, case.survey)
    light = found.light
    vector = np.array([light.mass, light.x, light.y, light.z, 0.0, 0.0, 0.0])
    again, _ = predict(found.hull, vector, case.survey)
    boards = [0, 1, 2, 3, 4, 10, 11, 12, 13, 14]
    assert again[boards] == pytest.approx(
        found.fitted[boards], abs=2e-4
    )  # its sides lean a little less
    assert np.abs(found.residuals[boards]).max() < 0.02


def test_a_mirrored_survey_finds_the_mirrored_boat() -> None:
    case = drawn(np.random.default_rng(4), synthetic.dock(BOAT), BOAT)
    mirror = Survey(
        tuple(
            replace(
                condition,
                weights=tuple(replace(weight, y=-weight.y) for weight in condition.weights),
                freeboards=tuple(
                    replace(b, side="port" if b.side == "starboard" else "starboard")
                    for b in condition.freeboards
                ),
                heels=tuple(replace(h, angle=-h.angle, moment=-h.moment) for h in condition.heels),
            )
            for condition in case.survey.conditions
        )
    )
    one = fit(BOAT.hull, BOAT.light, case.survey)
    other = fit(BOAT.hull, BOAT.light, mirror)
    signs = np.array([1, 1, -1, 1, 1, 1, -1])
    assert other.unknowns * signs == pytest.approx(one.unknowns, rel=1e-6, abs=1e-7)
    assert other.sd == pytest.approx(one.sd, rel=1e-4)


def test_the_reading_that_does_not_fit_is_named() -> None:
    """A hand's breadth misread, wherever it is, in forty surveys; and hardly ever without cause."""
    rng = np.random.default_rng(5)
    named, false = 0, 0
    for number in range(40):
        case = drawn(rng, synthetic.dock(BOAT), BOAT)
        false += fit(BOAT.hull, BOAT.light, case.survey).suspect is not None
        wrong = (0, 1, 2, 3, 4, 10, 11, 12, 13, 14)[number % 10]
        values = case.survey.values
        values[wrong] += 0.08 if number % 2 else -0.08
        found = fit(BOAT.hull, BOAT.light, synthetic.with_values(case.survey, values))
        named += found.suspect == wrong
        assert len(found.survey.values) == len(values)  # named, not dropped
    print(f"\nnamed {named} of 40, without cause {false} of 40")  # noqa: T201  # the figure measured
    assert named >= 38
    assert false <= 6  # 5 % would be 2; more than 6 comes once in 200


def test_without_the_wrong_reading_the_truth_is_back() -> None:
    case = drawn(np.random.default_rng(6), synthetic.dock(BOAT), BOAT)
    values = case.survey.values
    values[2] += 0.1
    wrong = fit(BOAT.hull, BOAT.light, synthetic.with_values(case.survey, values))
    assert wrong.suspect == 2
    assert wrong.scatter > 1.0  # and meanwhile the bands say so
    right = fit(BOAT.hull, BOAT.light, wrong.survey.without(2))
    assert within(right, case.truth).all()
    assert right.scatter == 1.0


def test_what_freeboards_alone_cannot_tell_stays_as_uncertain_as_it_was() -> None:
    case = drawn(np.random.default_rng(7), synthetic.freeboards_once(BOAT), BOAT)
    found = fit(BOAT.hull, BOAT.light, case.survey)
    assert found.identified(Unknown.X)
    assert found.identified(Unknown.Y)
    for unknown in (Unknown.Z, Unknown.DEPTH, Unknown.BREADTH):
        assert not found.identified(unknown)
        assert found.sd[unknown] == pytest.approx(found.before_sd[unknown], rel=0.2)
    assert np.all(found.sd <= found.before_sd * (1 + 1e-9))


def test_two_known_loadings_tell_the_breadth() -> None:
    plan = synthetic.freeboards_once(BOAT)
    once = fit(BOAT.hull, BOAT.light, drawn(np.random.default_rng(8), plan, BOAT).survey)
    twice = fit(
        BOAT.hull, BOAT.light, drawn(np.random.default_rng(8), synthetic.dock(BOAT), BOAT).survey
    )
    assert twice.sd[Unknown.BREADTH] < 0.8 * once.sd[Unknown.BREADTH]
    assert twice.sd[Unknown.MASS] < once.sd[Unknown.MASS]


def test_a_weighbridge_settles_the_mass() -> None:
    survey = Survey(direct=(Direct(Unknown.MASS, 2500.0, 1.0),))
    found = fit(BOAT.hull, BOAT.light, survey)
    assert found.light.mass == pytest.approx(2500.0, abs=0.05)
    assert found.sd[Unknown.MASS] == pytest.approx(1.0, rel=1e-3)
    assert found.light.x == BOAT.light.x


def test_gain_is_what_the_measurement_then_brings() -> None:
    """The uncertainty foretold for a proposal is that of the fit once it has been measured."""
    case = drawn(np.random.default_rng(9), synthetic.dock(BOAT), BOAT)
    found = fit(BOAT.hull, BOAT.light, case.survey)
    offered = list(proposals(found, {"empty": case.survey.conditions[0]}))
    ranked = gains(found, offered)
    assert len(ranked) == len(offered)
    assert [gain.share for gain in ranked] == sorted((g.share for g in ranked), reverse=True)
    for gain in ranked:
        assert np.all(gain.then <= gain.now * (1 + 1e-9))
        exact, _ = predict(BOAT.hull, found.unknowns, gain.proposal.readings)
        read = synthetic.with_values(gain.proposal.readings, exact)
        more = Survey(case.survey.conditions + read.conditions, case.survey.direct + read.direct)
        after = fit(BOAT.hull, BOAT.light, more)
        assert gain.then == pytest.approx(WIDTH * after.sd, rel=0.02), gain.proposal.name


def test_known_compares_before_and_after() -> None:
    case = drawn(np.random.default_rng(10), synthetic.dock(BOAT), BOAT)
    table = {entry.unknown: entry for entry in known(fit(BOAT.hull, BOAT.light, case.survey))}
    assert set(table) == set(Unknown) - {Unknown.ZERO}
    mass = table[Unknown.MASS]
    assert mass.value_before == BOAT.light.mass
    assert mass.band < mass.band_before
    assert mass.found


def test_a_loading_that_sinks_her_is_an_error_that_says_so() -> None:
    survey = Survey(
        (Condition((Weight("anvil", 1e5, 3.0, 0.0, 0.5),), 998.0, (Freeboard(0.0, "port", 0.4),)),)
    )
    with pytest.raises(CalibrationError, match="sinks"):
        fit(BOAT.hull, BOAT.light, survey)


def test_readings_of_another_boat_are_refused() -> None:
    survey = Survey((Condition((synthetic.fuel(BOAT),), 998.0, (Freeboard(0.0, "port", 1.05),)),))
    with pytest.raises(CalibrationError, match="another boat"):
        fit(BOAT.hull, BOAT.light, replace(survey, direct=(Direct(Unknown.DEPTH, -0.2, 1e-3),)))


def test_two_readings_accuse_nobody() -> None:
    survey = Survey(
        (
            Condition(
                (synthetic.fuel(BOAT),),
                998.0,
                (Freeboard(0.0, "port", 0.9), Freeboard(0.0, "starboard", 0.4)),
                (),
            ),
        )
    )
    assert fit(BOAT.hull, BOAT.light, survey).suspect is None


def test_the_zero_of_the_instrument_is_found_when_the_weight_goes_both_ways() -> None:
    plan = Survey((Condition((synthetic.fuel(BOAT),), 998.0, synthetic.boards(BOAT),
                             (Heel(0.0, 150.0), Heel(0.0, -150.0))),))  # fmt: skip
    truth = synthetic.before(BOAT.light)
    truth[Unknown.ZERO] = math.radians(1.5)
    exact, _ = predict(BOAT.hull, truth, plan)
    found = fit(BOAT.hull, BOAT.light, synthetic.with_values(plan, exact))
    assert math.degrees(found.unknowns[Unknown.ZERO]) == pytest.approx(1.5, abs=0.1)
    assert found.light.y == pytest.approx(0.0, abs=2e-3)
