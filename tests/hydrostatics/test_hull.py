from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.hydrostatics.equilibrium import Status, equilibrium
from service.hydrostatics.hull import Hull, Particulars, hard_chine
from service.hydrostatics.stability import freeboards, upright
from service.hydrostatics.weights import Loading
from tests.hydrostatics import reference
from tests.hydrostatics.hulls import (
    BOX,
    FRESH,
    HARD_CHINE_PRISM,
    SEVEN_METRES,
    random_particulars,
    random_stations,
)

SEVEN = Particulars(6.3, 2.1, 1.25, math.radians(18.0), length_overall=7.0, sheer_beam=2.5)
SQUARE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0))


def test_a_prism_has_the_volume_of_its_section() -> None:
    assert pytest.approx(6.0 * 2.4 * 1.2, rel=1e-12) == BOX.volume
    chine = 1.2 * math.tan(math.radians(20.0))
    area = 1.2 * chine + 2.4 * (1.6 - chine)
    assert pytest.approx(6.5 * area, rel=1e-12) == HARD_CHINE_PRISM.volume


def test_a_pyramid_is_integrated_exactly() -> None:
    # From a square of 2 × 1 m to a point: a third of base times height; centre at a quarter.
    hull = Hull.from_stations([(0.0, SQUARE), (3.0, [(0.0, 0.0)] * 3)])
    assert hull.volume == pytest.approx(2.0, rel=1e-12)


def test_a_section_with_other_points_keeps_its_corners() -> None:
    # The same section with a point more, on its bottom, makes the same hull.
    same = Hull.from_stations([(0.0, SQUARE), (3.0, [SQUARE[0], (0.3, 0.0), *SQUARE[1:]])])
    assert same.volume == pytest.approx(6.0, rel=1e-12)
    # Three sections of two, three and four points.
    mixed = Hull.from_stations(
        [(0.0, [(0.0, 0.0), (1.0, 1.0)]), (2.0, SQUARE), (4.0, [*SQUARE[:2], (1.1, 0.5), (1.1, 1)])]
    )
    assert mixed.volume == pytest.approx(
        sum(body.volume for body in reference.meshes_of(mixed.stations)), rel=1e-9
    )


def test_a_keel_point_off_the_centreline_is_a_flat_bottom() -> None:
    assert Hull.from_stations([(0.0, SQUARE[1:]), (3.0, SQUARE[1:])]).volume == pytest.approx(6.0)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_the_volume_is_that_of_a_closed_mesh(number: int) -> None:
    rng = np.random.default_rng(number)
    hull = (random_stations if number % 2 else random_particulars)(rng)
    bodies = reference.meshes_of(hull.stations, 60)
    assert hull.volume == pytest.approx(sum(body.volume for body in bodies), rel=1e-9)


