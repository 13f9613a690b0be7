"""``POST /v1/outing-plans``: what is answered, written in the request's units."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from rules.model import Severity
from schemas import written
from schemas.advice_answer import assumed, warned
from schemas.rule_answer import rule_set
from schemas.units import Dimension, System, unit_names
from service.advice.requests import AdviceRequest, Person
from service.advice.weighing import Attitude
from service.outings.answer import Homeward, Line, Loss, Missed, Outing, Remark, Short
from service.outings.between import Between
from service.outings.setups import Origin, Turn
from service.outings.steps import Move, Pumping, Shift
from service.outings.trip import Spot, Stand, Trip

OWN_PLACE, STANDS = "own place", "stands amid the seats"
ABOARD = "comes aboard"

_MISSED = {
    Missed.SHORTER: "{rider} rides {by} less than wanted: the time is shared out evenly.",
    Missed.FEWER_TURNS: "{rider} has {by} fewer than wanted: there is no time for more.",
    Missed.NO_TURN: "{rider} does not ride: no time is left for a turn worth having.",
    Missed.WISH: "{rider} does not get the place wished for: other wishes or too few turns forbid.",
    Missed.REST: "{rider} rests less than wished between turns: there are too few others.",
}
_REMARKS: Mapping[Remark, tuple[Severity, str]] = {
    Remark.FUEL_OUT: (Severity.DANGER, "The fuel does not last: refuel before setting out."),
    Remark.FUEL_SHIFTS: (
        Severity.NOTE,
        "As fuel burns off the boat leaves what this set-up was made for; look at heel and trim.",
    ),
    Remark.NO_SEATS_AFT: (
        Severity.WARNING,
        "There are not seats enough outside the bow for everybody on the way home: go slowly.",
    ),
    Remark.BROKEN: (Severity.DANGER, "This change-over passes a state that breaks a limit."),
    Remark.UNSAFE_OUT: (
        Severity.DANGER, "On the way out, as loaded now, the boat does not lie safely.",
    ),
    Remark.UNSAFE_RIDING: (
        Severity.DANGER, "In this turn, with the fuel there is then, the boat does not lie safely.",
    ),
    Remark.UNSAFE_HOME: (
        Severity.DANGER, "On the way home, with everybody aboard, the boat does not lie safely.",
    ),
}  # fmt: skip


class _Writer:
    """One outing on its way to JSON. ``told`` is the request as it was sent."""

    def __init__(self, outing: Outing, told: Mapping[str, Any], system: System) -> None:
        self.outing, self.told, self.system = outing, told, system
        self.trip: Trip = outing.trip

    def number(self, inside: float | None, dimension: Dimension) -> float | None:
        return written.number(inside, dimension, self.system)

    def minutes(self, seconds: float) -> float | None:
        return self.number(seconds, Dimension.TIME)

    def percent(self, fraction: float | None) -> float | None:
        return self.number(fraction, Dimension.PERCENT)

    def clock(self, seconds: float) -> str | None:
        """A moment of the timetable, with the offset that the start was told with."""
        start = self.trip.request.start
        if start is None:
            return None
        zone = datetime.fromisoformat(self.told["start"]).tzinfo
        return (start + timedelta(seconds=round(seconds))).astimezone(zone).isoformat()

    def when(self, starts: float, ends: float) -> dict[str, Any]:
        return {
            "starts": self.minutes(starts), "ends": self.minutes(ends),
            "start_time": self.clock(starts), "end_time": self.clock(ends),
        }  # fmt: skip

    def lies(self, attitude: Attitude) -> dict[str, Any]:
        board = attitude.freeboard
        return {
            "status": attitude.floating.status.value,
            "heel": self.number(self.trip.heel(attitude), Dimension.ANGLE),
            "trim": self.number(attitude.floating.trim, Dimension.ANGLE),
            "least_freeboard": self.number(board.least if board else None, Dimension.LENGTH),
            "displacement": self.number(attitude.loading.mass, Dimension.MASS),
        }

    def seating(self, stand: Stand) -> list[dict[str, Any]]:
        """Who sits where, in the order of the boat's seats."""
        at: dict[str, list[str]] = {}
        for number, (person, spot) in enumerate(zip(self.trip.people, stand.places, strict=True)):
            if number != stand.off:
                at.setdefault(_place(spot), []).append(person.name)
        order = [seat.id for seat in self.trip.boat.seats]
        ranked = sorted(at, key=lambda name: order.index(name) if name in order else len(order))
        return [{"seat": seat, "people": at[seat]} for seat in ranked]

    def loads(self, stand: Stand) -> dict[str, Any]:
        """Where each movable load lies; nothing where there is none."""
        found = [
            {
                "load": load.name,
                "mass": self.number(load.mass, Dimension.MASS),
                "at": seat or OWN_PLACE,
            }
            for load, seat in self.trip.lying(stand)
        ]
        return {"loads": found} if found else {}

    def shifted(self, changes: Iterable[Between]) -> dict[str, int]:
        """How often a load is shifted; nothing where none is movable."""
        count = sum(len(change.shifts) for change in changes)
        return {"loads_shifted": count} if self.trip.movable else {}

    def tanks(self, stand: Stand) -> list[dict[str, Any]]:
        fills = dict(zip(self.trip.tanks, stand.fills, strict=True))
        return [
            {
                "tank": tank.id,
                "fill": self.percent(fills[tank.id]),
                "volume": self.number(fills[tank.id] * tank.capacity, Dimension.VOLUME),
            }
            for tank in self.trip.boat.tanks
        ]

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

    def volume(self, volumes: Iterator[float]) -> float | None:
        return self.number(math.fsum(volumes), Dimension.VOLUME)

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
        origin = ABOARD if step.origin is None else _place(step.origin)
        return {"kind": "move", "person": step.person, "from": origin, "to": _place(step.goal)}

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

    def totals(self) -> dict[str, Any]:
        outing, trip = self.outing, self.trip
        changes = [*(line.between for line in outing.lines), outing.home.between]
        return {
            "minutes": self.minutes(outing.home.ends),
            "riding_minutes": self.minutes(math.fsum(outing.riding)),
            "change_over_minutes": self.minutes(
                math.fsum(line.starts - line.change for line in outing.lines)
                + outing.home.starts - outing.home.change
            ),
            "pump_minutes": self.minutes(outing.pumping),
            "water_in": self.number(outing.water_in, Dimension.VOLUME),
            "water_out": self.number(outing.water_out, Dimension.VOLUME),
            "side_changes": outing.side_changes,
            "seats_changed": sum(
                len({m.person for m in change.moves if m.origin is not None}) for change in changes
            ),
            **self.shifted(changes),
            "riders": [
                {
                    "rider": rider.name,
                    "wanted": self.minutes(wanted),
                    "riding": self.minutes(got),
                    "turns": sum(line.turn.rider == n for line in outing.lines),
                }
                for n, (rider, wanted, got) in enumerate(
                    zip(trip.riders, trip.wanted, outing.riding, strict=True)
                )
            ],
            "fairness": None if outing.fairness is None else round(outing.fairness, 4),
        }  # fmt: skip

    def short(self, short: Short) -> dict[str, Any]:
        name = self.trip.riders[short.rider].name
        by = f"{short.by:.0f} turn" + ("s" if short.by != 1.0 else "")
        if short.why in (Missed.SHORTER, Missed.NO_TURN):
            by = f"{written.plain(short.by / 60.0, 1)} min"
        says = _MISSED[short.why].format(rider=name, by=by)
        return {"rider": name, "why": short.why.value, "text": says}

    def loss(self, loss: Loss) -> dict[str, Any]:
        def angle(degrees: float | None) -> float | None:
            return None if degrees is None else self.number(math.radians(degrees), Dimension.ANGLE)

        return {
            "rider": self.trip.riders[loss.rider].name,
            "other_side": loss.other_side,
            "speed": self.number(loss.speed, Dimension.SPEED),
            "centre_plate": self.percent(loss.centre_plate),
            "off_side_plate": self.percent(loss.off_side_plate),
            "water": self.number(loss.water, Dimension.VOLUME),
            "lean": angle(loss.lean),
            "trim": angle(loss.trim),
        }

    def cautions(self) -> list[dict[str, Any]]:
        """Each caution of any turn once, in words, with the turns that it is for."""
        found: dict[tuple[str, str], dict[str, Any]] = {}
        for number, line in enumerate(self.outing.lines, 1):
            for entry in line.turn.cautions:
                told = warned(entry, self.trip.base, line.turn.facts, self.system)
                key = (told["rule"], told["text"])
                found.setdefault(key, told | {"turns": []})["turns"].append(number)
        grave = list(Severity)
        return sorted(found.values(), key=lambda told: -grave.index(Severity(told["severity"])))


