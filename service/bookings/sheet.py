"""What the dock does before and with a party."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.advise import advise
from service.advice.answer import Advice
from service.boats.model import Boat, Side
from service.bookings.fit import Party, first_request


@dataclass(frozen=True, slots=True)
class Turn:
    """Advice for one rider (by index, ``None`` for one nobody named), on one side."""

    rider: int | None
    side_known: bool
    advice: Advice


@dataclass(frozen=True, slots=True)
class Filling:
    """Water for a tank before the party comes: a fraction, m³, and seconds if the pump is known."""

    tank: str
    fill: float
    volume: float
    time: float | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """``fillings`` are common to all turns: what is filled now need not be let out again."""

    turns: tuple[Turn, ...]
    fillings: tuple[Filling, ...]


def prepare(boat: Boat, party: Party, base: RuleBase) -> Sheet:
    """The set-up for each rider, and what of it can be done before they come.

    Of a rider whose stance nobody told, both sides are worked out.
    """
    turns: list[Turn] = []
    for number in range(max(1, len(party.riders))):
        request = first_request(boat, party, base, number)
        rider = number if party.riders else None
        if request.rider.stance is not None:
            turns.append(Turn(rider, True, advise(request, base)))
            continue
        turns += [
            Turn(rider, False, advise(replace(request, surf_side=side), base)) for side in Side
        ]
    return Sheet(tuple(turns), _common(boat, turns))


def _common(boat: Boat, turns: Sequence[Turn]) -> tuple[Filling, ...]:
    fillings = []
    for number, tank in enumerate(boat.tanks):
        fill = min(turn.advice.setup.tanks[number].fill for turn in turns)
        volume = fill * tank.capacity
        time = volume / tank.fill_rate if tank.fill_rate else None
        fillings.append(Filling(tank.id, fill, volume, time))
    return tuple(fillings)
