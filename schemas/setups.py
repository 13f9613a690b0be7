"""Settings that worked, kept with the boat, the rider and who was aboard."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.fields import Choice, Count, CountInWords, Identifier, Quantity, QuantityByName
from schemas.known import KnownBoat, KnownRider, Riders
from schemas.plain import shown as shown_value
from schemas.record import InputSchema
from schemas.request import LoadedBoatSchema, people
from schemas.riders import Note
from schemas.stored import StoredSchema
from schemas.units import Dimension
from service.advice.requests import KeptSetup
from service.boats.fleet import Boats
from service.boats.model import Boat, Side

RATING = {"description": "How it rode, from 1 (no wave) to 5 (as good as it gets)."}


class Rating(Count):
    """Stars, as most people give them."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(1, 5, load_default=None, metadata=RATING, **kwargs)


def at_least() -> CountInWords:
    """A rating to ask for."""
    return CountInWords(1, 5, metadata={"description": "At least this."})


class PlateSettingsSchema(InputSchema):
    """Travel of each plate."""

    centre = Quantity(Dimension.PERCENT, 0, 100, load_default=None)
    port = Quantity(Dimension.PERCENT, 0, 100, load_default=None)
    starboard = Quantity(Dimension.PERCENT, 0, 100, load_default=None)


class SettingsSchema(InputSchema):
    """What was set."""

    surf_side = Choice(Side, load_default=None)
    speed = Quantity(Dimension.SPEED, 5, 40, load_default=None, metadata={"description": "By GPS."})
    plates = plain.Nested(PlateSettingsSchema(), load_default=dict)
    tanks = QuantityByName(
        Quantity(Dimension.PERCENT, 0, 150),
        load_default=dict,
        metadata={
            "description": "Percent of capacity by tank id; one left out is empty, with all left "
            "out the water was not told."
        },
    )


def settings_faults(boat: Boat, settings: Mapping[str, Any]) -> dict[str, Any]:
    """Settings that this boat has not: tanks and plates by name."""
    fills = {tank.id: tank.max_fill for tank in boat.tanks}
    tanks = {
        tank: [say.NO_TANK.format(boat=boat.name, tank=shown_value(tank))]
        if tank not in fills
        else [say.TANK_TAKES.format(fill=f"{fill:.0%}", most=f"{fills[tank]:.0%}")]
        for tank, fill in settings["tanks"].items()
        if fill > fills.get(tank, -1.0)
    }
    plates = {
        name: [say.NO_PLATE.format(boat=boat.name, plate=name)]
        for name, travel in settings["plates"].items()
        if travel is not None and getattr(boat.plates, name) is None
    }
    found = {"tanks": tanks, "plates": plates}
    return {name: faults for name, faults in found.items() if faults}


class SetupSchema(StoredSchema, LoadedBoatSchema):
    """A saved set-up: boat, rider, what was aboard, what was set, and how it rode."""

    class Meta:
        # What was in the tanks is one of the settings here.
        exclude = ("ballast",)

    def __init__(self, boats: Boats, riders: Riders, **kwargs: Any) -> None:
        super().__init__(boats, riders, **kwargs)

    id = Identifier(load_default=None)
    boat = KnownBoat(  # type: ignore[assignment]  # a boat that is kept, by its id alone
        required=True, metadata={"description": "The id of a boat of the outfit."}
    )
    rider = KnownRider(load_default=None, metadata={"description": "The id of a rider."})
    settings = plain.Nested(SettingsSchema(), required=True)
    rating = Rating()
    notes = Note(load_default=None)

    @validates_schema
    def _the_boat_has_them(self, data: dict[str, Any], **_: Any) -> None:
        if faults := settings_faults(data["boat"], data["settings"]):
            raise ValidationError({"settings": faults})

    @post_load
    def _asked(self, data: dict[str, Any], **_: Any) -> Any:
        return data


def kept_setup(setup_id: str, loaded: Mapping[str, Any]) -> KeptSetup:
    """A set-up as the schema has loaded it. Of tanks of which none was told nothing is known."""
    settings, crew = loaded["settings"], loaded["crew"]
    if crew is not None:
        crew = people(crew)
    return KeptSetup(
        id=setup_id,
        boat=loaded["boat"],
        surf_side=settings["surf_side"],
        speed=settings["speed"],
        plates=settings["plates"],
        tanks=settings["tanks"] or None,
        crew=crew,
        loads=tuple(loaded["loads"]),
        water=loaded["water"],
        fuel=loaded["fuel"],
    )


class SetupFilterSchema(InputSchema):
    """Which set-ups."""

    boat = plain.String(metadata={"description": "Id of the boat."})
    rider = plain.String(metadata={"description": "Id of the rider."})
    rating = at_least()
