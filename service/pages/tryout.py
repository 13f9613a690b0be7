"""The try-out form: its fields, and the request to the API that they make.

One table of fields serves the page, the server that reads a plain form post, and (through
``data-`` attributes) the script, so that all three make the same request.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from schemas.units import Dimension, System, unit_name
from service.boats.model import Boat
from service.pages import page_texts as pt
from service.pages import texts as t
from service.pages.rendering import render


@dataclass(frozen=True, slots=True)
class Field:
    """One field. ``name`` is the place in the request, members joined by a dot.

    ``kind``: ``count``, ``quantity`` (a number in ``dimension``, or text with its own unit) or
    ``choice``. ``slider`` is the range of the slider beside it in each system, if it has one.
    """

    name: str
    label: str
    kind: str
    dimension: Dimension | None = None
    choices: Mapping[str, str] | None = None
    help: str = ""
    slider: Mapping[System, tuple[int, int]] | None = None
    start: Mapping[System, str] | None = None

    def initial(self, system: System) -> str:
        return "" if self.start is None else self.start[system]


def _same(value: str) -> dict[System, str]:
    return dict.fromkeys(System, value)


CREW = Field(
    "crew", pt.TRY_CREW, "count", help=pt.TRY_CREW_HELP, start=_same("6"),
    slider=dict.fromkeys(System, (0, 18)),
)  # fmt: skip
RIDER = (
    Field(
        "rider.mass", pt.TRY_RIDER_MASS, "quantity", Dimension.MASS,
        slider={System.METRIC: (30, 130), System.US: (65, 285)},
        start={System.METRIC: "80", System.US: "175"},
    ),
    Field("rider.stance", pt.TRY_STANCE, "choice", choices=t.STANCES, start=_same("regular")),
    Field("rider.board", pt.TRY_BOARD, "choice", choices=t.BOARDS, start=_same("surf")),
    Field("rider.level", pt.TRY_LEVEL, "choice", choices=t.LEVELS, start=_same("beginner")),
)  # fmt: skip
WATER = (
    Field("water.kind", pt.TRY_WATER_KIND, "choice", choices=t.WATER_KINDS, start=_same("fresh")),
    Field("water.depth", pt.TRY_DEPTH, "quantity", Dimension.LENGTH, help=pt.TRY_OPTIONAL),
    Field(
        "water.distance_to_shore", pt.TRY_SHORE, "quantity", Dimension.LENGTH, help=pt.TRY_OPTIONAL
    ),
)
WANTS = "rider.wants"


def request_of(form: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """The request that a posted form makes: empty fields left out, plain numbers with their unit.

    What is no number is passed on as it is, so that the API says what is wrong with it.
    """
    system = System.US if _one(form, "units") == System.US.value else System.METRIC
    request: dict[str, Any] = {"units": system.value}
    if boat := _one(form, "boat"):
        request["boat"] = boat
    for field in (CREW, *RIDER, *WATER):
        value = _one(form, field.name)
        if value:
            _put(request, field.name, _value(field, value, system))
    if wants := [value for value in form.get(WANTS, ()) if value]:
        _put(request, WANTS, wants)
    request.setdefault("rider", {})
    return request


def _one(form: Mapping[str, Sequence[str]], name: str) -> str:
    values = form.get(name) or [""]
    return values[0].strip()


def _value(field: Field, value: str, system: System) -> str | int:
    if field.kind == "count" and value.isascii() and value.isdigit() and len(value) < 10:
        return int(value)
    if field.kind == "quantity" and field.dimension and value[-1:].isdigit():
        return f"{value} {unit_name(field.dimension, system)}"
    return value


def _put(request: dict[str, Any], name: str, value: object) -> None:
    *above, last = name.split(".")
    for member in above:
        request = request.setdefault(member, {})
    request[last] = value


def page(
    boats: Iterable[Boat], system: System, form: Mapping[str, Sequence[str]] | None = None,
    faults: Iterable[tuple[str, str]] = (), sheet: str = "",
) -> str:  # fmt: skip
    """The page: empty, with faults ``(JSON Pointer, message)``, or with the answer of a sheet."""
    by_field: dict[str, str] = {}
    other: list[str] = []
    names = {"boat", WANTS, *(field.name for field in (CREW, *RIDER, *WATER))}
    for pointer, message in faults:
        name = ".".join(pointer.split("/")[1:])
        known = next((n for n in names if name == n or name.startswith(f"{n}.")), None)
        if known is None:
            other.append(f"{name}: {message}" if name else message)
        else:
            by_field.setdefault(known, message)
    fields = (CREW, *RIDER, *WATER)
    given = {
        field.name: field.initial(system) if form is None else _one(form, field.name)
        for field in fields
    }
    return render(
        "tryout.html",
        boats=tuple(boats),
        boat="" if form is None else _one(form, "boat"),
        crew=CREW,
        rider=RIDER,
        water=WATER,
        wants_name=WANTS,
        wants=[] if form is None else list(form.get(WANTS, ())),
        given=given,
        faults=by_field,
        other_faults=other,
        system=system,
        systems=tuple(System),
        unit=lambda dimension: unit_name(dimension, system),
        sheet=Markup(sheet),  # noqa: S704 — written by our own template
    )
