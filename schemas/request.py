"""What every request about a loaded boat has in common."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Any, ClassVar, Generic, TypeVar

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.boat import BoatSchema, outside
from schemas.fields import Choice, Count, Either, Flag, Quantity, QuantityByName, Text
from schemas.known import KnownBoat, Riders, Setups
from schemas.people import (
    Faults,
    PersonSchema,
    label,
    rides_too,
    role_faults,
    seat_faults,
    with_own_names,
)
from schemas.plain import shown as shown_value
from schemas.record import InputSchema, RecordSchema, as_record
from schemas.units import Dimension, System, using
from service.advice.requests import Load, Person, Water, WaterKind
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
            "description": "People aboard can shift it: to beside any seat but the driver's, at "
            "its own height, where it takes no place."
        },
    )


class WaterSchema(RecordSchema):
    """The water, as far as it is known."""

    record = Water

    kind = Choice(WaterKind, load_default=None)
    temperature = Quantity(Dimension.TEMPERATURE, -2, 40, load_default=None)
    depth = Quantity(
        Dimension.LENGTH,
        0,
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
            errors["crew"] = _merged(
                seat_faults(boat, map(_called_and_seated, range(1, len(crew) + 1), crew)),
                _twice(original, crew),
                role_faults(boat, data["crew"]) if _all_people(data.get("crew"), crew) else (),
            )
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
        if data["crew"] is not None:
            data["crew"] = people(data["crew"])
        return Asked(as_record(self.record, data), system)


def people(crew: int | list[Person]) -> tuple[Person, ...]:
    """Everybody of a crew as it was loaded."""
    return (Person(),) * crew if isinstance(crew, int) else with_own_names(crew)


def _merged(*found: Iterable[tuple[int, Faults]]) -> dict[int, Faults]:
    merged: dict[int, Faults] = {}
    for index, faults in chain(*found):
        for name, texts in faults.items():
            merged.setdefault(index, {}).setdefault(name, []).extend(texts)
    return merged


def _called_and_seated(number: int, sent: Any) -> tuple[str, Any]:
    return label(number, sent), sent.get("seat") if isinstance(sent, Mapping) else None


def _all_people(loaded: Any, sent: list[Any]) -> bool:
    """Whether every entry was loaded, so that their indices are those of what was sent."""
    return (
        isinstance(loaded, list)
        and len(loaded) == len(sent)
        and all(isinstance(each, Person) for each in loaded)
    )


def _twice(original: Mapping[str, Any], crew: list[Any]) -> Iterator[tuple[int, Faults]]:
    """Faults by index: riders given by id who are aboard twice, or are to ride."""
    others = original.get("riders")
    listed = [each.get("rider") for each in others or () if isinstance(each, dict)]
    riding = {each for each in (original.get("rider"), *listed) if isinstance(each, str)}
    seen: set[str] = set()
    for index, person in enumerate(crew):
        rider = person.get("rider") if isinstance(person, dict) else None
        if not isinstance(rider, str):
            continue
        if rider in riding:
            yield index, rides_too(person, index + 1)
        elif rider in seen:
            yield index, {"rider": [say.ABOARD_ALREADY]}
        seen.add(rider)


def _place_faults(boat: Boat, sent: Any, loaded: Any) -> Iterator[tuple[int, dict[str, list[str]]]]:
    """Places outside the boat, by index; only while the two lists correspond."""
    if isinstance(sent, list) and isinstance(loaded, list) and len(sent) == len(loaded):
        for index, item in enumerate(loaded):
            if not isinstance(item, Person | Load) or item.x is None or item.y is None:
                continue
            if faults := outside(item.x, item.y, boat.length_overall, boat.beam):
                yield index, faults
