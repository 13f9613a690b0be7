"""What the rules are told, in the units that ``rules/facts.yaml`` states."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from rules.model import Value
from service.advice.loading_plan import HELM, Limit, Plan, Wanted
from service.advice.requests import Load, Water, Wish
from service.advice.situation import Cargo, FilledRider, Occupant
from service.advice.weighing import Attitude, bow_begins, gear_mass, slack
from service.boats.model import Boat, Side
from service.hydrostatics.equilibrium import Status
from service.hydrostatics.stability import draft
from service.hydrostatics.weights import Weight
from service.running.waves import depth_froude

Fact = dict[str, Value | None]


def boat_facts(boat: Boat, side: Side) -> Fact:
    """``boat`` as it is, before it is mirrored; ``side`` is the surf side."""
    plates = {Side.PORT: boat.plates.port, Side.STARBOARD: boat.plates.starboard}
    return {
        "propulsion": boat.propulsion.value,
        "length": boat.length_overall,
        "tanks": float(len(boat.tanks)),
        "centre_plate": _yes(boat.plates.centre is not None),
        "off_side_plate": _yes(plates[side.other] is not None),
        "surf_side_plate": _yes(plates[side] is not None),
    }


def load_facts(
    boat: Boat,
    masses: Sequence[float],
    rider_mass: float | None,
    loads: Sequence[Load],
    water_now: float,
    fuel: float,
) -> Fact:
    """People and gear against the maker's limits, the rider aboard where there is one.

    ``water_now`` (kg) is the ballast water in the tanks at present, ``fuel`` a fraction.
    """
    limits = boat.limits
    riders = 0 if rider_mass is None else 1
    people = math.fsum(masses)
    everybody = people + (rider_mass or 0.0)
    gear = gear_mass(loads)
    out = len(masses) + riders
    counted = limits.includes_ballast
    unsaid = "untold" if boat.tanks else "none"
    over = None if limits.load_mass is None else everybody + gear - limits.load_mass
    with_water = over if over is None or counted is False else over + water_now
    return {
        "people": float(len(masses)),
        "people_out": float(out),
        "people_mass": people,
        "gear_mass": gear,
        "persons_limit": None if limits.persons is None else float(limits.persons),
        "persons_over": None if limits.persons is None else float(out - limits.persons),
        "persons_mass_over": None
        if limits.persons_mass is None
        else everybody - limits.persons_mass,
        "load_over": over,
        "with_water_over": with_water,
        "ballast_counted": unsaid if counted is None else _yes(counted),
        "fuel": 100.0 * fuel,
        "places_short": float(out - sum(seat.places for seat in boat.seats)),
    }


def rider_facts(rider: FilledRider, side_told: Side | None) -> Fact:
    return {
        "mass": rider.mass,
        "stance": rider.stance.value if rider.stance else "untold",
        "board": rider.board.value,
        "level": rider.level.value,
        "shape": _wish(rider.wants, Wish.STEEPER, Wish.MELLOWER, "steeper", "mellower"),
        "length": _wish(rider.wants, Wish.LONGER, Wish.SHORTER, "longer", "shorter"),
        "push": _wish(rider.wants, Wish.MORE_PUSH, Wish.LESS_PUSH, "more", "less"),
        "side_told": side_told.value if side_told else "none",
    }


def water_facts(water: Water) -> Fact:
    return {
        "kind": water.kind.value if water.kind else "fresh",
        "temperature": water.temperature,
        "depth": water.depth,
        "distance_to_shore": water.distance_to_shore,
    }


def resting_facts(
    cargo: Cargo, fills: Sequence[float], weights: Sequence[Weight], attitude: Attitude
) -> Fact:
    """How the boat lies, without a target to compare with and without a way home."""
    lean, board = attitude.lean, attitude.freeboard
    depth = cargo.water.depth
    drawn = draft(cargo.boat.hull, attitude.floating) if board else None
    return {
        "state": attitude.floating.status.value,
        "lean": None,
        "lean_size": None if lean is None else abs(lean),
        "bow_up_change": None,
        "least_freeboard": board.least if board else None,
        "bow_freeboard": board.bow if board else None,
        "gm": attitude.floating.gm,
        "draft": drawn,
        "under_hull": None if depth is None or drawn is None else depth - drawn,
        "bow_mass": bow_mass(cargo, weights),
        "helm": "untold",
        "slack_tanks": float(slack(fills)),
        "lean_reached": "untold",
        "bow_reached": "untold",
        "water_short": 0.0,
        "water_short_for": "nothing",
        "depth_froude": None,
        "way_home": "floats",
    }


def attitude_facts(
    cargo: Cargo, wanted: Wanted, plan: Plan, home: Status, level_trim: float | None,
    water_wanted: float, water: float, speed: float,
) -> Fact:  # fmt: skip
    """How the boat lies as advised. ``level_trim`` (degrees): full tanks, nobody aboard."""
    lean, trim = plan.attitude.lean, plan.attitude.trim
    carried, balanced = (
        water
        * math.fsum(part * t.capacity for part, t in zip(parts, cargo.boat.tanks, strict=True))
        for parts in (plan.fills, [change / 100 for change in plan.for_balance])
    )
    depth = cargo.water.depth
    return resting_facts(cargo, plan.fills, plan.weights, plan.attitude) | {
        "lean": lean,
        "bow_up_change": None if trim is None or level_trim is None else trim - level_trim,
        "helm": _helm(cargo, plan.people),
        "lean_reached": "untold" if lean is None else _yes(wanted.lean.holds(lean)),
        "bow_reached": "untold"
        if trim is None or level_trim is None
        else _yes(wanted.trim.holds(trim)),
        "water_short": water_wanted - (carried - balanced),
        "water_short_for": _short_for(cargo, plan),
        "depth_froude": None if depth is None else float(depth_froude(speed, depth)),
        "way_home": home.value,
    }


def _short_for(cargo: Cargo, plan: Plan) -> str:
    """What most of the water that is missing was left out for."""
    room, left_out = (
        -math.fsum(part * t.capacity for part, t in zip(parts, cargo.boat.tanks, strict=True))
        for parts in (plan.for_room, plan.left_out)
    )
    if room <= 0.0 and left_out <= 0.0:
        return "nothing"
    if room >= left_out:
        return "room"
    return "balance" if plan.left_out_for in (None, Limit.LEAN, Limit.TRIM) else "limits"


def _helm(cargo: Cargo, people: Sequence[Occupant]) -> str:
    """Whether somebody is there; who was told a place in metres is at the seats nearest to it."""
    seats = {number: (seat.x, seat.y) for number, seat in enumerate(cargo.boat.seats)}
    helm = next((n for n, seat in enumerate(cargo.boat.seats) if seat.id == HELM), None)
    if helm is None:
        return "none"

    def is_there(one: Occupant) -> bool:
        if one.x is None or one.y is None:
            return one.seat == helm
        away = {number: math.dist(spot, (one.x, one.y)) for number, spot in seats.items()}
        return away[helm] <= min(away.values())

    return "driven" if any(is_there(one) for one in people) else "empty"


def bow_mass(cargo: Cargo, weights: Sequence[Weight]) -> float:
    """Mass (kg) of people forward of two thirds of the hull's length."""
    bow = bow_begins(cargo.boat.hull)
    return math.fsum(w.mass for w in weights if w.name == "person" and w.x > bow)


def _yes(true: bool) -> str:
    return "yes" if true else "no"


def _wish(wants: Sequence[Wish], first: Wish, second: Wish, one: str, other: str) -> str:
    words: Mapping[tuple[bool, bool], str] = {
        (False, False): "none", (True, False): one, (False, True): other, (True, True): "both",
    }  # fmt: skip
    return words[first in wants, second in wants]
