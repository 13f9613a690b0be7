"""What the dock does before and with a party."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.requests import KeptSetup
from service.advice.saved import Beside, beside
from service.boats.model import Boat, Side
from service.bookings.fit import Party, everybody, first_request


@dataclass(frozen=True, slots=True)
class Turn:
    """Advice for one rider (by index, ``None`` for one nobody named), on one side.

    ``saved``: the rider's own set-up for that side, beside it.
    """

    rider: int | None
    advice: Advice
    saved: Beside | None = None


@dataclass(frozen=True, slots=True)
class Filling:
    """Water for a tank before the party comes: a fraction, m³, and seconds if the pump is known."""

    tank: str
    fill: float
    volume: float
    time: float | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """``fillings`` are common to all set-ups: what is filled now need not be let out again.

    ``gone``: riders of whom nothing is kept any more, and what each is taken to weigh (kg) while
    others ride.
    """

    turns: tuple[Turn, ...]
    fillings: tuple[Filling, ...]
    gone: Mapping[int, float]


def prepare(
    boat: Boat, party: Party, base: RuleBase, own: Mapping[int, tuple[KeptSetup, ...]],
    gone: Iterable[int] = (),
) -> Sheet:  # fmt: skip
    """The set-up for each rider, and what of it can be done before they come.

    Of a rider whose stance nobody told, both sides are worked out. ``own``: by rider, their own
    saved set-ups, the best one first. ``gone``: riders of whom nothing is kept any more.
    """
    turns: list[Turn] = []
    for number in range(max(1, len(party.riders))):
        request = first_request(boat, party, base, number)
        request = replace(request, own=own.get(number, ()))
        known = request.rider.stance is not None
        for side in (None,) if known else Side:
            asked = replace(request, surf_side=side)
            advice = advise(asked, base)
            saved = beside(asked, base, advice.setup.surf_side)
            turns.append(Turn(number if party.riders else None, advice, saved))
    people, (_, place) = everybody(party, base), party.guests()
    masses = {number: people[place[number]].mass or 0.0 for number in gone}
    return Sheet(tuple(turns), _common(boat, turns), masses)


def _common(boat: Boat, turns: Sequence[Turn]) -> tuple[Filling, ...]:
    setups = [turn.advice.setup for turn in turns]
    setups += [turn.saved.concluded.setup for turn in turns if turn.saved and turn.saved.usable]
    fillings = []
    for number, tank in enumerate(boat.tanks):
        fill = min(setup.tanks[number].fill for setup in setups)
        volume = fill * tank.capacity
        time = volume / tank.fill_rate if tank.fill_rate else None
        fillings.append(Filling(tank.id, fill, volume, time))
    return tuple(fillings)
