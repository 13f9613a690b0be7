"""The rough estimate of the running trim for a boat as loaded. It explains; it decides nothing."""

from __future__ import annotations

import math
from itertools import pairwise

from service.boats.model import Boat, Plate
from service.hydrostatics.hull import Hull
from service.hydrostatics.weights import Loading
from service.running.estimate import TrimEstimate, estimate
from service.running.planing import PlaningCase, Tab

STEEPEST_BOTTOM = math.radians(45.0)
"""An edge of the section that climbs more steeply is side, not bottom."""


def running_estimate(
    boat: Boat, loading: Loading, speed: float, water: float, centre: float, side: float
) -> TrimEstimate | None:
    """Running trim with the centre plate and one side plate at fractions of their travel.

    Corrected by one read on the water, where the boat has one of a like case. ``None`` where the
    hull has no bottom of that form. ``speed`` m/s, ``water`` kg/m³.
    """
    case = planing_case(boat, loading, speed, water, centre, side)
    if case is None:
        return None
    return estimate(case, boat.learned.running_trim if boat.learned else None)


def planing_case(
    boat: Boat, loading: Loading, speed: float, water: float, centre: float, side: float
) -> PlaningCase | None:
    """The same in the terms of the method."""
    form = planing_form(boat.hull)
    if form is None or loading.x <= 0:
        return None
    beam, deadrise = form
    side_plate = boat.plates.starboard or boat.plates.port
    tabs = (*_tab(boat.plates.centre, centre, beam), *_tab(side_plate, side, beam))
    return PlaningCase(
        mass=loading.mass,
        lcg=loading.x,
        vcg=loading.z,
        beam=beam,
        deadrise=deadrise,
        speed=speed,
        density=water,
        tabs=tabs,
        hull_length=boat.hull.length,
    )


def _tab(plate: Plate | None, travel: float, beam: float) -> tuple[Tab, ...]:
    if plate is None or travel <= 0:
        return ()
    span = min(plate.span / beam, 1.0)
    return (Tab(chord=plate.chord, span_ratio=span, deflection=travel * plate.max_angle),)


def planing_form(hull: Hull) -> tuple[float, float] | None:
    """Chine beam (m) and deadrise (radians) of the aftmost section: its edges below 45°.

    ``None`` where the bottom turns back inward before the side begins: the method is for a wedge.
    """
    points = hull.stations[0][1]
    keel = points[0]
    chine = keel
    for aft, fore in pairwise(points):
        out, up = fore[0] - aft[0], fore[1] - aft[1]
        if math.atan2(up, out) > STEEPEST_BOTTOM:
            break
        if out < 0.0:
            return None
        chine = fore
    if chine[0] <= 0.1:
        return None
    rise = math.atan2(chine[1] - keel[1], chine[0])
    return 2.0 * float(chine[0]), max(float(rise), 0.0)
