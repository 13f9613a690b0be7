"""What seats are for where nobody said: a matter of where they are, never of their ids."""

from __future__ import annotations

from collections.abc import Iterable

from service.boats.model import Seat, SeatRole

BOW_FROM = 2.0 / 3.0
"""Fraction of the boat's length from the transom forward of which a seat is in the bow."""
STERN_TO = 1.0 / 5.0
"""Fraction of the boat's length from the transom aft of which a seat is in the stern."""


def role_by_place(x: float, length: float) -> SeatRole:
    """Bow, cockpit or stern for a seat at ``x`` (m) of a boat of this ``length`` (m).

    Never the driver's or the observer's: which seat has the wheel cannot be told from its place.
    """
    if x > BOW_FROM * length:
        return SeatRole.BOW
    return SeatRole.STERN if x < STERN_TO * length else SeatRole.COCKPIT


def has_drivers_seat(seats: Iterable[Seat]) -> bool:
    """Whether anybody can sit at the wheel."""
    return any(seat.role is SeatRole.DRIVER for seat in seats)
