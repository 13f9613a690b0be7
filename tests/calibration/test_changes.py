"""Single changes on the water as evidence: simulated sessions on boats of known truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import norm

from service.calibration.log import FEATURES, NUMBERS, Changed, Context, Offsets, Ridden, learn
from service.calibration.regression import JUDGED, MISJUDGED
from tests.size import cases

PLATE = NUMBERS["off_side_plate"]
USUAL = Context(6.0, 1000.0, 80.0)
ADVISED = 50.0
STEP = 5.0


def session(
    rng: np.random.Generator, right: float, context: Context, rider: str, misjudged: float
) -> Ridden:
    """A run tuned from the advice towards ``right``: a step at a time, back where it was worse.

    Eyes are off by half a step, and some words are wrong altogether. The rating is by how far
    from right it ended; some runs get none.
    """
    at, changes = ADVISED, []
    for _ in range(int(rng.integers(1, 5))):
        toward = 1.0 if right + STEP / 2 * rng.standard_normal() > at else -1.0
        goal = at + STEP * toward
        middle = (at + goal) / 2
        helped = toward * (right + STEP / 2 * rng.standard_normal() - middle) > 0
        if rng.random() < misjudged:
            helped = not helped
        changes.append(Changed(PLATE.name, at, goal, bool(helped)))
        at = goal if helped else at
        if not helped:
            break
    off = abs(at - right)
    rating = int(5 - np.searchsorted([2.5, 5.0, 10.0, 20.0], off))
    return Ridden(
        context, {PLATE.name: ADVISED}, {PLATE.name: at}, rating if rng.random() < 0.7 else None,
        rider, changes=tuple(changes),
    )  # fmt: skip


def drawn(
    rng: np.random.Generator, count: int, misjudged: float = 0.05
) -> tuple[np.ndarray, list[Ridden]]:
    """A boat's coefficients as the prior has them, and sessions of three riders with her."""
    spread = PLATE.offset * np.array([1.0, *[0.5] * (len(FEATURES) - 1)])
    boat = spread * rng.standard_normal(len(FEATURES))
    own = PLATE.offset / 2.0 * rng.standard_normal(3)
    runs = []
    for _ in range(count):
        context = Context(
            float(rng.integers(2, 12)), float(rng.uniform(0, 1600)), float(rng.uniform(45, 110))
        )
        rider = int(rng.integers(3))
        right = ADVISED + float(context.features @ boat) + own[rider]
        right += 0.8 * PLATE.scatter * float(rng.standard_normal())
        runs.append(session(rng, right, context, f"rider-{rider}", misjudged))
    return boat, runs


@pytest.mark.parametrize("count", [5, 14, 50])
def test_planted_truth_lies_in_the_stated_interval(count: int) -> None:
    """Over many boats whose every run was tuned, some of it by wrong words."""
    rng = np.random.default_rng(count)
    hits, error, without = [], [], []
    for _ in range(cases(200, 600)):
        boat, runs = drawn(rng, count)
        truth = float(USUAL.features @ boat)
        offsets = learn(runs, PLATE)
        assert offsets is not None
        value, band = offsets.boat(USUAL)
        hits.append(abs(value - truth) <= band)
        error.append(value - truth)
        bare = learn([replace(run, changes=()) for run in runs], PLATE)
        without.append((bare.boat(USUAL)[0] if bare else 0.0) - truth)
    share = float(np.mean(hits))
    rms, rms_without = (float(np.sqrt(np.mean(np.square(e)))) for e in (error, without))
    print(f"\n{count} runs: {share:.1%} in 95 %; rms {rms:.2f}, without changes {rms_without:.2f}")  # noqa: T201  # the figure measured
    assert 0.93 <= share <= 0.99
    assert rms < rms_without


def changed(*steps: tuple[float, float, bool], rating: int | None = None) -> Ridden:
    changes = tuple(Changed(PLATE.name, *step) for step in steps)
    return Ridden(USUAL, {PLATE.name: ADVISED}, {}, rating, "ana", changes=changes)


def found(*runs: Ridden) -> Offsets:
    offsets = learn(runs, PLATE)
    assert offsets is not None
    return offsets


