from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.hydrostatics.weights import Loading, Weight, ballast_water, combine

SIZES = st.floats(-10.0, 10.0)
WEIGHTS = st.builds(
    Weight, st.just("w"), st.floats(1.0, 500.0), SIZES, SIZES, SIZES, st.floats(0.0, 100.0)
)


def tank(fill: float, length: float = 1.0, width: float = 0.5) -> Weight:
    return ballast_water(0.4, 1.0, -0.6, 0.5, length, width, fill, 1000.0, "side")


def test_a_listing_moment() -> None:
    # Ship Stability for Masters and Mates, p. 117: 300 t·m at 8500 t gives GG₁ 0.035 m.
    ship = Weight("ship", 8470.0, 0.0, 0.0, 0.0)
    found = combine([ship, Weight("cargo", 30.0, 0.0, 10.0, 0.0)])
    assert found.mass == 8500.0
    assert found.y == pytest.approx(0.035, abs=5e-4)
    assert found.y == pytest.approx(300.0 / 8500.0, rel=1e-12)


@given(st.lists(WEIGHTS, min_size=1, max_size=12), st.randoms(use_true_random=False))
def test_the_order_of_weights_makes_no_difference(weights: list[Weight], random: Random) -> None:
    shuffled = weights.copy()
    random.shuffle(shuffled)
    assert combine(shuffled) == combine(weights)


@given(st.lists(WEIGHTS, min_size=1, max_size=12))
def test_first_moments_add_up(weights: list[Weight]) -> None:
    total = combine(weights)
    for axis in ("x", "y", "z"):
        moment = sum(weight.mass * getattr(weight, axis) for weight in weights)
        assert total.mass * getattr(total, axis) == pytest.approx(moment, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("weights", [[], [Weight("nothing", 0.0, 0.0, 0.0, 0.0)]])
def test_nothing_aboard_is_refused(weights: list[Weight]) -> None:
    with pytest.raises(ValueError, match="more than 0 kg"):
        combine(weights)


@pytest.mark.parametrize("mass", [0.0, -5.0])
def test_a_mass_that_is_not_positive_is_refused(mass: float) -> None:
    with pytest.raises(ValueError, match="more than 0 kg"):
        Loading(mass, 0.0, 0.0, 0.0)


def test_numbers_that_are_not_finite_are_refused() -> None:
    with pytest.raises(ValueError, match="not finite"):
        Loading(100.0, math.nan, 0.0, 0.0)
    with pytest.raises(ValueError, match="cannot be negative"):
        Loading(100.0, 0.0, 0.0, 0.0, -1.0)
    with pytest.raises(ValueError, match="Tank side"):
        tank(-0.1)


def test_a_full_tank_has_its_centre_and_no_free_surface() -> None:
    assert tank(1.0) == Weight("side", 400.0, 1.0, -0.6, 0.5)


def test_a_half_full_tank() -> None:
    # A box of 1.0 × 0.5 m, so 0.8 m high: half full its water is centred 0.2 m above the floor,
    # the floor 0.4 m under the tank's centre. i = l b³/12 = 1.0 · 0.125 / 12.
    found = tank(0.5)
    assert found.mass == pytest.approx(200.0)
    assert found.z == pytest.approx(0.5 - 0.4 + 0.2)
    assert found.free_surface == pytest.approx(1000.0 * 0.125 / 12.0)


def test_an_empty_tank_weighs_nothing() -> None:
    assert tank(0.0).mass == 0.0
    assert tank(0.0).free_surface == 0.0


def test_an_overfilled_tank_grows_about_its_centre() -> None:
    assert tank(1.25) == Weight("side", 500.0, 1.0, -0.6, 0.5)


@pytest.mark.parametrize(("length", "width"), [(0.0, 0.5), (1.0, 0.0)])
def test_a_tank_of_unknown_size_keeps_its_centre(length: float, width: float) -> None:
    assert tank(0.5, length, width) == Weight("side", 200.0, 1.0, -0.6, 0.5)
