"""What every request about a loaded boat has in common."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, TypeVar

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.boat import BoatSchema, outside
from schemas.fields import Choice, Count, Either, Flag, Identifier, Quantity, QuantityByName, Text
from schemas.known import KnownBoat, KnownRider, Riders, Setups
from schemas.plain import shown as shown_value
from schemas.record import InputSchema, RecordSchema, as_record
from schemas.units import Dimension, System, using
from service.advice.requests import Load, Person, Rider, Water, WaterKind
from service.boats.fleet import Boats
from service.boats.model import Boat

MOST_PEOPLE = 60
MOST_LOADS = 40

RequestT = TypeVar("RequestT")


@dataclass(frozen=True, slots=True)
class Asked(Generic[RequestT]):
    """A request in SI, and the system of units its answer is to be written in."""

    request: RequestT
    system: System


class UnitsSchema(InputSchema):
    """A request whose plain numbers are read in the system that it names itself."""

    units = Choice(
        System,
        load_default=System.METRIC,
        metadata={
            "description": "What plain numbers are read in and the answer is written in: "
            "metric (kg, m, L, km/h, °C, min, L/min) or us (lb, ft, US gal, mph, °F, min, "
            "US gal/min). Percentages and degrees are the same in both.",
        },
    )

    def load(self, data: Any, **kwargs: Any) -> Any:
        named = data.get("units") if isinstance(data, Mapping) else None
        # A name that is neither is reported by the field itself.
        with using(System.US if named == System.US.value else System.METRIC):
            return super().load(data, **kwargs)


class PersonSchema(RecordSchema):
    """Somebody aboard: at a seat, or at a place given by ``x`` and ``y``, or anywhere."""

    record = Person

    def __init__(self, riders: Riders | None = None, **kwargs: Any) -> None:
        self.riders = riders
        super().__init__(**kwargs)

    mass = Quantity(
        Dimension.MASS, 3, 250, load_default=None, metadata={"description": "Body mass."}
    )
    rider = KnownRider(
        load_default=None,
        metadata={"description": "Id of a kept rider, whose body mass it is; instead of mass."},
    )
    seat = Identifier(load_default=None, metadata={"description": "Id of a seat of the boat."})
    x = Quantity(
        Dimension.LENGTH,
        -2,
        15,
        load_default=None,
        metadata={"description": "Forward of the transom."},
    )
    y = Quantity(
        Dimension.LENGTH,
        -3,
        3,
        load_default=None,
        metadata={"description": "To port of the centreline."},
    )

    @validates_schema
    def _one_place(self, data: dict[str, Any], **_: Any) -> None:
        has_x, has_y = data["x"] is not None, data["y"] is not None
        if has_x != has_y:
            raise ValidationError(say.X_AND_Y, "y" if has_x else "x")
        if has_x and data["seat"] is not None:
            raise ValidationError(say.SEAT_OR_PLACE, "seat")

    @validates_schema
    def _one_mass(self, data: dict[str, Any], **_: Any) -> None:
        if data["mass"] is not None and data.get("rider") is not None:
            raise ValidationError(say.MASS_OR_RIDER, "rider")

    @post_load
    def _record(self, data: dict[str, Any], **kwargs: Any) -> Any:
        rider: Rider | None = data.pop("rider", None)
        return super()._record(data if rider is None else data | {"mass": rider.mass}, **kwargs)


class LoadSchema(RecordSchema):
    """A bag or gear aboard."""

    record = Load

    mass = Quantity(Dimension.MASS, 0, 2000, required=True)
    x = Quantity(
        Dimension.LENGTH,
        -2,
        15,
        required=True,
        metadata={"description": "Forward of the transom."},
    )
    y = Quantity(
        Dimension.LENGTH,
        -3,
        3,
        required=True,
        metadata={"description": "To port of the centreline."},
    )
    z = Quantity(
        Dimension.LENGTH,
        -1,
        5,
        required=True,
        metadata={"description": "Above the keel line."},
    )
    name = Text(load_default="load", metadata={"description": "What it is."})
    movable = Flag(
        load_default=False,
        metadata={
            "description": "People aboard can shift it: to beside any seat but the helm, at its "
            "own height, where it takes no place."
        },
    )


class WaterSchema(RecordSchema):
    """The water, as far as it is known."""

    record = Water

    kind = Choice(WaterKind, load_default=None)
    temperature = Quantity(Dimension.TEMPERATURE, -2, 40, load_default=None)
    depth = Quantity(
        Dimension.LENGTH,
        0.3,
        300,
        load_default=None,
        metadata={"description": "Least depth along the run.", "examples": ["6 m", "20 ft"]},
    )
    distance_to_shore = Quantity(
        Dimension.LENGTH,
        0,
        20000,
        load_default=None,
        metadata={
            "description": "Least distance to shore, docks and other boats along the run.",
            "examples": ["150 m", "500 ft"],
        },
    )


class LoadedBoatSchema(UnitsSchema):
    """A boat and what is aboard. Ids are looked up in ``boats``, ``riders`` and ``setups``."""

    record: ClassVar[type[Any]]

    def __init__(
        self,
        boats: Boats,
        riders: Riders | None = None,
        setups: Setups | None = None,
        **kwargs: Any,
    ) -> None:
        self.boats, self.riders, self.setups = boats, riders, setups
        super().__init__(**kwargs)

    def on_bind_field(self, field_name: str, field_obj: Any) -> None:
        if field_name == "crew":
            field_obj.forms[list].inner.nested = PersonSchema(self.riders)

    boat = Either(
        {str: KnownBoat(), dict: plain.Nested(BoatSchema())},
        say.BOAT_FORM,
        required=True,
        metadata={"description": "A boat's id, or the boat itself."},
    )
    crew = Either(
        {
            int: Count(0, MOST_PEOPLE),
            list: plain.List(plain.Nested(PersonSchema), validate=plain.Length(max=MOST_PEOPLE)),
        },
        say.CREW_FORM,
        load_default=None,
        metadata={
            "description": "Everybody aboard while the rider rides, the driver included and the "
            "rider not: how many, or each one."
        },
    )
    ballast = QuantityByName(
        Quantity(Dimension.PERCENT, 0, 150),
        load_default=None,
        metadata={
            "description": "What is in the tanks now: percent of capacity by tank id, at most "
            "the tank's max_fill."
        },
    )
    # marshmallow takes fields out of the class, so Schema.loads() stays what it is.
    loads = plain.List(  # type: ignore[assignment]
        plain.Nested(LoadSchema()),
        validate=plain.Length(max=MOST_LOADS),
        load_default=list,
        metadata={"description": "Bags and gear."},
    )
    water = plain.Nested(WaterSchema(), load_default=Water)
    fuel = Quantity(
        Dimension.PERCENT,
        0,
        100,
        load_default=None,
        metadata={"description": "Fuel in the tank, of its capacity."},
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _fits_the_boat(self, data: dict[str, Any], original: Any, **_: Any) -> None:
        boat = data.get("boat")
        if not isinstance(boat, Boat):
            return  # its own errors say why
        errors: dict[str, Any] = {}
        # Seats from what was sent: in ``data`` an entry with an error may be left out of its list.
        if isinstance(crew := original.get("crew"), list):
            errors["crew"] = _seat_faults(boat, crew) | _twice(original, crew)
        for name in ("crew", "loads"):
            for index, fault in _place_faults(boat, original.get(name), data.get(name)):
                errors.setdefault(name, {}).setdefault(index, {}).update(fault)
        fills = {tank.id: tank.max_fill for tank in boat.tanks}
        errors["ballast"] = {
            tank: [
                say.NO_SUCH_TANK.format(
                    boat=boat.name, tank=shown_value(tank), known=", ".join(fills)
                )
                if tank not in fills
                else say.TANK_TAKES.format(fill=f"{fill:.0%}", most=f"{fills[tank]:.0%}")
            ]
            for tank, fill in (data.get("ballast") or {}).items()
            if fill > fills.get(tank, -1.0)
        }
        if any(errors.values()):
            raise ValidationError({name: found for name, found in errors.items() if found})

    @post_load
    def _asked(self, data: dict[str, Any], **_: Any) -> Asked[Any]:
        system = data.pop("units")
        if isinstance(data["crew"], int):
            data["crew"] = (Person(),) * data["crew"]
        return Asked(as_record(self.record, data), system)


def _twice(original: Mapping[str, Any], crew: list[Any]) -> dict[int, dict[str, list[str]]]:
    """Errors by index: riders given by id who are aboard twice, or are to ride."""
    others = original.get("riders")
    riding = [each.get("rider") for each in others or () if isinstance(each, dict)]
    seen = {each for each in (original.get("rider"), *riding) if isinstance(each, str)}
    errors = {}
    for index, person in enumerate(crew):
        rider = person.get("rider") if isinstance(person, dict) else None
        if isinstance(rider, str):
            if rider in seen:
                errors[index] = {"rider": [say.ABOARD_ALREADY]}
            seen.add(rider)
    return errors


def _place_faults(boat: Boat, sent: Any, loaded: Any) -> Iterator[tuple[int, dict[str, list[str]]]]:
    """Places outside the boat, by index; only while the two lists correspond."""
    if isinstance(sent, list) and isinstance(loaded, list) and len(sent) == len(loaded):
        for index, item in enumerate(loaded):
            if not isinstance(item, Person | Load) or item.x is None or item.y is None:
                continue
            if faults := outside(item.x, item.y, boat.length_overall, boat.beam):
                yield index, faults


def _seat_faults(boat: Boat, crew: list[Any]) -> dict[int, dict[str, list[str]]]:
    """Errors by index: seats the boat has not, and more people on a seat than it takes."""
    places = {seat.id: seat.places for seat in boat.seats}
    taken: Counter[str] = Counter()
    errors = {}
    for index, person in enumerate(crew):
        seat = person.get("seat") if isinstance(person, dict) else None
        if not isinstance(seat, str):
            continue
        taken[seat] += 1
        if seat not in places:
            problem = say.NO_SUCH_SEAT.format(
                boat=boat.name, seat=shown_value(seat), known=", ".join(places)
            )
        elif taken[seat] > places[seat]:
            problem = say.SEAT_TAKES.format(seat=seat, places=places[seat])
        else:
            continue
        errors[index] = {"seat": [problem]}
    return errors
