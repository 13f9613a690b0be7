"""What the operator reads of the running trim."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.running.estimate import Direction, Measured, direction, estimate
from service.running.planing import PlaningCase, Tab, running_trim

# invented; its trim is 6.66° by openplaning
SURF = PlaningCase(
    mass=2500, lcg=2.4, vcg=0.7, beam=2.4, deadrise=math.radians(20), speed=5.0, density=1000
)
OTHER = "The measured trim was read at another load or speed, so it is not used."


def test_whole_degrees_a_band_and_one_plain_sentence_of_doubt() -> None:
    shown = estimate(SURF)
    assert (shown.degrees, shown.band, shown.valid, shown.correction) == (7, 4, False, None)
    assert shown.text == (
        "About 7° bow up, give or take 4°: a rough estimate. "
        "The boat is still climbing onto the plane, and the method is for planing boats."
    )


def test_one_measured_trim_is_given_back_where_it_was_made() -> None:
    shown = estimate(SURF, Measured(math.radians(9.0), SURF))
    assert (shown.degrees, shown.band, shown.valid) == (9, 2, False)
    assert shown.correction == pytest.approx(math.radians(9.0 - 6.66), abs=math.radians(0.05))
    assert shown.text.startswith("About 9° bow up, give or take 2°: corrected by one measured")


def test_a_correction_shifts_a_nearby_case_by_the_same_angle() -> None:
    near = replace(SURF, mass=2700, speed=5.2)
    method = running_trim(near).trim
    assert method is not None
    shown = estimate(near, Measured(math.radians(9.0), SURF))
    assert shown.correction is not None
    assert shown.degrees == round(math.degrees(method + shown.correction))


@pytest.mark.parametrize("change", [{"speed": 5.6}, {"speed": 4.4}, {"mass": 3000}, {"lcg": 2.7}])
def test_a_measurement_at_another_load_or_speed_is_not_used(change: dict[str, float]) -> None:
    case = replace(SURF, **change)  # type: ignore[arg-type]
    shown, plain = estimate(case, Measured(0.2, SURF)), estimate(case)
    assert (shown.degrees, shown.band, shown.correction) == (plain.degrees, plain.band, None)
    assert shown.reasons == (*plain.reasons, OTHER)


def test_no_trim_found_is_said() -> None:
    still = replace(SURF, speed=0.0)
    shown = estimate(still, Measured(0.1, still))
    assert (shown.degrees, shown.valid, shown.correction) == (None, False, None)
    assert shown.text == "Running trim: The method finds no running trim for this speed and load."
    assert len(shown.reasons) == 2


def test_signs_are_words() -> None:
    assert "level" in estimate(SURF, Measured(0.0, SURF)).text
    assert "3° bow down" in estimate(SURF, Measured(math.radians(-3), SURF)).text


@pytest.mark.parametrize("trim", [math.nan, math.inf, 1.0])
def test_an_impossible_measurement_is_refused(trim: float) -> None:
    with pytest.raises(ValueError, match="measured trim"):
        estimate(SURF, Measured(trim, SURF))


def test_direction_of_a_change() -> None:
    # common practice: plate down or weight forward, bow down; weight aft, bow up
    plate = replace(SURF, tabs=(Tab(0.3, 0.5, math.radians(10)),))
    assert direction(SURF, plate) is Direction.BOW_DOWN
    assert direction(SURF, replace(SURF, lcg=2.5)) is Direction.BOW_DOWN
    assert direction(SURF, replace(SURF, lcg=2.3)) is Direction.BOW_UP
    assert direction(SURF, replace(SURF, mass=2501)) is Direction.NO_CLEAR_CHANGE
    assert direction(SURF, replace(SURF, speed=0.0)) is None


@settings(deadline=None)
@given(
    mass=st.floats(1500, 6000),
    speed=st.floats(0, 20),
    measured=st.none() | st.floats(-0.5, 0.5),
)
def test_the_band_is_never_below_two_degrees(
    mass: float, speed: float, measured: float | None
) -> None:
    case = replace(SURF, mass=mass, speed=speed)
    shown = estimate(case, None if measured is None else Measured(measured, case))
    assert shown.band >= 2
    assert shown.text.endswith(".")
    assert "-" not in shown.text.split(":")[0]
