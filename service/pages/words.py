"""Numbers as words on the sheet and in pictures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from schemas import written
from schemas.units import Dimension, System, express, unit_name
from schemas.written import plain, shown
from service.advice.answer import Seating
from service.pages import texts as t
from service.pages.scene import Place, Scene


def counted(people: int) -> str:
    return t.ONE_PERSON if people == 1 else t.PERSONS.format(count=people)


def counted_with(people: str, count: int, does: Iterable[str]) -> str:
    """How many, and what one of them does: ``2 people (one drives)``, ``1 (watches)``."""
    marks = [f"({t.ONE_DOES.format(does=each) if count > 1 else each})" for each in does if each]
    return " ".join([people, *marks])


def who(people: Sequence[Seating], *, listed: bool) -> str:
    """People by name where they were listed, else how many."""
    return ", ".join(each.person.label for each in people) if listed else counted(len(people))


def sitting(place: Place, longest: int, *, listed: bool) -> list[str]:
    """Who drives, who watches and who else sits there, each in a line; initials where it is long.

    Of a head count only what a seat is used for.
    """
    lines, others = [], []
    for each in place.seated:
        does = t.DOES.get(each.role.value)
        if does:
            lines.append(f"{each.person.label} {does}" if listed else does)
        elif listed:
            others.append(each.person.label)
    names = ", ".join(others)
    if len(names) > longest:
        names = ", ".join(initials(name) for name in others)
    return [*lines, names] if names else lines


def initials(name: str) -> str:
    """``AB`` for Ann Bell, ``3`` for person 3."""
    words = name.split()
    return words[-1] if words[-1].isdigit() else "".join(word[0] for word in words)


def unplaced(scene: Scene) -> Iterator[str]:
    """Those without a seat, and those with a place of their own."""
    for pattern, people in (
        (t.PLAN_NO_SEAT, [each for each in scene.unplaced if each.goal is None]),
        (t.PLAN_OWN_PLACE, [each for each in scene.unplaced if each.goal is not None]),
    ):
        if people:
            yield pattern.format(people=who(people, listed=scene.listed))


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
    length = express(metres, Dimension.LENGTH, system)
    said = written.height(length, unit_name(Dimension.LENGTH, system))
    return t.UNDER.format(length=said) if metres < 0 else said


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
        t.PLAN_SEAT.format(people=_at(place, listed=scene.listed), name=place.name)
        for place in scene.places
        if place.seated
    ]
    people += [
        t.PLAN_MOVE.format(
            people=who(move.moving, listed=scene.listed), start=move.start.name, end=move.end.name
        )
        for move in scene.moves
    ]
    people += [
        t.PLAN_SHIFT.format(
            name=shift.start.name, mass=shown(shift.mass, Dimension.MASS, system, 0),
            end=shift.end.name,
        )
        for shift in scene.shifts
    ]  # fmt: skip
    people += unplaced(scene)
    return t.PLAN_DESCRIPTION.format(
        wave=wave,
        tanks="; ".join(tanks) or t.PLAN_NO_TANKS,
        people="; ".join(people) or t.PLAN_NOBODY,
        attitude=_attitude(scene, system),
    )


def _at(place: Place, *, listed: bool) -> str:
    """Who sits there, with who of them drives or watches."""
    does = [t.DOES[each.role.value] for each in place.seated if each.role.value in t.DOES]
    if listed:
        return ", ".join(
            f"{each.person.label} {t.DOES.get(each.role.value, '')}".strip()
            for each in place.seated
        )
    people = len(place.seated)
    return counted_with(counted(people), people, does)


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
