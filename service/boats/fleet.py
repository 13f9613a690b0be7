"""Where a boat's id becomes a boat."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

from service.boats.model import Boat


class UnknownBoatError(LookupError):
    """No boat has this id; ``known`` are the ids there are."""

    def __init__(self, boat_id: str, known: Iterable[str]) -> None:
        self.boat_id = boat_id
        self.known = tuple(known)
        super().__init__(boat_id)


class Boats(Protocol):
    """Whatever can look a boat up: the demo fleet here, a store elsewhere."""

    def find(self, boat_id: str) -> Boat:
        """The boat, or :class:`UnknownBoatError`."""
        ...


class Fleet:
    """A fixed set of boats, in the order given."""

    def __init__(self, boats: Iterable[Boat]) -> None:
        self._boats = {boat.id: boat for boat in boats}

    def __iter__(self) -> Iterator[Boat]:
        return iter(self._boats.values())

    def find(self, boat_id: str) -> Boat:
        """The boat, or :class:`UnknownBoatError`."""
        try:
            return self._boats[boat_id]
        except KeyError:
            raise UnknownBoatError(boat_id, self._boats) from None
