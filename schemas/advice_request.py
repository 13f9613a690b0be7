"""``POST /v1/advice``: what is asked."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.fields import Choice, Either, Quantity
from schemas.known import KnownRider
from schemas.record import RecordSchema
from schemas.request import LoadedBoatSchema
from schemas.saved import SavedField, side_of, take_saved
from schemas.units import Dimension
from service.advice.requests import AdviceRequest, Board, Level, Rider, Stance, Wish
from service.boats.model import Side


def _named_once(wants: list[Wish]) -> None:
    if len(set(wants)) < len(wants):
        raise ValidationError(say.WISHES_ONCE)


class RiderSchema(RecordSchema):
    """Who rides."""

    record = Rider

    mass = Quantity(
        Dimension.MASS, 15, 200, load_default=None, metadata={"description": "Body mass."}
    )
    stance = Choice(
        Stance,
        load_default=None,
        metadata={
            "description": "The foot in front: regular the left, goofy the right. "
            "Required unless surf_side is given."
        },
    )
    board = Choice(Board, load_default=None)
    level = Choice(Level, load_default=None)
    wants = plain.List(
        Choice(Wish),
        validate=[plain.Length(max=len(Wish)), _named_once],
        load_default=list,
        metadata={
            "description": "What the rider would like of the wave. Of wishes that contradict each "
            "other the answer says which was given up, and why."
        },
    )


class AdviceRequestSchema(LoadedBoatSchema):
    """One boat, who and what is aboard, one rider. What is left out is filled by stated defaults.

    Loads to ``Asked[AdviceRequest]``.
    """

    record = AdviceRequest

    def on_bind_field(self, field_name: str, field_obj: Any) -> None:
        super().on_bind_field(field_name, field_obj)
        if isinstance(field_obj, SavedField):
            field_obj.bound(self.boats)

    rider = Either(
        {str: KnownRider(), dict: plain.Nested(RiderSchema())},
        say.RIDER_FORM,
        required=True,
        metadata={"description": "A rider's id, or the rider."},
    )
    surf_side = Choice(
        Side,
        load_default=None,
        metadata={
            "description": "The side the ridden wave is to stand on; only to override the stance."
        },
    )
    saved = SavedField()

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _side_is_known(self, data: dict[str, Any], original: Any, **_: Any) -> None:
        if not isinstance(original, dict) or original.get("surf_side") is not None:
            return
        rider, loaded = original.get("rider"), data.get("rider")
        if isinstance(rider, dict) and rider.get("stance") is None:
            raise ValidationError({"rider": {"stance": [say.STANCE_OR_SIDE]}})
        if isinstance(rider, str) and isinstance(loaded, Rider) and loaded.stance is None:
            raise ValidationError({"rider": [say.RIDER_WITHOUT_STANCE]})

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _someone_drives(self, _: dict[str, Any], original: Any, **__: Any) -> None:
        crew = original.get("crew") if isinstance(original, dict) else None
        if isinstance(crew, int | list) and not crew:
            raise ValidationError(say.SOMEONE_DRIVES, "crew")

    @validates_schema(skip_on_field_errors=True)
    def _saved_is_for_this_side(self, data: dict[str, Any], **_: Any) -> None:
        side = side_of(data.get("saved"))
        if data["surf_side"] is not None and side not in (None, data["surf_side"]):
            raise ValidationError(say.SETUP_OF_OTHER_SIDE, "surf_side")

    @post_load
    def _asked(self, data: dict[str, Any], **kwargs: Any) -> Any:
        take_saved(data, self.setups if "saved" in self.fields else None, data["boat"])
        return super()._asked(data, **kwargs)
