"""``POST /v1/outing-plans``: what is asked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.advice_request import RiderSchema
from schemas.fields import Age, Choice, Count, Either, Identifier, Quantity, Text
from schemas.known import KnownRider, Riders, Setups
from schemas.people import Faults, label, seat_faults
from schemas.record import InputSchema
from schemas.request import MOST_PEOPLE, LoadedBoatSchema
from schemas.saved import SavedField, side_of, take_saved
from schemas.stored import When
from schemas.units import Dimension
from service.advice.requests import Rider
from service.boats.fleet import Boats
from service.boats.model import Boat, Side
from service.outings.requests import (
    Mode,
    OutingRequest,
    OutingRider,
    Place,
    Pumps,
)

MOST_RIDERS = 40
MOST_TURNS = 6
"""Of one rider."""
MOST_TURNS_IN_ALL = 40

NAME = "rider {number}"
"""Of a rider without one."""

_OPPOSITE = ((Place.FIRST, Place.NOT_FIRST), (Place.LAST, Place.NOT_LAST))


class OutingRiderSchema(InputSchema):
    """One rider of the outing."""

    def __init__(
        self, boats: Boats, riders: Riders | None, setups: Setups | None, **kwargs: Any
    ) -> None:
        self.boats, self.riders, self.setups = boats, riders, setups
        super().__init__(**kwargs)

    def on_bind_field(self, field_name: str, field_obj: Any) -> None:
        if isinstance(field_obj, SavedField):
            field_obj.bound(self.boats)

    name = Text(
        longest=24, load_default=None, metadata={"description": "What the crew calls the rider."}
    )
    age = Age(load_default=None)
    rider = Either(
        {str: KnownRider(), dict: plain.Nested(RiderSchema())},
        say.RIDER_FORM,
        required=True,
        metadata={"description": "A rider's id, or the rider, as for `/v1/advice`."},
    )
    minutes = Quantity(
        Dimension.TIME, 1, 600, load_default=None, metadata={"description": "Riding time wanted."}
    )
    turns = Count(
        1, MOST_TURNS, load_default=1,
        metadata={"description": "How many turns to split the minutes into."},
    )  # fmt: skip
    rest = Count(
        1, 10, load_default=1,
        metadata={"description": "Turns of others between two turns of this rider."},
    )  # fmt: skip
    wishes = plain.List(
        Choice(Place), load_default=list, validate=plain.Length(max=2),
        metadata={"description": "Wishes for the place in the order."},
    )  # fmt: skip
    surf_side = Choice(
        Side, load_default=None, metadata={"description": "Only to override the stance."}
    )
    seat = Identifier(
        load_default=None,
        metadata={"description": "Where the rider sits unless someone has to move."},
    )
    saved = SavedField()

    @validates_schema
    def _wishes_agree(self, data: dict[str, Any], **_: Any) -> None:
        wishes = data["wishes"]
        if len(set(wishes)) < len(wishes) or any(set(pair) <= set(wishes) for pair in _OPPOSITE):
            raise ValidationError(say.WISHES_DISAGREE, "wishes")

    @validates_schema(skip_on_field_errors=True)
    def _side_is_known(self, data: dict[str, Any], **_: Any) -> None:
        rider = data["rider"]
        side = side_of(data.get("saved"))
        told = data["surf_side"] is not None or side is not None
        if isinstance(rider, Rider) and rider.stance is None and not told:
            raise ValidationError(say.RIDERS_STANCE_OR_SIDE, "rider")
        if data["surf_side"] is not None and side not in (None, data["surf_side"]):
            raise ValidationError(say.SETUP_OF_OTHER_SIDE, "surf_side")


class OutingRequestSchema(LoadedBoatSchema):
    """Several riders on one boat. Loads to ``Asked[OutingRequest]``.

    ``crew`` stays aboard all the time, the driver among them; riders are aboard while others ride.
    """

    record = OutingRequest

    def on_bind_field(self, field_name: str, field_obj: Any) -> None:
        super().on_bind_field(field_name, field_obj)
        if field_name == "riders":
            riders: Any = self.riders  # where ids are looked up
            field_obj.inner.nested = OutingRiderSchema(self.boats, riders, self.setups)

    riders = plain.List(  # type: ignore[assignment]  # the field goes to self.fields
        plain.Nested(OutingRiderSchema), required=True,
        validate=plain.Length(min=1, max=MOST_RIDERS),
        metadata={"description": "Who rides. Where time is short the last in the list give way."},
    )  # fmt: skip
    start = When(
        load_default=None,
        metadata={"description": "When the boat sets out, with its offset from UTC."},
    )
    total_time = Quantity(
        Dimension.TIME, 5, 1440, load_default=None,
        metadata={"description": "From setting out to being back. Left out: as long as it takes."},
    )  # fmt: skip
    way = Quantity(
        Dimension.TIME, 0, 240, load_default=None,
        metadata={"description": "Out to the spot, and as long home."},
    )  # fmt: skip
    boarding = Quantity(
        Dimension.TIME, 0, 30, load_default=None,
        metadata={
            "description": "For a rider to get into the water, or back aboard.",
            "examples": ["60 s"],
        },
    )  # fmt: skip
    fuel_use = Quantity(
        Dimension.FLOW, 0, 10, load_default=None,
        metadata={"description": "Under way with a wave.", "examples": ["25 L/h", "7 gal/h"]},
    )  # fmt: skip
    least_turn = Quantity(
        Dimension.TIME, 1, 60, load_default=None,
        metadata={"description": "A shorter turn is not worth it."},
    )  # fmt: skip
    mode = Choice(
        Mode, load_default=Mode.EACH,
        metadata={
            "description": "A set-up for each rider, or one compromise for each side, or for all, "
            "in which people and loads stay where they are."
        },
    )  # fmt: skip
    pumps = Choice(
        Pumps, load_default=None,
        metadata={"description": "Whether pumps may run together, as far as the boat stays safe."},
    )  # fmt: skip

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _fits_together(self, data: dict[str, Any], original: Any, **_: Any) -> None:
        boat, riders = data.get("boat"), data.get("riders")
        crew = original.get("crew") if isinstance(original, dict) else None
        errors: dict[str, Any] = {}
        if isinstance(crew, int | list) and not crew:
            errors["crew"] = [say.SOMEONE_DRIVES]
        if isinstance(riders, list):
            listed = len(crew) if isinstance(crew, list) else 0
            many = len(riders) + (crew if isinstance(crew, int) else listed)
            if many > MOST_PEOPLE:
                errors["riders"] = [say.TOO_MANY_PEOPLE.format(most=MOST_PEOPLE)]
            elif all(isinstance(rider, dict) and "turns" in rider for rider in riders):
                turns = sum(rider["turns"] for rider in riders)
                if turns > MOST_TURNS_IN_ALL:
                    too_many = say.TOO_MANY_TURNS.format(turns=turns, most=MOST_TURNS_IN_ALL)
                    errors["riders"] = [too_many]
            if isinstance(boat, Boat) and "riders" not in errors:
                errors["riders"] = dict(_seat_faults(boat, riders, crew))
        if any(errors.values()):
            raise ValidationError({name: found for name, found in errors.items() if found})

    @post_load
    def _asked(self, data: dict[str, Any], **kwargs: Any) -> Any:
        boat = data["boat"]
        crew = data["crew"] or []
        # Nobody of the crew is called as a rider is.
        taken = {each.name for each in crew if each.name} if isinstance(crew, list) else set()
        for rider in data["riders"]:
            take_saved(rider, self.setups, boat)
        data["riders"] = [
            _rider(number, rider, taken) for number, rider in enumerate(data["riders"], 1)
        ]
        return super()._asked(data, **kwargs)


def _rider(number: int, data: dict[str, Any], taken: set[str]) -> OutingRider:
    """Everybody has a name of their own."""
    name = data["name"] or NAME.format(number=number)
    if name in taken:
        name = f"{name} ({number})"
    taken.add(name)
    return OutingRider(
        name=name,
        age=data["age"],
        rider=data["rider"],
        wanted=data["minutes"],
        turns=data["turns"],
        rest=data["rest"],
        place=tuple(data["wishes"]),
        surf_side=data["surf_side"],
        saved=data.get("saved"),
        own=data.get("own", ()),
        seat=data["seat"],
    )


def _seat_faults(boat: Boat, riders: list[Any], crew: Any) -> Iterator[tuple[int, Faults]]:
    """Seats the boat has not, and more people on a seat than it takes, by rider."""
    seated: dict[str, list[str]] = {}
    for number, person in enumerate(crew if isinstance(crew, list) else (), 1):
        seat = person.get("seat") if isinstance(person, dict) else None
        if isinstance(seat, str):
            seated.setdefault(seat, []).append(label(number, person))
    asked = (
        (label(number, rider, NAME), rider.get("seat") if isinstance(rider, dict) else None)
        for number, rider in enumerate(riders, 1)
    )
    return seat_faults(boat, asked, seated)
