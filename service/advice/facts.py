"""What the rules are told, in the units that ``rules/facts.yaml`` states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rules.model import Value
from service.advice.crew import driver_seats, is_at, without_adult
from service.advice.loading_condition import Attitude, LoadingCondition, slack
from service.advice.loading_plan import Limit, Plan, Wanted
from service.advice.requests import Water, Wish
from service.advice.situation import FilledRider
from service.boats.model import Boat, Side
from service.hydrostatics.equilibrium import Status
from service.hydrostatics.stability import draft
from service.running.waves import froude_at

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


def load_facts(condition: LoadingCondition, rider_mass: float | None) -> Fact:
    """People, gear and the water now aboard against the maker's limits.

    The rider (kg) is counted on the way out and home, where there is one.
    """
    boat, limits = condition.boat, condition.boat.limits
    people, gear = condition.people_mass, condition.gear_mass
    everybody = people + (rider_mass or 0.0)
    out = len(condition.people) + (0 if rider_mass is None else 1)
    counted = limits.includes_ballast
    unsaid = "untold" if boat.tanks else "none"
    over = None if limits.load_mass is None else everybody + gear - limits.load_mass
    with_water = over if over is None or counted is False else over + condition.ballast_mass
    return {
        "people": float(len(condition.people)),
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
        "fuel": 100.0 * condition.fuel,
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


def resting_facts(condition: LoadingCondition, attitude: Attitude, apart: int = 0) -> Fact:
    """How the boat floats at rest, without a target to compare with and without a way home.

    ``apart``: children without an adult beside them.
    """
    lean, board = attitude.lean, attitude.freeboard
    depth = condition.water.depth
    drawn = draft(condition.boat.hull, attitude.floating) if board else None
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
        "bow_mass": condition.bow_mass,
        "helm": "untold",
        "children_apart": float(apart),
        "slack_tanks": float(slack(condition.fills)),
        "lean_reached": "untold",
        "bow_reached": "untold",
        "water_short": 0.0,
        "water_short_for": "nothing",
        "fuller_side": "surf_side",
        "depth_froude": None,
        "way_home": "floats",
    }


def attitude_facts(
    wanted: Wanted, plan: Plan, home: Status, level_trim: float | None, water_wanted: float,
    speed: float,
) -> Fact:  # fmt: skip
    """How the boat floats as advised. ``level_trim`` (degrees): full tanks, nobody aboard."""
    lean, trim = plan.attitude.lean, plan.attitude.trim
    condition = plan.condition
    apart = without_adult(condition.people, condition, wanted.practice.crew)
    return resting_facts(condition, plan.attitude, len(apart)) | {
        "lean": lean,
        "bow_up_change": None if trim is None or level_trim is None else trim - level_trim,
        "helm": _helm(condition),
        "lean_reached": _lean_reached(wanted, lean),
        "bow_reached": "untold"
        if trim is None or level_trim is None
        else _yes(wanted.trim.holds(trim, wanted.practice.unseen)),
        "water_short": water_wanted - condition.ballast_mass,
        "water_short_for": _short_for(plan),
        "fuller_side": "off_side" if plan.crossed else "surf_side",
        "depth_froude": froude_at(speed, condition.water.depth),
        "way_home": home.value,
    }


def _lean_reached(wanted: Wanted, lean: float | None) -> str:
    if lean is None:
        return "untold"
    if wanted.lean.holds(lean, wanted.practice.unseen):
        return "yes"
    return "short" if lean < wanted.lean.wanted else "over"


def _short_for(plan: Plan) -> str:
    """What most of the water that is missing was left out for."""
    room, left_out, balance = (
        -plan.condition.water_mass([part / 100.0 for part in parts])
        for parts in (plan.for_room, plan.left_out, plan.for_balance)
    )
    most = max(room, left_out, balance)
    if most <= 0.0:
        return "nothing"
    if most == room:
        return "room"
    by_limits = most == left_out and plan.left_out_for not in (None, Limit.LEAN, Limit.TRIM)
    return "limits" if by_limits else "balance"


def _helm(condition: LoadingCondition) -> str:
    """Whether someone is on the driver's seat, or at a place nearest to it."""
    seats, wheel = condition.boat.seats, driver_seats(condition.boat)
    if not wheel:
        return "none"
    there = any(is_at(person, seats, wheel) for person in condition.people)
    return "driven" if there else "empty"


def _yes(true: bool) -> str:
    return "yes" if true else "no"


def _wish(wants: Sequence[Wish], first: Wish, second: Wish, one: str, other: str) -> str:
    words: Mapping[tuple[bool, bool], str] = {
        (False, False): "none", (True, False): one, (False, True): other, (True, True): "both",
    }  # fmt: skip
    return words[first in wants, second in wants]
