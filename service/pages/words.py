"""Numbers as words on the sheet and in pictures."""

from __future__ import annotations

import math

from schemas.units import Dimension, System
from schemas.written import plain, shown
from service.pages import texts as t
from service.pages.scene import Scene


def counted(people: int) -> str:
    return t.ONE_PERSON if people == 1 else t.PERSONS.format(count=people)


def lean(heel: float) -> str:
    """Heel (degrees) in words: never a bare sign."""
    size = plain(abs(heel), 1)
    side = t.SIDES["starboard" if heel > 0 else "port"]
    return t.UPRIGHT if size == "0" else t.LEAN.format(size=size, side=side)


def bow(trim: float) -> str:
    """Trim (degrees) in words: never a bare sign."""
    size = plain(abs(trim), 1)
    if size == "0":
        return t.LEVEL_TRIM
    return (t.BOW_UP if trim > 0 else t.BOW_DOWN).format(size=size)


def attitude_words(heel: float, trim: float) -> tuple[str, str]:
    return lean(heel), bow(trim)


def height(metres: float, system: System) -> str:
    """A height above the water; what is under it is said to be, never shown by a sign."""
    if metres < 0:
        return t.UNDER.format(length=shown(-metres, Dimension.LENGTH, system, 2))
    return shown(metres, Dimension.LENGTH, system, 2)


def describe(scene: Scene, system: System) -> str:
    """The loading plan in sentences, for those who do not see it."""
    wave = ""
    if scene.surf_side is not None:
        wave = t.PLAN_DESCRIPTION_WAVE.format(side=t.SIDES[scene.surf_side.value])
    tanks = [
        t.PLAN_TANK.format(
            name=tank.name,
            now=f"{plain(tank.now * 100, 0)} %",
            fill=f"{plain(tank.fill * 100, 0)} %",
            volume=shown(tank.volume, Dimension.VOLUME, system, 0),
        )
        for tank in scene.water
    ]
    people = [
        t.PLAN_SEAT.format(people=counted(place.people), name=place.name)
        for place in scene.places
        if place.people
    ]
    people += [
        t.PLAN_MOVE.format(people=counted(move.people), start=move.start.name, end=move.end.name)
        for move in scene.moves
    ]
    people += [
        t.PLAN_SHIFT.format(
            name=shift.start.name, mass=shown(shift.mass, Dimension.MASS, system, 0),
            end=shift.end.name,
        )
        for shift in scene.shifts
    ]  # fmt: skip
    people += [
        (t.PLAN_NO_SEAT if group.goal is None else t.PLAN_OWN_PLACE).format(
            people=counted(group.people)
        )
        for group in scene.unplaced
    ]
    return t.PLAN_DESCRIPTION.format(
        wave=wave,
        tanks="; ".join(tanks) or t.PLAN_NO_TANKS,
        people="; ".join(people) or t.PLAN_NOBODY,
        attitude=_attitude(scene, system),
    )


def _attitude(scene: Scene, system: System) -> str:
    rest, attitude, board = scene.at_rest, scene.attitude, scene.at_rest.freeboard
    if attitude is None or board is None:
        return t.STATES[rest.status.value]
    heights = {
        side: height(getattr(board, side), system)
        for side in ("bow", "stern", "port", "starboard", "least")
    }
    state = [] if rest.status.value == "floats" else [t.STATES[rest.status.value]]
    words = attitude_words(math.degrees(attitude.heel), math.degrees(attitude.trim))
    return ", ".join([*state, *words, t.PLAN_FREEBOARDS.format(**heights)])
