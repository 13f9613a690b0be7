"""Ids in a request: where each becomes what it stands for is told to the request's schema."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any, Protocol

from marshmallow import ValidationError

from schemas import error_texts as say
from schemas import plain
from schemas.plain import shown
from service.advice.requests import KeptSetup, Rider
from service.boats.fleet import Boats

ALIKE = 0.5
"""From this share of letters in common on (as difflib reckons it) a name is near another one."""


class OneOfNames(plain.OneOf):
    """One of the names of a table; the error tells what was sent and the names near it."""

    def __call__(self, value: Any) -> Any:
        if value not in self.choices:
            near = _near(value, [str(name) for name in self.choices])
            told = say.NEAR_IT.format(names=", ".join(near)) if near else ""
            raise ValidationError(self.error.format(value=shown(value), near=told))
        return value


def _near(value: str, names: list[str]) -> list[str]:
    """Those that have what was written in them, then those written alike; at most three."""
    written = value.strip().casefold().replace(" ", "_").replace("-", "_")
    within = [name for name in names if written in name] if len(written) > 2 else []
    alike = get_close_matches(written, names, cutoff=ALIKE)
    return list(dict.fromkeys([*within, *alike]))[:3]


class KnownBoat(plain.String):
    """The id of a boat, looked up where the request's schema says; unknown is a 404."""

    says = say.GIVE_ID

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        boats: Boats = self.root.boats  # type: ignore[union-attr]
        return boats.find(super()._deserialize(value, attr, data, **kwargs))


class Riders(Protocol):
    """Where a rider's id becomes a rider."""

    def find(self, rider_id: str) -> Rider:
        """The rider; the error for an unknown one is a ``LookupError``."""
        ...


class KnownRider(plain.String):
    """The id of a rider, looked up where the request's schema says; unknown is a 404."""

    says = say.GIVE_ID

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        riders: Riders | None = self.root.riders  # type: ignore[union-attr]
        rider_id = super()._deserialize(value, attr, data, **kwargs)
        if riders is None:
            raise ValidationError(say.NO_RIDERS_KEPT)
        return riders.find(rider_id)


class Setups(Protocol):
    """Where a saved set-up's id becomes a set-up, and where a rider's own are found."""

    def find(self, setup_id: str) -> KeptSetup:
        """The set-up; the error for an unknown one is a ``LookupError``."""
        ...

    def of_rider(self, rider_id: str, boat_id: str) -> tuple[KeptSetup, ...]:
        """The rider's own that worked: on this boat first, then the best, then the latest."""
        ...


class KnownSetup(plain.String):
    """The id of a saved set-up, looked up where the request's schema says; unknown is a 404."""

    says = say.GIVE_ID

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        setups: Setups | None = self.root.setups  # type: ignore[union-attr]
        setup_id = super()._deserialize(value, attr, data, **kwargs)
        if setups is None:
            raise ValidationError(say.NO_SETUPS_KEPT)
        return setups.find(setup_id)
