"""Hydrostatics against closed forms and published worked examples.

The closed forms are those of any textbook of naval architecture (box V = LBT, KB = T/2,
BM = I/V, the wall-sided formula, MCT1cm = W GM_L/(100 L), GG₁ = ρ i/Δ). Figures given as numbers
were computed from them by hand and confirmed by a second method, unless a book is named.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from service.hydrostatics.equilibrium import Status, equilibrium
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import (
    draft,
    freeboards,
    righting_arms,
    sheer_immersion_angle,
    upright,
)
from service.hydrostatics.weights import Loading
from tests.hydrostatics.hulls import BOX, CHINE, FRESH, HARD_CHINE_PRISM, WEDGE, prism

EXACT = 1e-9
TABLE = 1e-5

BOX_LOAD = Loading(7200.0, 3.0, 0.0, 0.8)
PRISM_LOAD = Loading(6526.761, 3.25, 0.0, 0.75)


def wall_sided(gm: float, bm: float, heel: float) -> float:
    """GZ, exact until the deck edge enters or the bottom's edge leaves the water."""
    return math.sin(heel) * (gm + bm * math.tan(heel) ** 2 / 2.0)


def test_a_box_upright() -> None:
    found = upright(BOX, BOX_LOAD, FRESH)
    assert found is not None
    assert found.draft_origin == pytest.approx(0.5, rel=EXACT)
    assert found.draft_amidships == pytest.approx(0.5, rel=EXACT)
    assert found.trim == pytest.approx(0.0, abs=EXACT)
    assert found.volume == pytest.approx(7.2, rel=EXACT)
    assert found.kb == pytest.approx(0.25, rel=EXACT)
    assert found.bm == pytest.approx(0.96, rel=EXACT)
    assert found.km == pytest.approx(1.21, rel=EXACT)
    assert found.gm_solid == pytest.approx(0.41, rel=EXACT)
    assert found.gm_fluid == pytest.approx(0.41, rel=EXACT)
    assert found.bm_long == pytest.approx(6.0, rel=EXACT)
    assert found.gm_long == pytest.approx(5.45, rel=EXACT)
    assert found.moment_to_change_trim == pytest.approx(7200 * 5.45 / 600.0, rel=EXACT)
    assert found.moment_to_change_trim == pytest.approx(65.4, rel=TABLE)
    assert found.waterplane_area == pytest.approx(14.4, rel=EXACT)
    assert found.lcf == pytest.approx(3.0, rel=EXACT)
    assert found.lcb == pytest.approx(3.0, rel=EXACT)
    assert found.kg_per_cm == pytest.approx(144.0, rel=EXACT)


@pytest.mark.parametrize(
    ("degrees", "table"), [(5, 0.036054), (10, 0.073787), (15, 0.115035), (20, 0.161977)]
)
def test_righting_arms_of_a_box(degrees: float, table: float) -> None:
    heel = math.radians(degrees)
    (gz,) = righting_arms(BOX, BOX_LOAD, FRESH, [heel]).tolist()
    assert gz == pytest.approx(wall_sided(0.41, 0.96, heel), rel=EXACT)
    assert gz == pytest.approx(table, rel=2e-5)  # six decimals given


def test_heel_of_a_box_with_its_weight_off_centre() -> None:
    # To port: y is positive, heel negative. GZ(φ) = y cos φ.
    floating = equilibrium(BOX, Loading(7200.0, 3.0, 0.05, 0.8), FRESH)
    expected = brentq(
        lambda heel: wall_sided(0.41, 0.96, heel) - 0.05 * math.cos(heel), 0.0, 0.3, xtol=1e-15
    )
    assert floating.status is Status.FLOATS
    assert floating.heel is not None
    assert floating.heel == pytest.approx(-expected, rel=EXACT)
    assert math.degrees(floating.heel) == pytest.approx(-6.838913, rel=1e-7)
    small_angles = math.degrees(math.atan2(0.05, 0.41))
    assert small_angles == pytest.approx(6.952957, rel=1e-6)
    assert abs(math.degrees(floating.heel)) < small_angles


def test_a_slack_tank_in_a_box() -> None:
    # A free surface of 2 m by 2 m of fresh water.
    load = Loading(7200.0, 3.0, 0.0, 0.8, free_surface=1000.0 * 2.0 * 2.0**3 / 12.0)
    assert load.rise == pytest.approx(0.185185, rel=TABLE)
    found = upright(BOX, load, FRESH)
    assert found is not None
    assert found.gm_fluid == pytest.approx(0.41 - 5.0 / 27.0, rel=EXACT)
    assert found.gm_solid == pytest.approx(0.41, rel=EXACT)
    heel = math.radians(10.0)
    (gz,) = righting_arms(BOX, load, FRESH, [heel]).tolist()
    assert gz == pytest.approx(wall_sided(0.41 - 5.0 / 27.0, 0.96, heel), rel=EXACT)
    at_rest = equilibrium(BOX, load, FRESH)
    assert at_rest.gm == pytest.approx(0.41 - 5.0 / 27.0, rel=EXACT)


