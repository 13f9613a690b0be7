"""What becomes of a boat that is loaded wrongly: every answer is reached."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from service.hydrostatics.equilibrium import Floating, Status, equilibrium, response
from service.hydrostatics.stability import (
    draft,
    freeboard_at,
    freeboards,
    righting_arms,
    sheer_immersion_angle,
    upright,
)
from service.hydrostatics.weights import Loading
from tests.hydrostatics.hulls import BOX, FRESH, SEVEN_METRES

FULL = FRESH * SEVEN_METRES.volume


def load(mass: float = 3500.0, x: float = 2.65, y: float = 0.0, z: float = 0.75) -> Loading:
    return Loading(mass, x, y, z)


def nothing_else(floating: Floating) -> bool:
    fields = ("sinkage", "trim", "heel", "volume", "centre_of_buoyancy", "gm", "hessian")
    return all(getattr(floating, field) is None for field in fields)


def test_more_than_she_carries_sinks() -> None:
    sunk = load(FULL * 1.001)
    floating = equilibrium(SEVEN_METRES, sunk, FRESH)
    assert floating.status is Status.SINKS
    assert nothing_else(floating)
    assert upright(SEVEN_METRES, sunk, FRESH) is None
    assert righting_arms(SEVEN_METRES, sunk, FRESH, [0.1, 0.2]).tolist() == [None, None]
    assert sheer_immersion_angle(SEVEN_METRES, sunk, FRESH) is None


def test_nearly_that_much_swamps() -> None:
    floating = equilibrium(SEVEN_METRES, load(FULL * 0.97, x=2.8, z=0.4), FRESH)
    assert floating.status is Status.SWAMPS
    assert freeboards(SEVEN_METRES, floating).least < 0.0


def test_too_much_on_one_side_swamps() -> None:
    floating = equilibrium(SEVEN_METRES, load(4500.0, y=0.35), FRESH)
    assert floating.status is Status.SWAMPS
    assert floating.heel is not None
    assert floating.heel < 0.0
    assert freeboard_at(SEVEN_METRES, floating, 0.0, "port") < 0.0
    assert freeboard_at(SEVEN_METRES, floating, 0.0, "starboard") > 0.0


def test_too_high_a_weight_lolls_to_starboard_unless_it_is_to_port() -> None:
    high = load(6000.0, x=2.8, z=1.25)
    found = upright(SEVEN_METRES, high, FRESH)
    assert found is not None
    assert found.gm_fluid < 0.0
    lolling = equilibrium(SEVEN_METRES, high, FRESH)
    assert lolling.status is Status.LOLLS
    assert lolling.heel is not None
    assert lolling.gm is not None
    assert lolling.heel > math.radians(0.5)
    assert lolling.gm > 0.0
    to_port = equilibrium(SEVEN_METRES, load(6000.0, x=2.8, y=0.001, z=1.25), FRESH)
    assert to_port.status is Status.LOLLS
    assert to_port.heel is not None
    assert to_port.heel < -lolling.heel


def test_the_curve_crosses_zero_at_the_angle_of_loll() -> None:
    high = load(6000.0, x=2.8, z=1.25)
    heel = equilibrium(SEVEN_METRES, high, FRESH).heel
    assert heel is not None
    short, at, beyond = righting_arms(
        SEVEN_METRES, high, FRESH, [heel * 0.9, heel, heel * 1.1]
    ).tolist()
    assert short < 0.0 < beyond
    assert at == pytest.approx(0.0, abs=1e-9)


def test_free_surfaces_alone_can_make_her_loll() -> None:
    stiff = equilibrium(BOX, Loading(7200.0, 3.0, 0.0, 0.8), FRESH)
    slack = equilibrium(BOX, Loading(7200.0, 3.0, 0.0, 0.8, free_surface=0.45 * 7200.0), FRESH)
    assert (stiff.status, slack.status) == (Status.FLOATS, Status.LOLLS)


@pytest.mark.parametrize("y", [0.0, 0.3, -0.3])
def test_far_too_high_a_weight_capsizes(y: float) -> None:
    floating = equilibrium(SEVEN_METRES, load(z=2.2, y=y), FRESH)
    assert floating.status is Status.CAPSIZES
    assert nothing_else(floating)


@pytest.mark.parametrize("x", [-30.0, 40.0])
def test_a_weight_beyond_the_ends_finds_no_rest(x: float) -> None:
    assert equilibrium(SEVEN_METRES, load(x=x), FRESH).status is Status.CAPSIZES


def test_a_boat_with_no_rest_has_no_freeboard_and_no_response() -> None:
    floating = equilibrium(SEVEN_METRES, load(z=2.2), FRESH)
    with pytest.raises(ValueError, match="no equilibrium"):
        freeboards(SEVEN_METRES, floating)
    with pytest.raises(ValueError, match="no equilibrium"):
        draft(SEVEN_METRES, floating)
    with pytest.raises(ValueError, match="no equilibrium"):
        response(floating, 1.0, 0.0, 0.0, 0.0)


def test_freeboard_at_a_point() -> None:
    floating = equilibrium(SEVEN_METRES, load(y=0.05), FRESH)
    found = freeboards(SEVEN_METRES, floating)
    assert freeboard_at(SEVEN_METRES, floating, 3.5, "port") == found.port
    assert freeboard_at(SEVEN_METRES, floating, 3.5, "starboard") == found.starboard
    assert freeboard_at(SEVEN_METRES, floating, 0.0, "port") == found.stern
    with pytest.raises(ValueError, match="outside"):
        freeboard_at(SEVEN_METRES, floating, 7.5, "port")


@pytest.mark.parametrize("density", [0.0, -1.0, math.nan, math.inf])
def test_a_density_that_is_not_positive_is_refused(density: float) -> None:
    with pytest.raises(ValueError, match="density"):
        equilibrium(SEVEN_METRES, load(), density)


def test_angles_beyond_upside_down_are_refused() -> None:
    with pytest.raises(ValueError, match="between -180 and 180"):
        righting_arms(SEVEN_METRES, load(), FRESH, [4.0])
    arms = righting_arms(SEVEN_METRES, load(), FRESH, [math.pi, 1.5]).tolist()
    assert all(math.isfinite(gz) for gz in arms)


def test_the_sheer_goes_under_at_the_angle_found() -> None:
    def least(y: float) -> float:
        return freeboards(SEVEN_METRES, equilibrium(SEVEN_METRES, load(y=y), FRESH)).least

    # The weight so far off centre that the boat comes to rest with her sheer just at the water.
    off = brentq(least, -0.1, -0.4, xtol=1e-12)
    heeled = equilibrium(SEVEN_METRES, load(y=off), FRESH)
    angle = sheer_immersion_angle(SEVEN_METRES, load(y=off), FRESH)
    assert angle is not None
    assert angle == pytest.approx(heeled.heel, abs=1e-7)
    arms = righting_arms(SEVEN_METRES, load(y=off), FRESH, [angle])
    assert arms[0] == pytest.approx(0.0, abs=1e-7)
    assert sheer_immersion_angle(SEVEN_METRES, load(FULL * 0.97, x=2.8, z=0.4), FRESH) == 0.0
