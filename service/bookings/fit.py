"""Whether a party fits on a boat, and on which one of an outfit's.

Everybody aboard is reckoned at once, with the tanks full: that is how they leave the dock. The
maker's limits are compared with the real masses, and the hydrostatics tells how the boat lies;
where the rules find anything in that, the advice for each rider has the last word.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from rules.base import RuleBase
from rules.engine import evaluate
from rules.model import Stage, Verdict
from service.advice import facts as tell
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.crew import CrewRules
from service.advice.loading import LoadingCheck, check_loading
from service.advice.requests import AdviceRequest, LoadingRequest, Person, Rider, Role, Water
from service.boats.model import Boat, Side
from service.boats.seat_roles import has_drivers_seat
from service.hydrostatics.equilibrium import Status

ANY = "any"
DRIVER_OBSERVER_AND_RIDER = 3
WITH_CARE = ("full_tanks", "places")
"""Reasons that do not forbid to go; a boat without them comes first."""


@dataclass(frozen=True, slots=True)
class Party:
    """Who comes and when. ``people`` are the guests, the riders among them; ``staff`` comes too.

    ``masses`` (kg) as they were told of the guests, ``None`` where not. ``fuel`` is a fraction.
    """

    starts: datetime
    ends: datetime
    masses: tuple[float | None, ...]
    staff: int = 0
    riders: tuple[Rider, ...] = ()
    water: Water = field(default_factory=Water)
    fuel: float | None = None

    @property
    def people(self) -> int:
        return len(self.masses)

    def guests(self) -> tuple[list[float | None], dict[int, int]]:
        """What each guest weighs (kg) as far as anything tells it, and which guest each rider is.

        A rider whose mass was told is the guest of that mass, or else one of whom none was told:
        whoever tells what the riders weigh need not say it twice.
        """
        masses, place = list(self.masses), dict[int, int]()
        told = [n for n, rider in enumerate(self.riders) if rider.mass is not None]
        others = [n for n, rider in enumerate(self.riders) if rider.mass is None]
        for number in told + others:
            mass = self.riders[number].mass
            free = [guest for guest in range(len(masses)) if guest not in place.values()]
            if not free:
                break  # more ride than come, which the schema refuses
            guest = min(free, key=lambda n: (masses[n] != mass, masses[n] is not None, n))
            place[number] = guest
            if masses[guest] is None:
                masses[guest] = mass
        return masses, place


@dataclass(frozen=True, slots=True)
class Reason:
    """Why not, or not quite: a code, and the numbers (kg, counts) that its words need.

    persons, people_mass, load: more than the maker allows, the last even with empty tanks.
    nobody_drives: nobody besides the rider is able to. nobody_watches: nobody besides the two.
    full_tanks: more than the maker allows with full tanks, and not without. places: more people
    than places to sit. swamped: does not float upright and dry with full tanks. unsafe: the advice
    for a rider is not to go. taken: on another booking at that time.
    """

    code: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Fit:
    """What was found for one boat.

    ``most`` guests would fit with full tanks as far as the maker's limits and the seats go;
    ``None`` where nothing is known or in the way. ``less_water`` (kg) has to stay out of the
    tanks. ``advice`` is the one that forbids it, if one does.
    """

    boat: Boat
    fits: bool
    reasons: tuple[Reason, ...] = ()
    most: int | None = None
    less_water: float = 0.0
    advice: Advice | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """The boat that was chosen or asked for, and another one where that would do better."""

    fit: Fit
    instead: Boat | None = None


Busy = Mapping[str, Sequence[tuple[datetime, datetime]]]
"""By the id of a boat, when it is out."""


def first_request(boat: Boat, party: Party, base: RuleBase, number: int = 0) -> AdviceRequest:
    """The request for advice for one of the riders, everybody else aboard.

    Where nobody was named the rider is one whose mass was not told, if there is one.
    """
    rider = party.riders[number] if party.riders else Rider()
    crew = list(everybody(party, base))
    masses, place = party.guests()
    unknown = [index for index, mass in enumerate(masses) if mass is None]
    if crew:
        crew.pop(place.get(number, unknown[0] if unknown else 0))
    side = None if rider.stance is not None else Side.PORT
    return AdviceRequest(
        boat=boat, rider=rider, crew=tuple(crew), water=party.water, fuel=party.fuel,
        surf_side=side,
    )  # fmt: skip


def everybody(party: Party, base: RuleBase) -> tuple[Person, ...]:
    """The guests, then the staff, each with a mass and what the dock calls them.

    A rider goes by the kept one's id, or by the place in the list; other guests by their place.
    """
    usual = base.number("defaults.person_mass")
    masses, place = party.guests()
    riders = {
        guest: party.riders[number].id or f"rider {number + 1}" for number, guest in place.items()
    }
    guests = [
        Person(
            mass=usual if mass is None else mass,
            role=Role.GUEST,
            name=riders.get(number, f"guest {number + 1}"),
        )
        for number, mass in enumerate(masses)
    ]
    staff = [
        Person(mass=usual, role=Role.CREW, name=f"staff {number + 1}")
        for number in range(party.staff)
    ]
    return (*guests, *staff)


def fit(boat: Boat, party: Party, base: RuleBase) -> Fit:
    """Whether the party fits on this boat at all, whatever else is booked."""
    people = everybody(party, base)
    if len(people) < 2:
        return Fit(boat, fits=False, reasons=(Reason("nobody_drives"),))
    full = {tank.id: base.number("ballast.factory_fill") / 100.0 for tank in boat.tanks}
    loading = check_loading(
        LoadingRequest(boat, people, full, water=party.water, fuel=party.fuel, angles=()), base
    )
    mass = math.fsum(person.mass or 0.0 for person in people)
    water = loading.at_rest.density * math.fsum(full[t.id] * t.capacity for t in boat.tanks)
    over = _beyond_limits(boat, len(people), mass, water)
    hard = [reason for reason in over if reason.code not in WITH_CARE]
    found = Fit(
        boat,
        fits=not hard,
        reasons=tuple(hard or over),
        most=_most(boat, party, people, water) if over else None,
        less_water=sum(r.numbers["over"] for r in hard or over if r.code == "full_tanks"),
    )
    if loading.at_rest.status is not Status.FLOATS:
        found = replace(found, fits=False, reasons=(*found.reasons, Reason("swamped")))
    if not found.fits or (_is_plain(boat, party, loading, base) and _is_crewed(boat, people, base)):
        return found
    # Riders alike are asked for once, those whose side nobody told on both.
    asked = {
        (rider, side): replace(first_request(boat, party, base, number), surf_side=side)
        for number, rider in enumerate(party.riders or (Rider(),))
        for side in ((None,) if rider.stance is not None else Side)
    }
    for request in asked.values():
        advice = advise(request, base)
        if advice.verdict is Verdict.DO_NOT_GO:
            reasons = (*found.reasons, *_why_not(advice))
            return replace(found, fits=False, reasons=reasons, advice=advice)
    return found


def _why_not(advice: Advice) -> list[Reason]:
    """Whom the party lacks, and whether anything else forbids to go."""
    crew = advice.facts["crew"]
    lacks = {
        "nobody_drives": crew["driver"] in ("none", "unfit"),
        "nobody_watches": crew["observer"] in ("none", "unfit") and crew["mirror_allowed"] == "no",
    }
    grave = {f.rule for f in advice.firings if f.rule.verdict is Verdict.DO_NOT_GO}
    other = any(fact.kind != "crew" for rule in grave for fact in rule.facts)
    codes = [code for code, lacking in lacks.items() if lacking]
    return [Reason(code) for code in (codes if codes and not other else [*codes, "unsafe"])]


def _is_plain(boat: Boat, party: Party, loading: LoadingCheck, base: RuleBase) -> bool:
    """Whether the advice for a rider need not be worked out to know that it is not against going.

    With full tanks and everybody aboard no rule finds anything in how the boat lies, and none
    forbids the drive. That the advice then never says not to go is not proved; a test holds it
    over many loads, and the sheet shows the advice itself in any case. It saves most of the time
    of a long list.
    """
    facts = {
        "boat": tell.boat_facts(boat, Side.PORT),
        "water": tell.water_facts(party.water),
        **loading.facts,
    }
    fired, _ = evaluate(base, facts, [Stage.LIMITS, Stage.CHECKS])
    return not any(
        firing.rule.verdict is Verdict.DO_NOT_GO
        or (firing.rule.verdict is not None and firing.rule.stage is Stage.CHECKS)
        for firing in fired
    )


def _is_crewed(boat: Boat, people: Iterable[Person], base: RuleBase) -> bool:
    """Whether someone able drives and another one watches, whoever of them rides."""
    rules = CrewRules.of(base)
    able = [person for person in people if rules.may_drive(person) and rules.may_watch(person)]
    return has_drivers_seat(boat.seats) and len(able) >= DRIVER_OBSERVER_AND_RIDER


def choose(
    boats: Sequence[Boat],
    wanted: str,
    busy: Busy,
    party: Party,
    fit_of: Callable[[Boat], Fit],
    before: str | None = None,
) -> Answer:
    """The boat for the party: the one ``wanted``, or of any the smallest that does.

    A boat whose limits are not all known comes after those that are known to do. ``before`` is the
    boat that the party had: of several that do, it keeps it. ``boats`` is never empty. Where none
    does, the answer is the nearest miss: a boat that takes the party with less water, else with too
    few places to sit, else one that is only out at that time, else the one that takes most. That a
    boat is out is no reason where the party does not fit on it anyway. Raises ``KeyError`` when the
    wanted one is not among them.
    """

    def out(boat: Boat) -> Reason | None:
        for starts, ends in busy.get(boat.id, ()):
            if starts < party.ends and party.starts < ends:
                return Reason("taken", _times(starts, ends))
        return None

    def found(boat: Boat) -> Fit:
        fit, taken = fit_of(boat), out(boat)
        return fit if taken is None or not fit.fits else Fit(boat, False, (taken,))

    ordered = sorted(boats, key=lambda boat: (_unknown(boat), _size(boat), boat.id))
    if wanted != ANY:
        asked = {boat.id: boat for boat in boats}[wanted]
        first = found(asked)
        if first.fits and not first.reasons:
            return Answer(first)
        others = (found(boat) for boat in ordered if boat.id != wanted and out(boat) is None)
        return Answer(first, next((o.boat for o in others if o.fits and not o.reasons), None))
    kept = [boat for boat in ordered if boat.id == before]
    for boat in [*kept, *(boat for boat in ordered if boat.id != before)]:
        if out(boat) is None and (fit := found(boat)).fits and not fit.reasons:
            return Answer(fit)
    return Answer(max(map(found, ordered), key=_nearness))


def _nearness(fit: Fit) -> tuple[float, ...]:
    """How near a boat comes to taking the party, the larger the nearer."""
    known, size, codes = -_unknown(fit.boat), _size(fit.boat), {r.code for r in fit.reasons}
    if fit.fits:
        return 2.0, -float("places" in codes), -fit.less_water, known, *size
    if "taken" in codes:
        return 1.0, known, *(-each for each in size)
    return 0.0, float(fit.most or 0), known, *size


def _unknown(boat: Boat) -> int:
    """How many of the limits that a boat is chosen by nobody knows: it may be too small."""
    return (boat.limits.persons, boat.limits.load_mass).count(None)


def _size(boat: Boat) -> tuple[float, float]:
    return float(boat.limits.persons or 0), boat.length_overall


def _times(starts: datetime, ends: datetime) -> dict[str, float]:
    return {"starts": starts.timestamp(), "ends": ends.timestamp()}


def _beyond_limits(boat: Boat, people: int, mass: float, water: float) -> list[Reason]:
    limits, places = boat.limits, _places(boat)
    found = []
    if places is not None and people > places:
        found.append(_over("places", people - places, places))
    if limits.persons is not None and people > limits.persons:
        found.append(_over("persons", people - limits.persons, limits.persons))
    if limits.persons_mass is not None and mass > limits.persons_mass:
        found.append(_over("people_mass", mass - limits.persons_mass, limits.persons_mass))
    if limits.load_mass is None:
        return found
    # Where the maker does not say whether the water counts, it does.
    counted = water if limits.includes_ballast is not False else 0.0
    if mass > limits.load_mass:
        found.append(_over("load", mass - limits.load_mass, limits.load_mass))
    elif mass + counted > limits.load_mass:
        found.append(_over("full_tanks", mass + counted - limits.load_mass, limits.load_mass))
    return found


def _places(boat: Boat) -> int | None:
    """How many can sit; ``None`` where no seats were told. Everybody sits on the way out."""
    return sum(seat.places for seat in boat.seats) or None


def _over(code: str, over: float, limit: float) -> Reason:
    return Reason(code, {"over": float(over), "limit": float(limit)})


def _most(boat: Boat, party: Party, people: Iterable[Person], water: float) -> int:
    """Guests that fit with full tanks: the room of limits and seats over the party's mean mass."""
    masses = [person.mass or 0.0 for person in people]
    guests, staff = masses[: party.people], math.fsum(masses[party.people :])
    mean = math.fsum(guests) / len(guests)
    limits = boat.limits
    rooms: list[float] = [float(party.people)]
    rooms += [most - party.staff for most in (limits.persons, _places(boat)) if most is not None]
    if limits.persons_mass is not None:
        rooms.append((limits.persons_mass - staff) / mean)
    if limits.load_mass is not None:
        counted = water if limits.includes_ballast is not False else 0.0
        rooms.append((limits.load_mass - staff - counted) / mean)
    return max(0, math.floor(min(rooms) + 1e-9))
