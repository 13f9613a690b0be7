"""Properties that hold for every hull and load, and derivatives against differences."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.hydrostatics.equilibrium import Floating, Status, equilibrium, response
from service.hydrostatics.hull import Hull
from service.hydrostatics.immersion import Energy, Pull, energy, immersed
from service.hydrostatics.stability import (
    freeboards,
    righting_arms,
    sheer_immersion_angle,
    upright,
)
from service.hydrostatics.weights import Loading, Weight, combine
from tests.hydrostatics.hulls import (
    FRESH,
    SEVEN_METRES,
    random_load,
    random_particulars,
    random_stations,
)
from tests.size import cases

Array = NDArray[np.float64]
DRAWS = st.integers(0, 100_000)
FINITE = st.floats(allow_nan=False, allow_infinity=False)


def drawn(draw: int) -> tuple[np.random.Generator, Hull, Loading]:
    rng = np.random.default_rng(draw)
    hull = (random_particulars if draw % 2 else random_stations)(rng)
    return rng, hull, random_load(rng, hull)


def state(floating: Floating) -> Array:
    assert floating.sinkage is not None
    assert floating.trim is not None
    assert floating.heel is not None
    return np.array([floating.sinkage, floating.trim, floating.heel])


def up(trim: float, heel: float) -> Array:
    ct = math.cos(trim)
    return np.array([math.sin(trim), ct * math.sin(heel), ct * math.cos(heel)])


def floats(floating: Floating) -> bool:
    return floating.status is Status.FLOATS and floating.gm is not None and floating.gm > 0.05


def added(load: Loading, mass: float, x: float, y: float, z: float) -> Loading:
    aboard = Weight("aboard", load.mass, load.x, load.y, load.z, load.free_surface)
    return combine([aboard, Weight("added", mass, x, y, z)])


@given(DRAWS)
@settings(max_examples=100, deadline=None)
def test_the_mirrored_load_gets_exactly_the_mirrored_answer(draw: int) -> None:
    _, hull, load = drawn(draw)
    one = equilibrium(hull, load, FRESH)
    other = equilibrium(hull, replace(load, y=-load.y), FRESH)
    assert other.status is one.status
    assume(one.heel is not None)
    assert state(other).tolist() == (state(one) * (1.0, 1.0, -1.0)).tolist()
    assert one.hessian is not None
    assert other.hessian is not None
    mirror = np.array([1.0, 1.0, -1.0])
    assert np.array_equal(other.hessian, one.hessian * mirror[:, None] * mirror)
    boards, mirrored = freeboards(hull, one), freeboards(hull, other)
    assert (mirrored.port, mirrored.starboard) == (boards.starboard, boards.port)
    assert (mirrored.bow, mirrored.stern, mirrored.least) == (
        boards.bow,
        boards.stern,
        boards.least,
    )


@given(DRAWS, st.lists(st.floats(0.0, math.radians(85.0)), min_size=1, max_size=5))
@settings(max_examples=40, deadline=None)
def test_righting_arms_are_odd_in_the_angle(draw: int, angles: list[float]) -> None:
    _, hull, load = drawn(draw)
    amidships = replace(load, y=0.0)
    heels = np.array(angles)
    to_starboard = righting_arms(hull, amidships, FRESH, heels).tolist()
    to_port = righting_arms(hull, amidships, FRESH, -heels).tolist()
    assert to_port == [None if gz is None else -gz for gz in to_starboard]


@given(DRAWS)
@settings(max_examples=60, deadline=None)
def test_an_added_mass_goes_down(draw: int) -> None:
    rng, hull, load = drawn(draw)
    at = np.array([rng.uniform(0.0, hull.length), rng.uniform(-1.0, 1.0), rng.uniform(0.2, 1.0)])
    before = equilibrium(hull, load, FRESH)
    after = equilibrium(hull, added(load, 60.0, *at), FRESH)
    assume(floats(before) and floats(after))
    assert before.volume is not None
    assert after.volume is not None
    assert after.volume > before.volume
    depth = [c - up(trim, heel) @ at for c, trim, heel in (state(before), state(after))]
    assert depth[1] > depth[0]


@given(DRAWS, st.floats(0.001, 0.1))
@settings(max_examples=60, deadline=None)
def test_a_mass_moved_to_port_heels_her_to_port(draw: int, moved: float) -> None:
    _, hull, load = drawn(draw)
    before = equilibrium(hull, load, FRESH)
    after = equilibrium(hull, replace(load, y=load.y + moved), FRESH)
    assume(floats(before) and floats(after))
    assert state(after)[2] < state(before)[2]


@given(DRAWS)
@settings(max_examples=20, deadline=None)
def test_she_is_at_rest_by_brute_force(draw: int) -> None:
    _, hull, load = drawn(draw)
    floating = equilibrium(hull, load, FRESH)
    assume(floating.heel is not None)
    c, trim, heel = state(floating)
    volume, moment = brute_force(hull, c, up(trim, heel))
    assert math.isclose(volume * FRESH, load.mass, rel_tol=1e-4)
    away = moment / volume - (load.x, load.y, load.z)
    level = away - (away @ up(trim, heel)) * up(trim, heel)
    assert np.abs(level).max() < 2e-4
    assert floating.centre_of_buoyancy is not None
    assert np.allclose(moment / volume, floating.centre_of_buoyancy, atol=2e-4)


def brute_force(hull: Hull, c: float, n: Array, slices: int = 400) -> tuple[float, Array]:
    """Volume and first moment below the water, slice by slice with shapely."""
    volume, moment = 0.0, np.zeros(3)
    for (x0, aft), (x1, forward) in zip(hull.stations[:-1], hull.stations[1:], strict=True):
        count = max(4, round(slices * (x1 - x0) / hull.length))
        pair = _resampled(aft, forward)
        for t in (np.arange(count) + 0.5) / count:
            half = pair[0] + t * (pair[1] - pair[0])
            x, thick = x0 + t * (x1 - x0), (x1 - x0) / count
            section = shapely.Polygon(np.vstack((half, half[::-1] * (-1.0, 1.0)))).buffer(0.0)
            wet = section.intersection(_below((c - n[0] * x), n[1], n[2]))
            if not wet.is_empty and wet.area > 0.0:
                volume += wet.area * thick
                moment += wet.area * thick * np.array([x, wet.centroid.x, wet.centroid.y])
    return volume, moment


def _below(level: float, n_y: float, n_z: float) -> shapely.Polygon:
    """The half plane n_y y + n_z z < level, as a large rectangle."""
    size = math.hypot(n_y, n_z)
    normal = np.array([n_y, n_z]) / size
    along = np.array([normal[1], -normal[0]]) * 50.0
    on = normal * level / size
    return shapely.Polygon(
        [on + along, on - along, on - along - 50.0 * normal, on + along - 50.0 * normal]
    )


def _resampled(aft: Array, forward: Array) -> tuple[Array, Array]:
    if len(aft) == len(forward):
        return aft, forward
    lines = shapely.LineString(aft), shapely.LineString(forward)
    places = sorted(
        {
            round(line.project(shapely.Point(p), normalized=True), 12)
            for line in lines
            for p in line.coords
        }
    )
    one, other = (
        np.array([line.interpolate(s, normalized=True).coords[0] for s in places]) for line in lines
    )
    return one, other


def _energy(hull: Hull, pull: Pull, q: Array) -> Energy[float]:
    c, trim, heel = q.tolist()
    turned = (c, math.sin(trim), math.cos(trim), math.sin(heel), math.cos(heel))
    return energy(immersed(hull, *turned).tolist(), pull, pull.y, *turned)


@given(DRAWS)
@settings(max_examples=60, deadline=None)
def test_gradient_and_hessian_against_differences(draw: int) -> None:
    rng, hull, load = drawn(draw)
    pull = Pull(load.mass / FRESH, load.x, load.y, load.z, 0.1)
    q = np.array([rng.uniform(0.2, 1.0), rng.uniform(-0.2, 0.2), rng.uniform(-0.9, 0.9)])
    at = _energy(hull, pull, q)
    gradient = np.array([at.g_c, at.g_t, at.g_f])
    hessian = np.array(
        [[at.h_cc, at.h_ct, at.h_cf], [at.h_ct, at.h_tt, at.h_tf], [at.h_cf, at.h_tf, at.h_ff]]
    )
    step = 1e-6
    scale = hull.volume * hull.length**2
    for k in range(3):
        ahead, behind = (_energy(hull, pull, q + s * step * np.eye(3)[k]) for s in (1.0, -1.0))
        slope = (ahead.value - behind.value) / (2.0 * step)
        assert math.isclose(slope, gradient[k], rel_tol=1e-6, abs_tol=1e-8 * scale)
        rows = [np.array([e.g_c, e.g_t, e.g_f]) for e in (ahead, behind)]
        assert np.allclose(
            (rows[0] - rows[1]) / (2.0 * step), hessian[k], rtol=1e-4, atol=1e-6 * scale
        )


@given(DRAWS)
@settings(max_examples=60, deadline=None)
def test_the_response_to_a_small_mass_against_differences(draw: int) -> None:
    rng, hull, load = drawn(draw)
    floating = equilibrium(hull, load, FRESH)
    assume(floats(floating))
    at = np.array([rng.uniform(0.0, hull.length), rng.uniform(-1.0, 1.0), rng.uniform(0.2, 1.0)])
    ahead, behind = (equilibrium(hull, added(load, m, *at), FRESH) for m in (0.1, -0.1))
    measured = (state(ahead) - state(behind)) / 0.2
    found = np.array(response(floating, 1.0, *at))
    # 1 % of the largest effect a kilogram has at that place, angles counted over the length.
    weights = np.array([1.0, hull.length, hull.length])
    assert np.abs((found - measured) * weights).max() < 0.01 * np.abs(measured * weights).max()


def test_the_response_takes_arrays_and_moves_and_free_surfaces() -> None:
    load = Loading(3500.0, 2.65, -0.08, 0.75, free_surface=100.0)
    floating = equilibrium(SEVEN_METRES, load, FRESH)
    x, y, z = np.array([1.0, 3.0, 5.0]), np.array([0.8, -0.8, 0.0]), 0.7
    many = np.array(response(floating, 75.0, x, y, z))
    assert many.shape == (3, 3)
    for k in range(3):
        one = np.array(response(floating, 75.0, x[k], y[k], z))
        assert np.allclose(many[:, k], one, rtol=1e-12)
    # 75 kg across the boat: first order within 3 % of the whole step.
    across = many[:, 0] - np.array(response(floating, 75.0, 1.0, -0.8, z))
    before = equilibrium(SEVEN_METRES, added(load, 75.0, 1.0, -0.8, z), FRESH)
    after = equilibrium(SEVEN_METRES, added(load, 75.0, 1.0, 0.8, z), FRESH)
    step = (state(after) - state(before))[2]
    assert math.isclose(across[2], step, rel_tol=0.03)
    slack = np.array(response(floating, 0.0, 0.0, 0.0, 0.0, dfree_surface=1.0))
    more = equilibrium(SEVEN_METRES, replace(load, free_surface=101.0), FRESH)
    assert np.allclose(slack, state(more) - state(floating), rtol=0.01, atol=1e-9)


@given(
    st.floats(min_value=0.0, exclude_min=True, allow_infinity=False),
    FINITE,
    FINITE,
    FINITE,
    st.floats(min_value=0.0, allow_infinity=False),
)
@settings(max_examples=cases(40, 150), deadline=None)
def test_no_finite_load_is_too_wild(mass: float, x: float, y: float, z: float, fs: float) -> None:
    check_sane(Loading(mass, x, y, z, fs))


PLAUSIBLE = st.floats(-12.0, 12.0)


@given(st.floats(1e-3, 2e4), PLAUSIBLE, PLAUSIBLE, PLAUSIBLE, st.floats(0.0, 1e4))
@settings(max_examples=cases(40, 150), deadline=None)
def test_no_misplaced_load_is_too_wild(
    mass: float, x: float, y: float, z: float, fs: float
) -> None:
    check_sane(Loading(mass, x, y, z, fs))


def check_sane(load: Loading) -> None:
    floating = equilibrium(SEVEN_METRES, load, FRESH)
    at_rest = floating.status not in (Status.SINKS, Status.CAPSIZES)
    assert (floating.heel is not None) == at_rest
    if at_rest:
        assert np.isfinite(state(floating)).all()
        assert floating.hessian is not None
        assert np.isfinite(floating.hessian).all()
        assert floating.gm is not None
        assert math.isfinite(floating.gm)
        least = freeboards(SEVEN_METRES, floating).least
        assert (least < 0.0) == (floating.status is Status.SWAMPS) or abs(least) < 1e-8
    found = upright(SEVEN_METRES, load, FRESH)
    if found is not None:
        assert math.isfinite(found.gm_fluid)
        assert math.isfinite(found.moment_to_change_trim)
    arms = righting_arms(SEVEN_METRES, load, FRESH, np.radians([-30.0, 0.0, 10.0, 90.0]))
    assert all(gz is None or math.isfinite(gz) for gz in arms.tolist())
    angle = sheer_immersion_angle(SEVEN_METRES, load, FRESH)
    assert angle is None or 0.0 <= angle <= math.pi / 2.0