def test_angle_of_loll_of_a_box() -> None:
    # Wall-sided: tan φ = √(−2 GM / BM). KG 1.25, so GM −0.04 at 0.5 m draft.
    load = Loading(7200.0, 3.0, 0.0, 1.25)
    floating = equilibrium(BOX, load, FRESH)
    assert floating.status is Status.LOLLS
    assert floating.heel == pytest.approx(math.atan(math.sqrt(0.08 / 0.96)), rel=EXACT)
    # There GM is −2 GM(upright)/cos φ (slope of the wall-sided curve at its own zero).
    assert floating.gm == pytest.approx(0.08 / math.cos(floating.heel or 0.0), rel=1e-7)


def test_a_wedge_heeled() -> None:
    # KB 2T/3, KM (2T/3)/sin² b; T 0.3, b 20°, KG 0.6.
    deadrise, draft, kg, heel = math.radians(20.0), 0.3, 0.6, math.radians(10.0)
    area = draft**2 / math.tan(deadrise)
    load = Loading(FRESH * 4.0 * area, 2.0, 0.0, kg)
    found = upright(WEDGE, load, FRESH)
    assert found is not None
    assert found.draft_origin == pytest.approx(draft, rel=EXACT)
    assert found.kb == pytest.approx(0.2, rel=EXACT)
    assert found.km == pytest.approx(0.2 / math.sin(deadrise) ** 2, rel=EXACT)
    (gz,) = righting_arms(WEDGE, load, FRESH, [heel]).tolist()
    # The wet triangle's sides rise at b ± φ from the keel at depth d; its centre is a third of
    # the way to the two waterline ends.
    low, high = deadrise - heel, deadrise + heel
    depth = math.sqrt(2.0 * area * math.sin(low) * math.sin(high) / math.sin(2.0 * deadrise))
    lever = depth / 3.0 * (1.0 / math.tan(low) - 1.0 / math.tan(high))
    assert gz == pytest.approx(lever - kg * math.sin(heel), rel=EXACT)
    assert gz == pytest.approx(0.235186, rel=TABLE)
    assert found.gm_solid * math.sin(heel) == pytest.approx(0.1927, rel=1e-3)


def test_a_hard_chine_prism() -> None:
    found = upright(HARD_CHINE_PRISM, PRISM_LOAD, FRESH)
    assert found is not None
    area = 6.526761 / 6.5
    triangle = 1.2 * CHINE
    draft = CHINE + (area - triangle) / 2.4
    kb = (triangle * CHINE * 2.0 / 3.0 + (area - triangle) * (CHINE + draft) / 2.0) / area
    bm = 2.4**3 / 12.0 / area
    assert found.draft_origin == pytest.approx(draft, rel=EXACT)
    assert found.kb == pytest.approx(kb, rel=EXACT)
    assert found.bm == pytest.approx(bm, rel=EXACT)
    assert found.gm_solid == pytest.approx(kb + bm - 0.75, rel=EXACT)
    table = [0.636764, 0.408575, 1.147277, 0.805852]
    assert [found.draft_origin, found.kb, found.bm, found.gm_solid] == pytest.approx(
        table, rel=2e-6
    )
    # At 10° the chine is just out of the water: no closed form as short.
    (gz,) = righting_arms(HARD_CHINE_PRISM, PRISM_LOAD, FRESH, [math.radians(10.0)]).tolist()
    assert gz == pytest.approx(0.142880, rel=TABLE)


def test_heel_of_a_hard_chine_prism_with_its_weight_off_centre() -> None:
    floating = equilibrium(HARD_CHINE_PRISM, Loading(6526.761, 3.25, 0.06, 0.75), FRESH)
    gm, bm = 0.8058516852044, 2.4**3 / 12.0 / (6.526761 / 6.5)
    expected = brentq(
        lambda heel: wall_sided(gm, bm, heel) - 0.06 * math.cos(heel), 0.0, 0.3, xtol=1e-15
    )
    assert floating.heel == pytest.approx(-expected, rel=EXACT)
    assert math.degrees(floating.heel or 0.0) == pytest.approx(-4.24158, rel=2e-6)


