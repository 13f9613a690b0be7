"""``POST /v1/tuning``: what is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from rules.tuning import load
from schemas import error_texts as say
from schemas import plain
from schemas.advice_request import AdviceRequestSchema
from schemas.fields import Choice, Count, Either, Quantity, QuantityByName, Text
from schemas.known import KnownSetup, OneOfNames
from schemas.plain import shown
from schemas.record import RecordSchema
from schemas.request import MOST_PEOPLE
from schemas.tuning_seen import signs, written
from schemas.units import Dimension
from service.advice.requests import KeptSetup
from service.advice.tuning.requests import (
    Did,
    PastChange,
    PlatesSet,
    Settings,
    TuningRequest,
)
from service.boats.model import Boat, Side

MOST_CHANGES = 60
NUMBERLESS = ("line", "stance", "start", "board", "look")

_PERCENT = Quantity(Dimension.PERCENT, 0, 150)
_NUMBERS = {
    "speed": Quantity(Dimension.SPEED, 0, 60),
    "plates": Quantity(Dimension.PERCENT, 0, 100),
    "tanks": _PERCENT,
    "depth": Quantity(Dimension.LENGTH, 0, 300),
}


class PlatesNowSchema(RecordSchema):
    """Travel of each plate, percent down."""

    record = PlatesSet

    centre = Quantity(Dimension.PERCENT, 0, 100, load_default=None)
    port = Quantity(Dimension.PERCENT, 0, 100, load_default=None)
    starboard = Quantity(Dimension.PERCENT, 0, 100, load_default=None)


class SetNowSchema(RecordSchema):
    """What is set now. What is left out is taken to be as ``/v1/advice`` would give it."""

    record = Settings

    surf_side = Choice(Side, load_default=None)
    speed = Quantity(Dimension.SPEED, 5, 40, load_default=None, metadata={"description": "By GPS."})
    plates = plain.Nested(PlatesNowSchema(), load_default=PlatesSet)
    tanks = QuantityByName(
        Quantity(Dimension.PERCENT, 0, 150),
        load_default=None,
        metadata={"description": "Percent of capacity by tank id; a tank left out is empty."},
    )


class TankChangeSchema(RecordSchema):
    """One of several tanks that were changed at once."""

    record = dict

    tank = Text(longest=64, required=True)
    origin = Quantity(Dimension.PERCENT, 0, 150, data_key="from", required=True)
    goal = Quantity(Dimension.PERCENT, 0, 150, data_key="to", load_default=None)


WRITTEN = ("text", "why", "expect", "wrong_if", "undo", "predicted", "masses")
"""What an answer's ``change`` has besides what a past one needs."""


class PastChangeSchema(RecordSchema):
    """One change of this session: the answer's ``change`` as it was, and what it ``did``.

    Whatever else the answer wrote into its ``change`` may stay; it is ignored.
    """

    record = PastChange

    lever = Text(
        longest=80,
        required=True,
        metadata={
            "description": "speed, plates.centre, plates.port, plates.starboard, tanks.<id>, "
            "tanks (several at once), people, depth, line, stance, start or board; or look, where "
            "it was only looked again and nothing was changed."
        },
    )
    origin = plain.Raw(
        data_key="from", load_default=None,
        metadata={"type": ["number", "string"], "description": "As the lever has it."},
    )  # fmt: skip
    goal = plain.Raw(
        data_key="to", load_default=None,
        metadata={"type": ["number", "string"], "description": "As the lever has it."},
    )  # fmt: skip
    unit = Text(
        longest=20, load_default=None, allow_none=True,
        metadata={"description": "Of from and to; else they are in the request's own units."},
    )  # fmt: skip
    did = Choice(Did, required=True, metadata={"description": "After only a look: same."})
    people = Count(0, MOST_PEOPLE, load_default=1)
    persons = plain.List(
        Count(1, MOST_PEOPLE),
        validate=plain.Length(max=MOST_PEOPLE),
        load_default=list,
        metadata={
            "description": "Places in the crew's list, from 1, of those who changed seats; left "
            "out: the lightest did."
        },
    )
    masses = written()
    move = plain.String(
        load_default=None,
        allow_none=True,
        validate=OneOfNames(list(load().moves), error=say.NO_MOVE),
        metadata={"description": "The answer's name for the change."},
    )
    tanks = plain.List(plain.Nested(TankChangeSchema()), load_default=list)
    seen = signs(metadata={"description": "What was seen before the change."})
    text = written()
    why = written()
    expect = written()
    wrong_if = written()
    undo = written()
    predicted = written()

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> Any:
        """``from`` and ``to`` as the lever has them."""
        for name in WRITTEN:
            data.pop(name, None)
        unit = data.pop("unit")
        for name, key in (("origin", "from"), ("goal", "to")):
            data[name] = _value(data["lever"], data[name], unit, key)
        if data["lever"] == "people" and None in (data["origin"], data["goal"]):
            raise ValidationError(say.GIVE_SEATS, "from" if not data["origin"] else "to")
        data["tanks"] = {tank["tank"]: tank["origin"] for tank in data["tanks"]}
        return PastChange(**data | {name: tuple(data[name]) for name in ("seen", "persons")})


