"""``POST /v1/outing-plans``: what is answered, written in the request's units."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from rules.model import Severity, Verdict
from schemas import written
from schemas.advice_answer import assumed, warned
from schemas.not_yet import forbids, not_yet
from schemas.outing_turns import Turns
from schemas.rule_answer import rule_set
from schemas.units import Dimension, System, unit_names
from service.outings.answer import Loss, Missed, Outing, Remark, Short
from service.outings.outing import UNSAFE

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
    Remark.NO_DRIVER: (
        Severity.DANGER, "None of the crew can drive, and riders do not drive between their turns.",
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


UNSAFE_FIRST = "Take weight off or move it, until no part of the outing breaks a limit."
DRIVER_FIRST = "Take a driver along who does not ride."
OF_TURNS = "Turn{s} {turns}: {what}"


class _Writer(Turns):
    """Writes what is said of the outing as a whole."""

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

    def not_yet(self, cautions: Sequence[Mapping[str, Any]]) -> dict[str, Any] | None:
        """What has to change first; ``None`` where one may go."""
        if self.outing.verdict is not Verdict.DO_NOT_GO:
            return None
        first = [
            of_turns(caution, len(self.outing.lines))
            for caution in cautions if forbids(caution["rule"], self.trip.base)
        ]  # fmt: skip
        if any(kind is Remark.NO_DRIVER for kind, _ in self.outing.remarks):
            first.insert(0, DRIVER_FIRST)
        if any(kind in UNSAFE for kind, _ in self.outing.remarks):
            first.append(UNSAFE_FIRST)
        return not_yet(first)


def of_turns(caution: Mapping[str, Any], every: int) -> str:
    """What to do, with the turns that it is for unless it is for all."""
    turns, what = caution["turns"], str(caution["action"])
    if len(turns) == every:
        return what
    plural = "s" if len(turns) > 1 else ""
    return OF_TURNS.format(s=plural, turns=", ".join(map(str, turns)), what=what)


def present(outing: Outing, told: Mapping[str, Any], system: System) -> dict[str, Any]:
    """The whole answer as JSON-ready data. ``told``: the request's JSON as it was sent."""
    write = _Writer(outing, told, system)
    lines = outing.lines
    cautions = write.cautions()
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
        "not_yet": write.not_yet(cautions),
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
        "cautions": cautions,
        "losses": [write.loss(loss) for loss in outing.losses],
        "assumed": [assumed(gap, system) for gap in outing.trip.assumed],
        "rule_set": rule_set(outing.trip.base),
        "units": unit_names(system),
    }
