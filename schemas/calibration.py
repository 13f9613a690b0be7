"""``POST /v1/boats/{id}/calibrations``: what was measured of a boat."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.fields import Choice, Flag, Quantity, QuantityByName
from schemas.people import PersonSchema
from schemas.record import InputSchema, RecordSchema, as_record
from schemas.request import MOST_LOADS, MOST_PEOPLE, LoadSchema, WaterSchema
from schemas.riders import Note
from schemas.stored import StoredSchema
from schemas.units import Dimension
from service.advice.dock_readings import (
    Ashore,
    Calibration,
    DockLoading,
    FreeboardRead,
    HeelRead,
    LogUse,
    Moved,
    Pendulum,
    RunningTrim,
    Weighed,
)
from service.advice.requests import Water
from service.boats.model import Side
from service.calibration.known import WEIGHBRIDGE
from service.calibration.survey import PHONE, TAPE

MOST_LOADINGS = 10
MOST_READINGS = 20


class FreeboardReadSchema(RecordSchema):
    """A freeboard by tape: from the sheer plumb down to the water."""

    record = FreeboardRead

    x = Quantity(
        Dimension.LENGTH, -2, 15, required=True, metadata={"description": "Forward of the transom."}
    )
    side = Choice(Side, required=True)
    height = Quantity(Dimension.LENGTH, -0.2, 3, required=True)
    accuracy = Quantity(
        Dimension.LENGTH, 0.001, 0.1, load_default=TAPE,
        metadata={"description": "Standard deviation.", "examples": ["5 mm", "0.2 in"],
                  "default": TAPE},
    )  # fmt: skip


class MovedSchema(RecordSchema):
    """A known mass, moved athwartships a known distance from where the loading has it."""

    record = Moved

    mass = Quantity(Dimension.MASS, 1, 2000, required=True)
    distance = Quantity(Dimension.LENGTH, 0, 5, required=True)
    to = Choice(Side, required=True)


class PendulumSchema(RecordSchema):
    """A plumb line."""

    record = Pendulum

    length = Quantity(Dimension.LENGTH, 0.2, 10, required=True)
    deflection = Quantity(
        Dimension.LENGTH, -3, 3, required=True,
        metadata={"description": "Of the bob, to starboard positive.",
                  "examples": ["25 mm", "1 in"]},
    )  # fmt: skip


class HeelReadSchema(RecordSchema):
    """A heel, by phone or pendulum."""

    record = HeelRead

    moved = plain.Nested(
        MovedSchema(), load_default=None, metadata={"description": "Null: nothing is moved."}
    )
    heel = Quantity(
        Dimension.ANGLE, -30, 30, load_default=None,
        metadata={"description": "Starboard down positive.", "examples": ["1.4°"]},
    )  # fmt: skip
    pendulum = plain.Nested(PendulumSchema(), load_default=None)
    accuracy = Quantity(
        Dimension.ANGLE, 0.01, 5, load_default=PHONE,
        metadata={"description": "Standard deviation.", "examples": ["0.2°"], "default": 0.2},
    )  # fmt: skip

    @validates_schema
    def _one_way(self, data: dict[str, Any], **_: Any) -> None:
        if (data["heel"] is None) == (data["pendulum"] is None):
            raise ValidationError(say.HEEL_OR_PENDULUM)


class PlacedPersonSchema(PersonSchema):
    """Someone whose weight and place are known."""

    class Meta:
        exclude = ("rider",)  # what was weighed on that day, whatever the rider weighs now

    @validates_schema
    def _known(self, data: dict[str, Any], **_: Any) -> None:
        if data["mass"] is None:
            raise ValidationError(say.EVERYBODYS_MASS, "mass")
        if data["seat"] is None and data["x"] is None:
            raise ValidationError(say.EVERYBODYS_PLACE)


class KnownLoadingSchema(RecordSchema):
    """What was aboard while something was read."""

    fuel = Quantity(
        Dimension.PERCENT, 0, 100, required=True,
        metadata={"description": "In the tank, of its capacity."},
    )  # fmt: skip
    crew = plain.List(
        plain.Nested(PlacedPersonSchema()),
        validate=plain.Length(max=MOST_PEOPLE),
        load_default=list,
        metadata={"description": "Everybody aboard, with mass and place; left out: nobody."},
    )
    ballast = QuantityByName(
        Quantity(Dimension.PERCENT, 0, 150),
        load_default=None,
        metadata={"description": "Percent of capacity by tank id; left out: empty."},
    )
    loads = plain.List(  # type: ignore[assignment]
        plain.Nested(LoadSchema()), validate=plain.Length(max=MOST_LOADS), load_default=list
    )
    water = plain.Nested(WaterSchema(), load_default=Water)


class DockLoadingSchema(KnownLoadingSchema):
    """One known loading, afloat in calm water, and what was read with it."""

    record = DockLoading

    freeboards = plain.List(
        plain.Nested(FreeboardReadSchema()),
        validate=plain.Length(max=MOST_READINGS),
        load_default=list,
    )
    inclining = plain.List(
        plain.Nested(HeelReadSchema()),
        validate=plain.Length(max=MOST_READINGS),
        load_default=list,
        metadata={"description": "Heels with known masses moved known distances."},
    )

    @validates_schema
    def _something_was_read(self, data: dict[str, Any], **_: Any) -> None:
        if not data["freeboards"] and not data["inclining"]:
            raise ValidationError(say.FREEBOARDS_OR_INCLINING)


class WeighedSchema(RecordSchema):
    """The light boat on a weighbridge: trailer, people, fuel, water and gear taken off."""

    record = Weighed

    mass = Quantity(Dimension.MASS, 200, 10000, required=True)
    accuracy = Quantity(
        Dimension.MASS, 1, 500, load_default=WEIGHBRIDGE,
        metadata={"description": "Standard deviation.", "default": WEIGHBRIDGE},
    )  # fmt: skip


class AshoreSchema(RecordSchema):
    """By tape on the trailer, both at the transom."""

    record = Ashore

    depth = Quantity(
        Dimension.LENGTH, 0.3, 4, load_default=None, metadata={"description": "Keel to sheer."}
    )
    breadth = Quantity(
        Dimension.LENGTH, 0.5, 5, load_default=None, metadata={"description": "Over the chines."}
    )


class RunningTrimSchema(KnownLoadingSchema):
    """The trim read under way, and with what aboard and set."""

    record = RunningTrim

    speed = Quantity(Dimension.SPEED, 5, 40, required=True, metadata={"description": "By GPS."})
    trim = Quantity(
        Dimension.ANGLE, -15, 30, required=True,
        metadata={"description": "Of the keel, bow up positive.", "examples": ["9°"]},
    )  # fmt: skip
    centre_plate = Quantity(Dimension.PERCENT, 0, 100, load_default=0.0)
    off_side_plate = Quantity(Dimension.PERCENT, 0, 100, load_default=0.0)


class LogUseSchema(InputSchema):
    """How the boat's runs are learned from, until another calibration says otherwise."""

    use = Flag(load_default=True, metadata={"description": "False: the rule base alone advises."})
    half_life_days = plain.Float(
        load_default=None,
        allow_none=True,
        allow_nan=False,
        validate=plain.Range(1, 10000),
        metadata={"description": "After so long a run counts for half; null: for ever in full."},
    )

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> LogUse:
        days = data["half_life_days"]
        return LogUse(data["use"], None if days is None else days * 86400.0)


class CalibrationSchema(StoredSchema):
    """What was measured on one occasion. Loads to a ``Calibration``."""

    loadings = plain.List(
        plain.Nested(DockLoadingSchema()),
        validate=plain.Length(max=MOST_LOADINGS),
        load_default=list,
    )
    weighed = plain.Nested(WeighedSchema(), load_default=None)
    ashore = plain.Nested(AshoreSchema(), load_default=None)
    running_trim = plain.Nested(RunningTrimSchema(), load_default=None)
    log = plain.Nested(LogUseSchema(), load_default=None)
    notes = Note(load_default=None)

    @validates_schema
    def _something(self, data: dict[str, Any], **_: Any) -> None:
        if not any(data[name] for name in ("loadings", "weighed", "ashore", "running_trim", "log")):
            raise ValidationError(say.SOMETHING_MEASURED)

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> Calibration:
        members = {name: data[name] for name in Calibration.__slots__}
        return as_record(Calibration, members)
