"""The run as it is: what is set, who sits where, how the boat lies, what the advice would be."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace

from rules.base import RuleBase
from service.advice.answer import Advice, Shifting
from service.advice.crew import CrewRules, settle_roles
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.requests import AdviceRequest, Load, Person
from service.advice.situation import Assumption, Gaps, condition_of
from service.advice.tuning.requests import TuningRequest
from service.advice.tuning.state import KMH, State
from service.boats.model import Side

Advise = Callable[[AdviceRequest, RuleBase], Advice]

AS_ADVISED = "what the advice for this request gives; what is really so was not told"
SHIFTED = (
    "movable, so with the people whose seats were not told it goes where the advice puts it; not "
    "where it was told"
)


@dataclass(frozen=True, slots=True)
class Run:
    """One moment of a run; ``condition`` and ``state`` in the surf frame.

    ``advised`` is the state that the advice gives; ``lean`` and ``trim`` (degrees) are those of the
    advised loading, ``None`` where it does not float. ``staying``: indices of the driver, the
    observer and children, who are not moved.
    """

    base: RuleBase
    advice: Advice
    side: Side
    condition: LoadingCondition
    staying: frozenset[int]
    state: State
    advised: State
    lean: float | None
    trim: float | None
    assumed: tuple[Assumption, ...]

    @property
    def density(self) -> float:
        """Of the water (kg/m³)."""
        return self.condition.density

    def loaded(self, state: State) -> LoadingCondition:
        """Everything aboard in ``state``."""
        fills = tuple(fill / 100.0 for fill in state.fills)
        return replace(self.condition, people=state.people, fills=fills)

    def lie(self, state: State) -> Attitude:
        return self.loaded(state).attitude()

    def water(self, fills: Sequence[float], only_off_side: bool = False) -> float:
        """Mass (kg) of the water in the tanks at these fills (percent)."""
        return self.condition.water_mass(
            fill / 100 if tank.y < 0 or not only_off_side else 0.0
            for fill, tank in zip(fills, self.condition.boat.tanks, strict=True)
        )

    def lean_over(self, attitude: Attitude) -> float | None:
        """Lean beyond the advised one, degrees."""
        return _beyond(attitude.lean, self.lean)

    def bow_over(self, attitude: Attitude) -> float | None:
        """Bow up beyond the advised trim, degrees."""
        return _beyond(attitude.trim, self.trim)


def _beyond(angle: float | None, advised: float | None) -> float | None:
    return None if angle is None or advised is None else angle - advised


def run_of(request: TuningRequest, base: RuleBase, advise: Advise) -> Run:
    """The run with every gap filled by what ``advise`` gives for the same request.

    Loads lie where they were told. Only where someone's seat is filled in, movable ones go along,
    to where the advice puts them.
    """
    told = request.settings.tanks if request.settings.tanks is not None else request.ballast
    asked = {field.name: getattr(request, field.name) for field in fields(AdviceRequest)}
    asked["surf_side"] = request.settings.surf_side or request.surf_side
    plain = AdviceRequest(**asked | {"ballast": told})
    advice = advise(plain, base)
    side = advice.setup.surf_side
    condition = condition_of(plain, side, Gaps(base))
    assumed = list(_gaps(request, advice))
    people = condition.people
    if any(not person.placed for person in people):
        # Seats and loads of the advice are one plan: half of it would be a boat that nobody rides.
        loads = tuple(_stowed(request, advice, assumed))
        condition = condition_of(replace(plain, loads=loads), side, Gaps(base))
        people = _seated(people, advice)
        assumed.append(Assumption("/crew/*/seat", "as advised", "", AS_ADVISED))
    advised = _advised(advice, condition, people, _depth(request))
    rest = advice.at_rest
    rules = CrewRules.of(base)
    roles = settle_roles(replace(condition, people=people), rules)
    staying = {index for index, person in enumerate(people) if rules.is_child(person)}
    staying |= {index for index in (roles.driver, roles.observer) if index is not None}
    return Run(
        base=base,
        advice=advice,
        side=side,
        condition=condition,
        staying=frozenset(staying),
        state=_told(request, told, advised, condition, side, assumed),
        advised=advised,
        lean=None if rest.heel is None else -side.across(math.degrees(rest.heel)) + 0.0,
        trim=None if rest.trim is None else math.degrees(rest.trim),
        assumed=tuple(assumed),
    )


def _gaps(request: TuningRequest, advice: Advice) -> Iterator[Assumption]:
    """What the advice assumed; a tank left out among others is empty here as there.

    Only where none was told are they not empty but as advised.
    """
    for gap in advice.assumed:
        tank = gap.pointer.removeprefix("/ballast/")
        if tank != gap.pointer and request.settings.tanks is not None:
            yield replace(gap, pointer=f"/settings/tanks/{tank}")
        elif gap.pointer != "/ballast":
            yield gap


def _stowed(request: TuningRequest, advice: Advice, assumed: list[Assumption]) -> Iterator[Load]:
    """The loads, those that the advice shifts where it puts them; each of these is ``assumed``."""
    shifts = list(advice.setup.loads)
    seats = {seat.id: seat for seat in request.boat.seats}
    for number, load in enumerate(request.loads):
        shift = next((each for each in shifts if load.movable and _is_of(each, load)), None)
        if shift is None:
            yield load
            continue
        shifts.remove(shift)
        assumed.append(Assumption(f"/loads/{number}", f"at {shift.goal}", "", SHIFTED))
        seat = seats[shift.goal]
        yield replace(load, x=seat.x, y=seat.y)


def _is_of(shift: Shifting, load: Load) -> bool:
    told = (load.name, load.mass, load.x, load.y, load.z)
    return (shift.name, shift.mass, shift.x, shift.y, shift.z) == told


def _seated(people: Iterable[Person], advice: Advice) -> tuple[Person, ...]:
    """Those without a place on the seats that the advice gives them."""
    return tuple(
        person if person.placed or entry.goal is None else person.on(entry.goal)
        for person, entry in zip(people, advice.setup.seating, strict=True)
    )


def _depth(request: TuningRequest) -> float | None:
    """The depth told, or a greater one gone to since: what was told may be of before that."""
    goals = (past.goal for past in request.history if past.lever == "depth")
    known = [depth for depth in (request.water.depth, *goals) if isinstance(depth, float)]
    return max(known, default=None)


def _advised(
    advice: Advice, condition: LoadingCondition, people: tuple[Person, ...], depth: float | None
) -> State:
    setup = advice.setup
    off, surf = setup.starboard_plate, setup.port_plate
    if setup.surf_side is Side.STARBOARD:
        off, surf = surf, off
    fills = {tank.tank: tank.fill for tank in setup.tanks}
    return State(
        speed=round(setup.speed * KMH, 4),
        centre=_percent(setup.centre_plate),
        off_side=_percent(off),
        surf_side=_percent(surf),
        fills=tuple(_hundred(fills[tank.id]) for tank in condition.boat.tanks),
        people=people,
        depth=depth,
    )


def _percent(fraction: float | None) -> float | None:
    return None if fraction is None else _hundred(fraction)


def _hundred(fraction: float) -> float:
    return round(100.0 * fraction, 4)


def _told(
    request: TuningRequest,
    tanks: object,
    advised: State,
    condition: LoadingCondition,
    side: Side,
    assumed: list[Assumption],
) -> State:
    """The advised state with whatever was told in its place; the rest is listed as assumed."""
    settings = request.settings

    def plate(name: str, given: float | None, otherwise: float | None) -> float | None:
        if otherwise is None:
            return None  # not fitted
        if given is not None:
            return _hundred(given)
        pointer = f"/settings/plates/{name}"
        assumed.append(Assumption(pointer, otherwise / 100, "percentage", AS_ADVISED))
        return otherwise

    speed = advised.speed
    if settings.speed is not None:
        speed = round(settings.speed * KMH, 4)
    else:
        assumed.append(Assumption("/settings/speed", speed / KMH, "speed", AS_ADVISED))
    told = {"port": settings.plates.port, "starboard": settings.plates.starboard}
    fills = advised.fills
    if tanks is not None:
        fills = tuple(_hundred(fill) for fill in condition.fills)
    else:
        for tank, fill in zip(condition.boat.tanks, fills, strict=True):
            pointer = f"/settings/tanks/{tank.id}"
            assumed.append(Assumption(pointer, fill / 100, "percentage", AS_ADVISED))
    return replace(
        advised,
        speed=speed,
        centre=plate("centre", settings.plates.centre, advised.centre),
        off_side=plate(side.other.value, told[side.other.value], advised.off_side),
        surf_side=plate(side.value, told[side.value], advised.surf_side),
        fills=fills,
    )
