"""A boat, as it comes inline in a request or from a file of a fleet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.fields import Choice, Count, Flag, Identifier, Quantity, Text
from schemas.hull import HullSchema, too_large
from schemas.record import RecordSchema
from schemas.units import Dimension
from service.boats.model import (
    Boat,
    Faces,
    FuelTank,
    Light,
    Limits,
    Plate,
    Plates,
    Propulsion,
    Seat,
    SeatRole,
    Tank,
)
from service.boats.seat_roles import has_drivers_seat, role_by_place

MOST_TANKS = 20
MOST_SEATS = 40
# A swim platform reaches about this far behind the transom (m).
PLATFORM = 2.0


class PositionSchema(RecordSchema):
    """A centre in the boat: origin on the keel line at the transom."""

    x = Quantity(
        Dimension.LENGTH,
        -PLATFORM,
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


class LightSchema(PositionSchema):
    """The boat without people, water ballast, fuel and gear."""

    record = Light

    mass = Quantity(Dimension.MASS, 200, 10000, required=True)


class FuelTankSchema(PositionSchema):
    """The fuel tank and its centre."""

    record = FuelTank

    capacity = Quantity(Dimension.VOLUME, 0, 2000, required=True)


class TankSchema(PositionSchema):
    """A ballast tank or bag; its centre is that of the water when full."""

    record = Tank

    id = Identifier(required=True)
    capacity = Quantity(Dimension.VOLUME, 1, 3000, required=True)
    length = Quantity(
        Dimension.LENGTH,
        0,
        10,
        load_default=0.0,
        metadata={"description": "Of the free surface, fore and aft; 0 is unknown."},
    )
    width = Quantity(
        Dimension.LENGTH,
        0,
        5,
        load_default=0.0,
        metadata={"description": "Of the free surface, athwartships; 0 is unknown."},
    )
    fill_rate = Quantity(Dimension.FLOW, 1, 1000, load_default=None)
    drain_rate = Quantity(Dimension.FLOW, 1, 1000, load_default=None)
    max_fill = Quantity(
        Dimension.PERCENT,
        100,
        150,
        load_default=1.0,
        metadata={
            "description": "The most it holds; above 100 only where it can take an overfill.",
            "examples": ["110 %"],
            "default": 100,
        },
    )


class SeatSchema(PositionSchema):
    """A seat or bench; its centre is that of a seated person."""

    record = Seat

    id = Identifier(required=True)
    places = Count(1, 10, load_default=1, metadata={"description": "How many people it takes."})
    role = Choice(
        SeatRole,
        load_default=None,
        metadata={
            "description": "What it is for; ids mean nothing. One seat has to be the driver's. "
            "Left out: bow forward of two thirds of length_overall, stern aft of a fifth of it, "
            "else cockpit; never driver or observer."
        },
    )
    faces = Choice(
        Faces,
        load_default=None,
        metadata={
            "description": "Which way people on it look; from a forward-facing one nobody can "
            "watch the rider."
        },
    )


class PlateSchema(RecordSchema):
    """A plate at the transom."""

    record = Plate

    chord = Quantity(
        Dimension.LENGTH,
        0.05,
        1.5,
        required=True,
        metadata={"description": "Fore and aft.", "examples": ["0.3 m", "12 in"]},
    )
    span = Quantity(
        Dimension.LENGTH,
        0.1,
        4,
        required=True,
        metadata={"description": "Athwartships.", "examples": ["0.5 m", "20 in"]},
    )
    max_angle = Quantity(
        Dimension.ANGLE,
        1,
        60,
        required=True,
        metadata={"description": "Downward at full travel."},
    )


class PlatesSchema(RecordSchema):
    """The plates there are; null or absent where the boat has none."""

    record = Plates

    centre = plain.Nested(PlateSchema(), load_default=None)
    port = plain.Nested(PlateSchema(), load_default=None)
    starboard = plain.Nested(PlateSchema(), load_default=None)


class SeatsField(plain.List):
    """The seats, the driver's among them."""

    says = say.SEATS_FORM


class LimitsSchema(RecordSchema):
    """The maker's limits; null or absent is unknown, and said to be."""

    record = Limits

    persons = Count(1, 60, load_default=None)
    persons_mass = Quantity(Dimension.MASS, 50, 10000, load_default=None)
    load_mass = Quantity(Dimension.MASS, 50, 20000, load_default=None)
    includes_ballast = Flag(
        load_default=None,
        metadata={"description": "Whether load_mass counts the ballast water."},
    )
    bow_persons = Count(
        0, 60, load_default=None, metadata={"description": "People in the bow at most."}
    )
    bow_mass = Quantity(
        Dimension.MASS,
        0,
        10000,
        load_default=None,
        metadata={"description": "People and gear in the bow at most."},
    )