@pytest.mark.parametrize(
    ("stations", "reason"),
    [
        ([], "at least two stations"),
        ([(0.0, SQUARE)], "at least two stations"),
        ([(0.0, SQUARE), (0.0, SQUARE)], "Station 2 .* not forward"),
        ([(1.0, SQUARE), (0.0, SQUARE)], "not forward"),
        ([(0.0, SQUARE), (1.0, SQUARE[:1])], "at least two points"),
        ([(0.0, SQUARE), (1.0, [])], "at least two points"),
        ([(0.0, SQUARE), (1.0, [(0.0, 0.0), (-0.1, 1.0)])], "negative half breadth"),
        ([(0.0, SQUARE), (1.0, [(0.0, 0.0), (math.nan, 1.0)])], "not finite"),
        ([(0.0, SQUARE), (math.inf, SQUARE)], "not finite"),
        ([(0.0, SQUARE), (1.0, [(0.0, 0.0), (1.0, 1.0), (1.2, 0.8)])], "not the highest"),
        ([(0.0, SQUARE), (1.0, [(0.0, 0.0), (1.0, 0.9), (1.0, 0.1), (0.2, 1.0)])], "crosses"),
        ([(0.0, SQUARE), (1.0, [(1.0, 0.5), (1.0, 0.0), (0.0, 0.0), (0.0, 0.6)])], "do not run"),
        ([(0.0, [(0.0, 0.0), (0.0, 1.0)]), (1.0, [(0.0, 0.0), (0.0, 1.0)])], "no volume"),
    ],
)
def test_stations_that_are_no_hull_are_refused(
    stations: Sequence[tuple[float, Sequence[tuple[float, float]]]], reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        Hull.from_stations(stations)


def test_a_hull_is_read_only_and_shared_by_threads() -> None:
    with pytest.raises(ValueError, match="read-only"):
        SEVEN_METRES.sheer[0, 0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        SEVEN_METRES.stations[0][1][0, 0] = 1.0
    loads = [Loading(3000.0 + 20.0 * k, 2.6, 0.01 * k, 0.75) for k in range(20)]

    def heel(load: Loading) -> float | None:
        return equilibrium(SEVEN_METRES, load, FRESH).heel

    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(heel, loads)) == [heel(load) for load in loads]


def test_the_stem_crosses_the_nominal_waterline_where_it_should() -> None:
    x = np.array([x for x, _ in SEVEN_METRES.stations])
    keel = np.array([points[0, 1] for _, points in SEVEN_METRES.stations])
    assert len(x) == 21
    assert SEVEN_METRES.length == pytest.approx(7.0)
    # The nominal draft is the height of the chine at the transom.
    assert keel[x == 6.3] == pytest.approx(1.05 * math.tan(math.radians(18.0)), rel=1e-12)
    assert keel[0] == 0.0
    assert keel[-1] == pytest.approx(SEVEN_METRES.sheer[-1, 2])
    assert SEVEN_METRES.beam == 2.5


def test_a_seven_metre_boat_floats_sensibly() -> None:
    # Common practice for such a boat at about 3.5 t.
    load = Loading(3500.0, 2.65, 0.0, 0.75)
    floating = equilibrium(SEVEN_METRES, load, FRESH)
    found = upright(SEVEN_METRES, load, FRESH)
    assert floating.status is Status.FLOATS
    assert found is not None
    assert 0.45 < found.draft_amidships < 0.65
    assert 0.45 < found.draft_origin < 0.65
    assert 0.5 < found.gm_solid < 1.2
    boards = freeboards(SEVEN_METRES, floating)
    assert 0.6 < boards.least < boards.bow < 1.0


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"waterline_length": 0.0}, "waterline_length must be more than 0"),
        ({"chine_beam": math.nan}, "chine_beam is not finite"),
        ({"deadrise": math.radians(80.0)}, "deadrise must be between"),
        ({"deadrise": math.radians(60.0)}, "depth is not more than"),
        ({"deadrise": 0.0}, "needs a draft"),
        ({"draft": 1.3}, "draft must be less"),
        ({"length_overall": 6.0}, "less than waterline_length"),
        ({"length_overall": 12.0}, "more than the stem can reach"),
        ({"forefoot": 1.0}, "forefoot must be"),
        ({"depth": 0.6, "bow_deadrise": math.radians(74.0)}, "above the sheer"),
    ],
)
def test_impossible_particulars_are_refused(changes: dict[str, float], reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        hard_chine(dataclasses.replace(SEVEN, **changes))


@pytest.mark.parametrize(
    "changes",
    [
        {"length_overall": None},
        {"length_overall": 6.3},
        {"sheer_beam": None},
        {"deadrise": 0.0, "draft": 0.3},
        {"forefoot": 0.93, "length_overall": None},
        {"sheer_rise": 0.0},
        {"sheer_rise": -0.05},
    ],
)
def test_other_particulars_make_a_hull(changes: dict[str, Any]) -> None:
    hull = hard_chine(dataclasses.replace(SEVEN, **changes))
    assert equilibrium(hull, Loading(3500.0, 2.65, 0.0, 0.75), FRESH).status is Status.FLOATS