def test_trim_of_a_box_with_its_weight_forward() -> None:
    # Shifted 0.1 m forward: wall-sided lengthways too. tan θ from
    # tan θ (GM_L + BM_L tan² θ / 2) = −0.1, bow down, with GM_L 5.45 and BM_L 6.
    floating = equilibrium(BOX, Loading(7200.0, 3.1, 0.0, 0.8), FRESH)
    tangent = brentq(lambda t: t * (5.45 + 6.0 * t * t / 2.0) - 0.1, 0.0, 0.1, xtol=1e-15)
    assert floating.trim is not None
    assert math.tan(floating.trim) == pytest.approx(-tangent, rel=1e-8)


def test_freeboards_of_a_heeled_and_trimmed_box() -> None:
    floating = equilibrium(BOX, Loading(7200.0, 3.1, -0.05, 0.8), FRESH)
    found = freeboards(BOX, floating)
    assert floating.heel is not None
    assert floating.trim is not None
    assert floating.heel > 0.0
    # Sides 2.4 m apart, ends 6 m: differences are those lengths times sines.
    across = 2.4 * math.sin(floating.heel) * math.cos(floating.trim)
    assert found.port - found.starboard == pytest.approx(across, rel=EXACT)
    assert found.stern - found.bow == pytest.approx(-6.0 * math.sin(floating.trim), rel=EXACT)
    assert found.least == found.bow


def test_draft_of_a_heeled_and_trimmed_box() -> None:
    floating = equilibrium(BOX, Loading(7200.0, 3.1, -0.05, 0.8), FRESH)
    assert floating.sinkage is not None
    assert floating.heel is not None
    assert floating.trim is not None
    # Level it draws 7200 / (1000 · 6 · 2.4) = 0.5 m. The lowest corner is 6 m forward of the
    # origin, by the sine of the trim lower, and 1.2 m to the side that it leans to.
    aside = 1.2 * math.sin(floating.heel) * math.cos(floating.trim)
    lowest = floating.sinkage - 6.0 * math.sin(floating.trim) + aside
    assert draft(BOX, floating) == pytest.approx(lowest, rel=EXACT)
    level = equilibrium(BOX, Loading(7200.0, 3.0, 0.0, 0.8), FRESH)
    assert draft(BOX, level) == pytest.approx(7200.0 / FRESH / (6.0 * 2.4), rel=1e-8)


def test_the_sheer_of_a_box_goes_under() -> None:
    # Wall-sided, side 1.2 m high at 0.5 m draft: tan φ = 0.7 / 1.2, before the bottom's edge
    # comes out at tan φ = 0.5 / 1.2; so a higher draft: 0.8 m, tan φ = 0.4 / 1.2.
    load = Loading(14.4 * 0.8 * FRESH, 3.0, 0.0, 0.6)
    angle = sheer_immersion_angle(BOX, load, FRESH)
    assert angle == pytest.approx(math.atan2(0.4, 1.2), rel=1e-8)
    assert sheer_immersion_angle(BOX, load, FRESH, "port") == angle


def test_nicholls_box() -> None:
    # Nicholls's Seamanship and Nautical Knowledge, "Cargo and Trim", p. 527: a box 36 ft in
    # beam at 18 ft draught has BM 6, KB 9, KM 15 ft. (Feet as the unit of length.)
    hull = prism(100.0, (0.0, 0.0), (18.0, 0.0), (18.0, 30.0))
    found = upright(hull, Loading(100.0 * 36.0 * 18.0, 50.0, 0.0, 13.0), 1.0)
    assert found is not None
    assert (found.bm, found.kb, found.km) == pytest.approx((6.0, 9.0, 15.0), rel=EXACT)


def test_nicholls_righting_moment() -> None:
    # The same page: KM 16 ft, KG 13.8 ft, 6000 tons, 8°: GM 2.2 ft, GZ 0.306 ft, righting
    # moment 1836 ft·tons. GZ = GM sin φ is exact for a round section about the metacentre.
    turn = np.linspace(0.0, math.pi / 2.0, 400)
    section = [(24.0 * math.sin(a), 16.0 - 24.0 * math.cos(a)) for a in turn]
    hull = Hull.from_stations([(0.0, section), (100.0, section)])
    tons = 0.6 * hull.volume
    load = Loading(tons, 50.0, 0.0, 13.8)
    found = upright(hull, load, 1.0)
    assert found is not None
    assert found.gm_solid == pytest.approx(2.2, rel=1e-4)
    (gz,) = righting_arms(hull, load, 1.0, [math.radians(8.0)]).tolist()
    assert gz == pytest.approx(0.306, abs=5e-4)
    assert 6000.0 * round(gz, 3) == pytest.approx(1836.0, rel=1e-9)