class BoatSchema(RecordSchema):
    """A motorboat. Axes: origin on the keel line at the transom, x forward, y to port, z up."""

    record = Boat

    id = Identifier(load_default="inline")
    name = Text(load_default="the boat")
    propulsion = Choice(Propulsion, required=True)
    length_overall = Quantity(Dimension.LENGTH, 3, 15, required=True)
    beam = Quantity(Dimension.LENGTH, 1, 5, required=True)
    hull = plain.Nested(HullSchema(), required=True)
    light = plain.Nested(LightSchema(), required=True)
    fuel = plain.Nested(FuelTankSchema(), required=True)
    tanks = plain.List(
        plain.Nested(TankSchema()),
        validate=plain.Length(max=MOST_TANKS),
        load_default=list,
    )
    seats = SeatsField(
        plain.Nested(SeatSchema()),
        validate=plain.Length(max=MOST_SEATS),
        required=True,
        metadata={"description": 'At least one with the role "driver".'},
    )
    plates = plain.Nested(PlatesSchema(), load_default=Plates)
    limits = plain.Nested(LimitsSchema(), load_default=Limits)
    fill_step = Quantity(
        Dimension.PERCENT,
        5,
        25,
        load_default=None,
        metadata={
            "description": "The step that the tanks' gauges show; left out: the usual one of the "
            "rule base.",
            "examples": ["5 %"],
        },
    )

    @validates_schema
    def _ids_are_unique(self, data: dict[str, Any], **_: Any) -> None:
        errors: dict[str, Any] = {}
        for name in ("tanks", "seats"):
            seen: set[str] = set()
            for index, item in enumerate(data[name]):
                if item.id in seen:
                    fault = {"id": [say.ID_OF_AN_EARLIER_ONE.format(id=item.id)]}
                    errors.setdefault(name, {})[index] = fault
                seen.add(item.id)
        if errors:
            raise ValidationError(errors)

    @validates_schema
    def _someone_can_drive(self, data: dict[str, Any], **_: Any) -> None:
        if not has_drivers_seat(data["seats"]):
            raise ValidationError(say.NO_DRIVERS_SEAT, "seats")

    @validates_schema
    def _inside_the_boat(self, data: dict[str, Any], **_: Any) -> None:
        size = data["length_overall"], data["beam"]
        errors: dict[str, Any] = {
            name: faults
            for name in ("light", "fuel")
            if (faults := outside(data[name].x, data[name].y, *size))
        }
        for name in ("tanks", "seats"):
            for index, item in enumerate(data[name]):
                if faults := outside(item.x, item.y, *size):
                    errors.setdefault(name, {})[index] = faults
        if errors:
            raise ValidationError(errors)

    @validates_schema(pass_original=True)
    def _hull_is_the_boat_s(self, data: dict[str, Any], original: Any, **_: Any) -> None:
        size = data["length_overall"], data["beam"]
        if errors := too_large(data["hull"], original["hull"], *size):
            raise ValidationError({"hull": errors})

    @post_load
    def _record(self, data: dict[str, Any], **kwargs: Any) -> Any:
        return super()._record(data | {"seats": seats_with_roles(data)}, **kwargs)


class KeptBoatSchema(BoatSchema):
    """A boat out of the store, as taken before hulls were measured and a driver's seat required."""

    seats = SeatsField(plain.Nested(SeatSchema()), load_default=list)

    @validates_schema
    def _hull_is_the_boat_s(self, *_: Any, **__: Any) -> None:
        pass

    @validates_schema
    def _someone_can_drive(self, *_: Any, **__: Any) -> None:
        pass


def seats_with_roles(boat: Mapping[str, Any]) -> list[Seat]:
    """The seats of a boat as it was loaded; a role that was left out goes by the seat's place."""
    length = boat["length_overall"]
    return [
        seat if seat.role is not None else replace(seat, role=role_by_place(seat.x, length))
        for seat in boat["seats"]
    ]


def outside(x: float, y: float, length: float, beam: float) -> dict[str, list[str]]:
    """Faults of a place that is not within the boat (m): more likely a slip than a fact."""
    faults = {}
    if not -PLATFORM <= x <= length:
        faults["x"] = [say.BEYOND_THE_LENGTH]
    if abs(y) > beam / 2:
        faults["y"] = [say.BEYOND_THE_BEAM]
    return faults