def present(outing: Outing, told: Mapping[str, Any], system: System) -> dict[str, Any]:
    """The whole answer as JSON-ready data. ``told``: the request's JSON as it was sent."""
    write = _Writer(outing, told, system)
    lines = outing.lines
    gap = max(outing.cost - outing.bound, 0.0)
    remarks = [
        {
            "kind": kind.value, "severity": _REMARKS[kind][0].value, "text": _REMARKS[kind][1],
            "turn": None if n is None or n >= len(lines) else n + 1,
        }
        for kind, n in outing.remarks
    ]  # fmt: skip
    return {
        "verdict": outing.verdict.value,
        "boat": {"id": outing.trip.request.boat.id, "name": outing.trip.request.boat.name},
        "mode": outing.trip.request.mode.value,
        "start_time": write.clock(0.0),
        "way_out": {
            **write.when(0.0, outing.trip.way),
            "seating": write.seating(outing.trip.now),
            "predicted": write.lies(outing.out),
        },
        "turns": [
            write.turn(number, line, lines[number - 2] if number > 1 else None)
            for number, line in enumerate(lines, 1)
        ],
        "way_home": write.home(outing.home, lines[-1].turn if lines else None),
        "totals": write.totals(),
        "order": {
            "exact": gap <= 0.0,
            "cost": write.minutes(outing.cost),
            "bound": write.minutes(outing.bound),
            "gap": write.minutes(gap),
            "gap_percent": round(100.0 * gap / outing.cost, 2) if gap else 0.0,
        },
        "did_not_fit": [write.short(short) for short in outing.short],
        "remarks": remarks,
        "cautions": write.cautions(),
        "losses": [write.loss(loss) for loss in outing.losses],
        "assumed": [assumed(gap, system) for gap in outing.trip.assumed],
        "rule_set": rule_set(outing.trip.base),
        "units": unit_names(system),
    }


def _place(spot: Spot) -> str:
    if spot is None:
        return STANDS
    return spot if isinstance(spot, str) else OWN_PLACE


def _crew(request: AdviceRequest) -> list[dict[str, str]]:
    """Exact: a text with its unit is read as the decimal it is."""
    return [_person(person) for person in request.crew or ()]


def _person(person: Person) -> dict[str, str]:
    told = {"mass": f"{person.mass!r} kg"}
    if person.seat is not None:
        told["seat"] = person.seat
    if person.x is not None and person.y is not None:
        told |= {"x": f"{person.x!r} m", "y": f"{person.y!r} m"}
    return told
