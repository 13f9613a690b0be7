"""What is set at one moment, in the surf frame, and how it was before each change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from service.advice.balance.way import put
from service.advice.requests import Person
from service.advice.tuning.requests import PastChange
from service.boats.model import Boat, Side

KMH = 3.6
"""One m/s in km/h; rules speak of km/h."""


@dataclass(frozen=True, slots=True)
class State:
    """Speed in km/h, plates and fills in percent (``None``: not fitted), depth in m.

    ``people`` and ``fills`` are in the order of the loading condition, in the surf frame.
    """

    speed: float
    centre: float | None
    off_side: float | None
    surf_side: float | None
    fills: tuple[float, ...]
    people: tuple[Person, ...]
    depth: float | None

    @property
    def key(self) -> tuple[object, ...]:
        """What makes two states the same: steps finer than a gauge shows do not count."""
        seats = Counter((p.seat, p.x, p.y) for p in self.people)
        return (
            round(self.speed, 1),
            *(None if plate is None else round(plate) for plate in self.plates),
            tuple(round(fill) for fill in self.fills),
            frozenset(seats.items()),
            None if self.depth is None else round(self.depth, 1),
        )

    @property
    def plates(self) -> tuple[float | None, float | None, float | None]:
        return self.centre, self.off_side, self.surf_side


def earlier(state: State, history: Sequence[PastChange], boat: Boat, side: Side) -> list[State]:
    """The state before each change, the first one first. ``boat`` in the surf frame."""
    states: list[State] = []
    for past in reversed(history):
        state = set_back(state, past, boat, side)
        states.append(state)
    return states[::-1]


def set_back(state: State, past: PastChange, boat: Boat, side: Side) -> State:
    """The state before one change; levers without a number leave it as it is."""
    origin = past.origin
    if past.lever == "people" and isinstance(past.goal, str) and isinstance(origin, str):
        return reseat(state, past.goal, origin, past.people, past.persons)
    if past.lever == "tanks":
        fills = (past.tanks.get(tank.id) for tank in boat.tanks)
        return replace(
            state,
            fills=tuple(
                now if fill is None else round(100 * fill, 4)
                for now, fill in zip(state.fills, fills, strict=True)
            ),
        )
    if not isinstance(origin, float):
        return replace(state, depth=None) if past.lever == "depth" else state
    if past.lever == "speed":
        return replace(state, speed=origin * KMH)
    if past.lever == "depth":
        return replace(state, depth=origin)
    if past.lever.startswith("tanks."):
        number = [tank.id for tank in boat.tanks].index(past.lever.removeprefix("tanks."))
        return replace(state, fills=put(state.fills, number, origin * 100))
    if past.lever == "plates.centre":
        return replace(state, centre=origin * 100)
    if past.lever == f"plates.{side}":
        return replace(state, surf_side=origin * 100)
    return replace(state, off_side=origin * 100)


def reseat(state: State, origin: str, goal: str, people: int, persons: Sequence[int] = ()) -> State:
    """So many ``people`` who sit at ``origin`` go to ``goal``: those of these numbers, or else the
    lightest.
    """
    here = sitting(state.people, origin)
    named = [index for index in here if state.people[index].number in persons]
    others = [index for index in here if index not in named]
    chosen = {*named[:people], *others[: max(people - len(named), 0)]}
    return replace(
        state,
        people=tuple(
            person.on(goal) if index in chosen else person
            for index, person in enumerate(state.people)
        ),
    )


def sitting(people: Iterable[Person], seat: str, staying: Collection[int] = ()) -> list[int]:
    """Indices of the people on a seat but for those ``staying``, the lightest first."""
    here = [
        (person.kilograms, index)
        for index, person in enumerate(people)
        if person.seat == seat and index not in staying
    ]
    return [index for _, index in sorted(here)]
