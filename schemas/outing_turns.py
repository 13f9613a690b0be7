"""The turns of an outing as JSON: the change-over before each, its set-up, and the way home."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from schemas.outing_parts import Parts, place
from schemas.units import Dimension
from service.advice.answer import OWN_PLACE
from service.advice.requests import AdviceRequest, Person, Role
from service.outings.answer import Homeward, Line
from service.outings.between import Between
from service.outings.setups import Origin, Turn
from service.outings.steps import Move, Pumping, Shift

ABOARD = "comes aboard"


class Turns(Parts):
    """Writes the turns and the way home."""

    def turn(self, number: int, line: Line, before: Line | None) -> dict[str, Any]:
        turn, setup = line.turn, line.turn.setup
        return {
            "turn": number,
            "rider": self.trip.riders[turn.rider].name,
            **self.when(line.starts, line.ends),
            "minutes": self.minutes(line.ends - line.starts),
            "verdict": turn.verdict.value,
            "source": turn.origin.value,
            "saved": self.saved(turn),
            "setup": {
                "surf_side": setup.surf_side.value,
                "speed": self.number(setup.speed, Dimension.SPEED),
                "plates": self.plates(turn),
                "tanks": self.tanks(turn.stand),
                "driver": self.who(turn, Role.DRIVER),
                "observer": self.who(turn, Role.OBSERVER),
                "seating": self.seating(turn.stand),
                **self.loads(turn.stand),
            },
            "predicted": self.lies(line.lies[0]),
            "predicted_at_end": self.lies(line.lies[1]),
            "cautions": [warned.rule for warned in turn.cautions],
            "fuel": {
                "start": self.percent(max(line.fuel[0], 0.0)),
                "end": self.percent(max(line.fuel[1], 0.0)),
                "set_up_for": self.percent(turn.fuel),
            },
            "change_over": self.change_over(
                line.between, line.change, line.starts, before.turn if before else None, turn
            ),
            "advice_request": self.advice_request(turn),
        }

    def who(self, turn: Turn, role: Role) -> str | None:
        """Who has this role while the rider rides."""
        seating = turn.setup.seating
        return next((each.person.label for each in seating if each.role is role), None)

    def plates(self, turn: Turn) -> dict[str, float | None]:
        return {
            name: self.percent(getattr(turn.setup, f"{name}_plate"))
            for name in ("centre", "port", "starboard")
        }

    def change_over(
        self, between: Between, starts: float, ends: float, before: Turn | None, after: Turn | None
    ) -> dict[str, Any]:
        pumps = between.pumps
        return {
            **self.when(starts, ends),
            "minutes": self.minutes(ends - starts),
            "pump_minutes": self.minutes(between.pumping),
            "pump_minutes_in_sequence": self.minutes(between.in_sequence),
            "people_settle_while_pumping": between.settling,
            "water_in": self.volume(pump.volume for pump in pumps if pump.volume > 0.0),
            "water_out": self.volume(-pump.volume for pump in pumps if pump.volume < 0.0),
            "people_who_move": len({move.person for move in between.moves}),
            **self.shifted([between]),
            "steps": [self.step(step) for step in between.steps],
            "surf_side": after and after.side.value,
            "side_changes": before is not None and after is not None
            and before.side is not after.side,
            "plates": after and self.plates(after),
            "plates_before": before and self.plates(before),
            "speed": after and self.number(after.setup.speed, Dimension.SPEED),
            "speed_before": before and self.number(before.setup.speed, Dimension.SPEED),
            "least_freeboard": self.number(between.least_freeboard, Dimension.LENGTH),
            "most_lean": None
            if between.most_lean is None
            else self.number(math.radians(between.most_lean), Dimension.ANGLE),
            "breaks": [{"limit": each.limit.value} for each in between.broken],
        }  # fmt: skip

    def step(self, step: Move | Shift | Pumping) -> dict[str, Any]:
        if isinstance(step, Pumping):
            return {
                "kind": "pump",
                "tank": step.tank,
                "from_fill": self.percent(step.fill),
                "to_fill": self.percent(step.to_fill),
                "volume": self.number(step.volume, Dimension.VOLUME),
                "minutes": self.minutes(step.seconds),
                "together": step.batch if self.trip.pumps_together else None,
            }
        if isinstance(step, Shift):
            return {
                "kind": "shift",
                "load": step.load,
                "mass": self.number(step.mass, Dimension.MASS),
                "from": step.origin or OWN_PLACE,
                "to": step.goal or OWN_PLACE,
                "minutes": self.minutes(step.seconds),
            }
        origin = ABOARD if step.origin is None else place(step.origin)
        return {"kind": "move", "person": step.person, "from": origin, "to": place(step.goal)}

    def home(self, home: Homeward, before: Turn | None) -> dict[str, Any]:
        return {
            **self.when(home.starts, home.ends),
            "minutes": self.minutes(home.ends - home.starts),
            "tanks": self.tanks(home.stand),
            "seating": self.seating(home.stand),
            **self.loads(home.stand),
            "plates": {
                name: None if getattr(self.trip.boat.plates, name) is None else 0.0
                for name in ("centre", "port", "starboard")
            },
            "predicted": self.lies(home.lies),
            "fuel": self.percent(max(home.fuel, 0.0)),
            "change_over": self.change_over(home.between, home.change, home.starts, before, None),
        }

    def saved(self, turn: Turn) -> str | None:
        """The id of the kept set-up behind a turn."""
        saved = self.trip.saved[turn.rider]
        behind = turn.origin in (Origin.SAVED, Origin.CARRIED_OVER)
        return saved.id if behind and saved is not None else None

    def advice_request(self, turn: Turn) -> dict[str, Any]:
        """A body for ``POST /v1/advice`` with this rider off and everybody else at home."""
        told, request = self.told, turn.request
        body = {
            "boat": told["boat"],
            "units": self.system.value,
            "rider": told["riders"][turn.rider]["rider"],
            "crew": _crew(request),
            "ballast": told.get("ballast") or {},
            "loads": self.told_loads(),
            "water": told.get("water") or {},
            "fuel": f"{round(100.0 * turn.fuel, 1)!r} %",
        }
        if request.surf_side is not None:
            body["surf_side"] = request.surf_side.value
        body["saved"] = self.saved(turn) or told["riders"][turn.rider].get("saved")
        return body

    def told_loads(self) -> list[Mapping[str, Any]]:
        """As told, but to stay where they do."""
        stay = {} if self.trip.shifting else {"movable": False}
        loads = self.told.get("loads") or []
        return [load | (stay if load.get("movable") else {}) for load in loads]


def _crew(request: AdviceRequest) -> list[dict[str, Any]]:
    """Exact: a text with its unit is read as the decimal it is."""
    return [_person(person) for person in request.crew or ()]


def _person(person: Person) -> dict[str, Any]:
    given: dict[str, Any] = {"mass": f"{person.mass!r} kg"}
    for name in ("name", "age", "role", "seat"):
        if (value := getattr(person, name)) is not None:
            given[name] = value
    if person.x is not None and person.y is not None:
        given |= {"x": f"{person.x!r} m", "y": f"{person.y!r} m"}
    return given