def test_a_change_that_helped_pulls_its_way_and_one_that_did_not_the_other() -> None:
    for step, sign in (
        ((50.0, 60.0, True), 1), ((50.0, 60.0, False), -1),
        ((50.0, 40.0, True), -1), ((50.0, 40.0, False), 1),
    ):  # fmt: skip
        value, band = found(changed(step)).boat(USUAL)
        assert sign * value > 0.2
        assert band > abs(value)  # one word says which way, not how far


def test_a_change_says_less_than_a_run_of_five_stars() -> None:
    stars = Ridden(USUAL, {PLATE.name: ADVISED}, {PLATE.name: 60.0}, 5, "ana")
    tuned = changed((55.0, 65.0, True))
    full, weak = found(*[stars] * 6), found(*[tuned] * 6)
    assert full.weight == pytest.approx(6.0)
    assert weak.weight < 3.0
    assert weak.boat(USUAL)[1] > full.boat(USUAL)[1]
    assert weak.runs == 6
    assert weak.changes == 6


def test_of_a_run_of_five_stars_the_final_settings_count_alone() -> None:
    stars = Ridden(USUAL, {PLATE.name: ADVISED}, {PLATE.name: 60.0}, 5, "ana")
    tuned = replace(stars, changes=(Changed(PLATE.name, 50.0, 60.0, True),))
    assert found(tuned).boat(USUAL) == found(stars).boat(USUAL)


def test_many_changes_of_one_run_count_once() -> None:
    """The nearest on each side; a run of ten steps is still one occasion."""
    run = changed((50.0, 55.0, True), (55.0, 60.0, True), (60.0, 65.0, True), (65.0, 70.0, False))
    assert sorted(run.sides(PLATE.name)) == [(12.5, 1.0), (17.5, -1.0)]
    assert found(run).weight < 0.5


def test_wrong_words_are_outvoted() -> None:
    good = [changed((50.0, 60.0, True), (60.0, 70.0, False)) for _ in range(12)]
    before, band = found(*good).boat(USUAL)
    after, _ = found(*good, changed((0.0, 10.0, False))).boat(USUAL)
    assert abs(after - before) < 0.5 < band


def test_it_is_the_mode_and_the_curvature_of_what_it_says() -> None:
    """Against a general-purpose minimiser on the log-posterior written out (scipy)."""
    rng = np.random.default_rng(7)
    runs = []
    for _ in range(25):
        start = float(rng.uniform(35.0, 75.0))
        context = Context(
            float(rng.integers(2, 12)), float(rng.uniform(0, 1600)), float(rng.uniform(45, 110))
        )
        step = (start, start + 5.0, bool(start + 2.5 < 60.0 + 8.0 * rng.standard_normal()))
        runs.append(replace(changed(step), context=context))
    offsets = found(*runs)
    x = np.array([np.append(run.context.features, 1.0) for run in runs])  # the last: the rider
    sides = [run.sides(PLATE.name)[0] for run in runs]
    middles, above = np.array(sides).T
    prior = PLATE.offset * np.array([1.0, 0.5, 0.5, 0.5, 0.5])
    judged = JUDGED * PLATE.scatter

    def off(beta: np.ndarray) -> float:
        likely = MISJUDGED + (1 - 2 * MISJUDGED) * norm.cdf(above * (x @ beta - middles) / judged)
        return float(0.5 * np.sum((beta / prior) ** 2) - np.sum(np.log(likely)))

    mode = minimize(off, np.zeros(5), method="BFGS", options={"gtol": 1e-6}).x
    ours = np.append(offsets.coefficients, offsets.riders["ana"][1])
    assert ours == pytest.approx(mode, abs=0.02)
    steps = 0.05 * np.eye(5)
    curvature = [
        [
            (off(mode + a + b) - off(mode + a - b) - off(mode - a + b) + off(mode - a - b)) / 0.01
            for b in steps
        ]
        for a in steps
    ]
    errors = np.sqrt(np.diag(np.linalg.inv(curvature)))
    found_errors = np.append(np.sqrt(np.diag(offsets.covariance)), offsets.riders["ana"][2])
    assert found_errors == pytest.approx(errors, rel=0.05)
