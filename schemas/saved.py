"""A set-up that worked: by its id, or in the form of an answer of ``/v1/advice``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from schemas import error_texts as say
from schemas import plain
from schemas.boat import BoatSchema
from schemas.fields import Choice, Either, Identifier, Quantity
from schemas.known import KnownBoat, KnownSetup, Setups
from schemas.record import InputSchema
from schemas.units import Dimension
from service.advice.requests import KeptSetup, Rider, Saved
from service.boats.fleet import Boats
from service.boats.model import Boat, Side


class SavedPlatesSchema(InputSchema):
    """Travel of each plate; null where none is fitted, or where it is not known."""

    centre = Quantity(Dimension.PERCENT, 0, 100, load_default=None, allow_none=True)
    port = Quantity(Dimension.PERCENT, 0, 100, load_default=None, allow_none=True)
    starboard = Quantity(Dimension.PERCENT, 0, 100, load_default=None, allow_none=True)


class SavedTankSchema(InputSchema):
    """What was in one tank."""

    class Meta:
        # An answer's tank says more: what was in it before, its volume and its mass.
        unknown = "exclude"

    tank = Identifier(required=True)
    fill = Quantity(Dimension.PERCENT, 0, 150, required=True)


class SavedSettingsSchema(InputSchema):
    """``setup`` of an answer of ``/v1/advice``; seating may come along and is passed over."""

    class Meta:
        unknown = "exclude"

    surf_side = Choice(Side, required=True)
    speed = Quantity(Dimension.SPEED, 5, 40, required=True, metadata={"description": "By GPS."})
    plates = plain.Nested(SavedPlatesSchema(), load_default=dict)
    tanks = plain.List(
        plain.Nested(SavedTankSchema()), load_default=list, validate=plain.Length(max=40)
    )


class SavedSetupSchema(InputSchema):
    """A set-up that worked for this rider, in the form of an answer of ``/v1/advice``.

    With how the boat lay at rest: ``displacement``, ``heel`` and ``trim`` of ``predicted.at_rest``.
    """

    def __init__(self, boats: Boats, **kwargs: Any) -> None:
        self.boats = boats
        super().__init__(**kwargs)

    boat = Either(
        {str: KnownBoat(), dict: plain.Nested(BoatSchema())},
        say.BOAT_FORM,
        load_default=None,
        metadata={
            "description": "The boat it was set on; left out or the same id: the one of this "
            "request. From another boat it is carried over by physics, and marked so."
        },
    )
    setup = plain.Nested(SavedSettingsSchema(), required=True)
    displacement = Quantity(
        Dimension.MASS, 50, 100_000, required=True,
        metadata={"description": "With the rider off the boat."},
    )  # fmt: skip
    heel = Quantity(
        Dimension.ANGLE, -30, 30, required=True,
        metadata={"description": "At rest, positive with the starboard side down."},
    )  # fmt: skip
    trim = Quantity(
        Dimension.ANGLE, -30, 30, required=True,
        metadata={"description": "At rest, positive with the bow up."},
    )  # fmt: skip


class SavedField(Either):
    """A set-up by its id or as an object, ``null`` for none; left out: the rider's own."""

    def __init__(self) -> None:
        super().__init__(
            {str: KnownSetup(), dict: plain.Nested(SavedSetupSchema)},
            say.SETUP_FORM,
            allow_none=True,
            metadata={
                "description": "A saved set-up's id, or the set-up. Left out, a rider who is given "
                "by id rides by the best of their own that are kept (on this boat, else carried "
                "over from another; not one that was rated below 3); null: none."
            },
        )

    def bound(self, boats: Boats) -> None:
        """Boats' ids are looked up there."""
        nested: Any = self.forms[dict]
        nested.nested = SavedSetupSchema(boats)


def take_saved(data: dict[str, Any], setups: Setups | None, boat: Boat) -> None:
    """Puts ``saved`` and ``own`` in the place of what was loaded for a rider."""
    if "saved" in data:
        told = data["saved"]
        data["saved"] = _saved(told, boat) if isinstance(told, Mapping) else told
        return
    rider: Rider = data["rider"]
    if setups is not None and rider.id is not None:
        data["own"] = setups.of_rider(rider.id, boat.id)


def side_of(saved: Any) -> Side | None:
    """The side that a saved set-up is for, as it was loaded; ``None`` where it does not say."""
    if isinstance(saved, KeptSetup):
        return saved.surf_side
    side: Side | None = saved["setup"]["surf_side"] if isinstance(saved, Mapping) else None
    return side


def _saved(data: Mapping[str, Any], boat: Boat) -> Saved:
    there, setup = data["boat"], data["setup"]
    return Saved(
        boat=None if there is None or there.id == boat.id != "inline" else there,
        surf_side=setup["surf_side"],
        speed=setup["speed"],
        plates=setup["plates"],
        tanks={tank["tank"]: tank["fill"] for tank in setup["tanks"]},
        displacement=data["displacement"],
        heel=data["heel"],
        trim=data["trim"],
    )