def _value(lever: str, value: Any, unit: str | None, key: str) -> float | str | None:
    kind = lever.partition(".")[0]
    if value is None or kind in NUMBERLESS:
        return None
    if kind == "people":
        if not isinstance(value, str):
            raise ValidationError(say.NO_SEATS_ID.format(value=shown(value)), key)
        return value
    quantity = _NUMBERS.get(kind)
    if quantity is None:
        raise ValidationError(_no_lever(lever), "lever")
    number = isinstance(value, int | float) and not isinstance(value, bool)
    try:
        return float(quantity.deserialize(f"{value} {unit}" if number and unit else value) or 0.0)
    except ValidationError as error:
        raise ValidationError(error.messages, key) from None


class TuningRequestSchema(AdviceRequestSchema):
    """A request for advice, what is set now, what is seen, and this session's changes so far.

    Loads to ``Asked[TuningRequest]``.
    """

    record = TuningRequest

    class Meta:
        # Here a saved set-up is what is set now.
        exclude = ("saved",)

    settings = Either(
        {dict: plain.Nested(SetNowSchema()), str: KnownSetup()},
        say.SET_NOW_FORM,
        load_default=Settings,
        metadata={
            "description": "What is set now: each number, or the id of a saved set-up of this boat."
        },
    )
    seen = signs(
        metadata={"description": 'What is seen now; nothing, or "good": leave it as it is.'}
    )
    history = plain.List(
        plain.Nested(PastChangeSchema()),
        validate=plain.Length(max=MOST_CHANGES),
        load_default=list,
        metadata={"description": "This session's changes, the first one first."},
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _side_is_known(self, data: dict[str, Any], original: Any, **kwargs: Any) -> None:
        settings = original.get("settings") if isinstance(original, dict) else None
        told = settings.get("surf_side") if isinstance(settings, dict) else None
        kept = data.get("settings")
        if isinstance(kept, KeptSetup):
            told = kept.surf_side
        if told is None:
            # marshmallow's decorator leaves the method as it was.
            AdviceRequestSchema._side_is_known(self, data, original, **kwargs)  # noqa: SLF001

    @validates_schema
    def _set_for_this_side(self, data: dict[str, Any], **_: Any) -> None:
        settings, side = data["settings"], data["surf_side"]
        if side is not None and settings.surf_side not in (None, side):
            kept = isinstance(settings, KeptSetup)
            text = say.SETUP_OF_OTHER_SIDE if kept else say.SET_FOR_OTHER_SIDE
            raise ValidationError(text, "surf_side")

    @validates_schema(skip_on_field_errors=False)
    def _settings_fit(self, data: dict[str, Any], **_: Any) -> None:
        boat, settings = data.get("boat"), data.get("settings")
        if not isinstance(boat, Boat):
            return
        errors: dict[str, Any] = {}
        if isinstance(settings, Settings):
            errors["settings"] = dict(_setting_faults(boat, settings))
        if isinstance(settings, KeptSetup) and settings.boat.id != boat.id:
            errors["settings"] = [say.SETUP_OF_OTHER_BOAT.format(boat=settings.boat.name)]
        history, crew = data.get("history"), data.get("crew")
        aboard = MOST_PEOPLE if crew is None else crew if isinstance(crew, int) else len(crew)
        if isinstance(history, list) and all(isinstance(past, PastChange) for past in history):
            errors["history"] = {
                number: {key: [fault]}
                for number, past in enumerate(history)
                for key, fault in [_past_fault(boat, past, aboard)]
                if fault
            }
        if any(errors.values()):
            raise ValidationError({name: found for name, found in errors.items() if found})

    @post_load
    def _asked(self, data: dict[str, Any], **kwargs: Any) -> Any:
        if isinstance(kept := data["settings"], KeptSetup):
            plates = PlatesSet(**kept.plates)
            data["settings"] = Settings(kept.surf_side, kept.speed, plates, kept.tanks)
        return super()._asked(data, **kwargs)


def _setting_faults(boat: Boat, settings: Settings) -> Iterator[tuple[str, Any]]:
    most = {tank.id: tank.max_fill for tank in boat.tanks}
    tanks = {
        tank: [
            say.NO_SUCH_TANK.format(boat=boat.name, tank=shown(tank), known=", ".join(most))
            if tank not in most
            else say.TANK_TAKES.format(fill=f"{fill:.0%}", most=f"{most[tank]:.0%}")
        ]
        for tank, fill in (settings.tanks or {}).items()
        if fill > most.get(tank, -1.0)
    }
    if tanks:
        yield "tanks", tanks
    plates = {
        name: [say.NO_PLATE.format(boat=boat.name, plate=name)]
        for name in ("centre", "port", "starboard")
        if getattr(settings.plates, name) and getattr(boat.plates, name) is None
    }
    if plates:
        yield "plates", plates


def _no_lever(value: str) -> str:
    several = ", ".join(f"{name}.<id>" for name in ("plates", "tanks"))
    levers = f"speed, {several}, tanks, people, depth, {', '.join(NUMBERLESS)}"
    return say.NO_LEVER.format(value=shown(value), levers=levers)


def _past_fault(boat: Boat, past: PastChange, aboard: int) -> tuple[str, str]:
    """The member that names what this boat has not, and why; empty where all is well."""
    kind, _, name = past.lever.partition(".")
    names: Mapping[str, list[str]] = {
        "tanks": [tank.id for tank in boat.tanks],
        "plates": [n for n in ("centre", "port", "starboard") if getattr(boat.plates, n)],
    }
    if kind not in (*_NUMBERS, "people", *NUMBERLESS):
        return "lever", _no_lever(past.lever)
    several = past.lever == "tanks"
    if (name or kind == "plates") and name not in names.get(kind, []) and not several:
        return "lever", say.NOT_ON_THE_BOAT.format(boat=boat.name, what=shown(past.lever))
    for tank in past.tanks:
        if tank not in names["tanks"]:
            return "tanks", say.NO_SUCH_TANK.format(
                boat=boat.name, tank=shown(tank), known=", ".join(names["tanks"])
            )
    if beyond := [number for number in past.persons if number > aboard]:
        return "persons", say.NO_SUCH_PERSON.format(number=beyond[0], aboard=aboard)
    seats = [seat.id for seat in boat.seats]
    if kind == "people":
        for key, seat in (("from", past.origin), ("to", past.goal)):
            if seat not in seats:
                return key, say.NO_SUCH_SEAT.format(
                    boat=boat.name, seat=shown(seat), known=", ".join(seats)
                )
    return "lever", ""
