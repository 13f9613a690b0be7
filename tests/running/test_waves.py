"""Waves and depth against published angles and computed lengths."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import g
from scipy.optimize import brentq

from service.running import waves

SPEEDS = st.floats(0.1, 30)
DEPTHS = st.floats(0.3, 500)


def test_kelvin_half_angle_is_that_of_the_nist_handbook() -> None:
    # NIST Digital Library of Mathematical Functions, 36.13: arcsin(1/3) = 19.4712...°
    assert math.degrees(waves.KELVIN_HALF_ANGLE) == pytest.approx(19.4712, abs=5e-5)


def test_cusp_waves_are_those_of_havelock() -> None:
    # US Army Corps EM 1110-2-1100, Part II ch. 7, after Havelock 1908: 35°16', 0.816 V, ⅔
    assert math.degrees(waves.CUSP_PROPAGATION_ANGLE) == pytest.approx(35 + 16 / 60, abs=0.01)
    assert pytest.approx(0.816, abs=0.0006) == waves.CUSP_CELERITY_RATIO
    ratio = waves.cusp_wavelength(5.0) / waves.transverse_wavelength(5.0)
    assert float(ratio) == pytest.approx(2 / 3, rel=1e-12)


@pytest.mark.parametrize(("speed", "length"), [(4.5, 12.97), (5.0, 16.02), (5.5, 19.38)])
def test_deep_transverse_wavelength(speed: float, length: float) -> None:
    # 2πV²/g, computed by hand
    assert float(waves.transverse_wavelength(speed)) == pytest.approx(length, abs=0.006)


@pytest.mark.parametrize(("depth", "factor"), [(4.6, 1.07), (3.05, 1.53)])
def test_depth_lengthens_the_transverse_wave(depth: float, factor: float) -> None:
    # V² = (g/k) tanh kh at 5.0 m/s, computed by a second method
    ratio = waves.transverse_wavelength(5.0, depth) / waves.transverse_wavelength(5.0)
    assert float(ratio) == pytest.approx(factor, abs=0.006)


def test_transverse_wave_nearly_doubles_close_to_critical() -> None:
    # L. Lazauskas, "Wake images: finite depth effects" (cyberiad.net/wakefd.htm): at a depth
    # Froude number of 0.95 the transverse waves are almost twice as long as in deep water
    speed = 0.95 * math.sqrt(g * 10)
    ratio = waves.transverse_wavelength(speed, 10) / waves.transverse_wavelength(speed)
    assert float(ratio) == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize(
    ("depth", "froude"), [(3.05, 0.91), (4.6, 0.74), (6.1, 0.65), (10.0, 0.50)]
)
def test_depth_froude_number_at_five_metres_a_second(depth: float, froude: float) -> None:
    # V/√(gh), computed by hand
    assert float(waves.depth_froude(5.0, depth)) == pytest.approx(froude, abs=0.006)


@pytest.mark.parametrize(
    ("froude", "expected"),
    [(0.0, "deep"), (0.69, "deep"), (0.7, "transcritical"), (0.99, "transcritical"),
     (1.0, "shallow"), (3.0, "shallow")],
)  # fmt: skip
def test_regimes_change_at_the_published_bounds(froude: float, expected: str) -> None:
    # EM 1110-2-1100: deep-water pattern below about 0.7, transcritical 0.7 to 1.0
    assert waves.regime(froude) == expected


@given(speed=SPEEDS, depth=DEPTHS)
def test_finite_depth_satisfies_the_dispersion_relation(speed: float, depth: float) -> None:
    length = float(waves.transverse_wavelength(speed, depth))
    if waves.depth_froude(speed, depth) >= 1:
        assert math.isnan(length)
        return
    k = 2 * math.pi / length
    assert g / k * math.tanh(k * depth) == pytest.approx(speed**2, rel=1e-9)
    assert length >= float(waves.transverse_wavelength(speed)) * (1 - 1e-12)


@pytest.mark.parametrize("froude", [0.05, 0.2, 0.5, 0.9, 0.99, 0.9999, 0.9999999])
def test_finite_depth_agrees_with_a_bracketed_root(froude: float) -> None:
    # an independent solver: scipy's brentq on tanh(x)/x = F²
    depth = 4.0
    x = brentq(lambda x: math.tanh(x) / x - froude**2, 1e-5, 1e4, xtol=1e-14, rtol=1e-14)
    length = float(waves.transverse_wavelength(froude * math.sqrt(g * depth), depth))
    assert length == pytest.approx(2 * math.pi * depth / x, rel=1e-6)


@given(depth=DEPTHS, low=st.floats(0.05, 0.98), step=st.floats(1e-4, 0.01))
def test_faster_is_longer_at_any_depth(depth: float, low: float, step: float) -> None:
    speeds = np.array([low, low + step]) * math.sqrt(g * depth)
    first, second = waves.transverse_wavelength(speeds, depth)
    assert first < second


@given(speed=SPEEDS, froude=st.floats(0.25, 0.95))
def test_shallower_is_longer(speed: float, froude: float) -> None:
    depth = (speed / froude) ** 2 / g
    assert waves.transverse_wavelength(speed, depth) > waves.transverse_wavelength(
        speed, depth * 1.1
    )


def test_arrays_broadcast_and_mix_regimes() -> None:
    lengths = waves.transverse_wavelength(np.array([[3.0], [6.0]]), np.array([2.0, 3.0, 50.0]))
    assert lengths.shape == (2, 3)
    assert np.isnan(lengths[1, :2]).all()
    assert np.isfinite(lengths[0]).all()
    assert waves.transverse_wavelength(0.0, 3.0) == 0


def test_cusp_height_falls_with_the_cube_root_of_distance() -> None:
    # Havelock 1908: y^(-1/3), so eight times the distance is half the height
    assert float(waves.relative_cusp_height(160, 20, 16)) == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize(("distance", "reference"), [(15.9, 20), (20, 15.9), (math.nan, 20)])
def test_cusp_height_is_refused_within_one_wavelength(distance: float, reference: float) -> None:
    with pytest.raises(ValueError, match="one wavelength"):
        waves.relative_cusp_height(distance, reference, 16)


@given(wavelength=st.floats(1, 100), near=st.floats(1, 10), further=st.floats(1.01, 10))
def test_cusp_height_falls_outwards(wavelength: float, near: float, further: float) -> None:
    y = near * wavelength
    assert waves.relative_cusp_height(y * further, y, wavelength) < 1


@pytest.mark.parametrize("speed", [-1.0, math.nan, math.inf])
def test_impossible_speeds_are_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="speed"):
        waves.transverse_wavelength(speed)


@pytest.mark.parametrize("depth", [0.0, -2.0, math.nan, math.inf])
def test_impossible_depths_are_refused(depth: float) -> None:
    with pytest.raises(ValueError, match="depth"):
        waves.transverse_wavelength(5.0, depth)


def test_other_impossible_values_are_refused() -> None:
    with pytest.raises(ValueError, match="Froude"):
        waves.regime(math.nan)
    with pytest.raises(ValueError, match="wavelength"):
        waves.relative_cusp_height(20, 20, 0)


def test_pattern_says_none_where_a_wave_or_a_depth_is_not_there() -> None:
    unknown, deep = waves.wave_pattern(5.0), waves.wave_pattern(5.0, 10.0)
    middle, shallow = waves.wave_pattern(5.0, 3.05), waves.wave_pattern(5.0, 2.0)
    assert (unknown.depth_froude, unknown.regime) == (None, None)
    assert unknown.transverse_wavelength == pytest.approx(16.02, abs=0.006)
    assert (deep.regime, middle.regime, shallow.regime) == ("deep", "transcritical", "shallow")
    assert deep.cusp_wavelength == unknown.cusp_wavelength
    assert middle.transverse_wavelength == pytest.approx(1.53 * 16.02, abs=0.1)
    assert middle.cusp_wavelength is None
    assert (shallow.transverse_wavelength, shallow.cusp_wavelength) == (None, None)


@pytest.mark.parametrize("depth", [0.0, 1e-300, 6e-13, 0.0099])
def test_where_there_is_no_water_the_number_has_no_value(depth: float) -> None:
    assert waves.froude_at(5.0, depth) is None
    assert waves.wave_pattern(5.0, depth) == waves.WavePattern(
        None, waves.Regime.SHALLOW, None, None
    )
    assert waves.froude_at(5.0, 0.01) == pytest.approx(5.0 / (g * 0.01) ** 0.5)
    assert waves.froude_at(5.0, None) is None
