"""A run as the log keeps it and reads it: what the rules alone say, and what was set in the end.

Kept with the run when it is made, small and in SI units and percent, since thousands are read at
once and the rules alone cannot be asked later: limits and balance would have to be solved again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from typing import Any

import numpy as np

from rules.accounts import amount
from rules.base import RuleBase
from service.advice.answer import Advice
from service.advice.learned import FORWARD, begins_forward, context_of
from service.boats.model import Boat, Side
from service.calibration.log import NUMBERS, Changed, Context, Ridden

EVEN, OFF_SIDE = "ballast", "off_side_ballast"
_ADDED = ("base", "add")


def kept(advice: Advice, alone: Advice) -> dict[str, Any]:
    """What is kept of a run; ``alone`` is the advice without the boat's log.

    ``asked`` are the amounts that make the numbers: rule, number, amount, and the fact that it
    goes by, so that the log stays right where an outfit changes one.
    """
    context, tanks = context_of(advice.facts), [tank.id for tank in advice.boat.tanks]
    return {
        "side": advice.setup.surf_side.value,
        "context": [context.people, context.water, context.rider_mass],
        "alone": _plain(alone),
        "advised": _plain(advice),
        "tanks": tanks,
        "alone_in_tanks": _fills(alone, tanks),
        "in_tanks": _fills(advice, tanks),
        "water": shares(advice.boat, advice.setup.surf_side),
        "asked": list(_asked(alone)),
    }


def _plain(advice: Advice) -> dict[str, float]:
    """Speed (km/h) and the plates that the boat has (%)."""
    setup = advice.setup
    off = setup.starboard_plate if setup.surf_side is Side.PORT else setup.port_plate
    fitted = {"speed": True, "centre_plate": setup.centre_plate is not None,
              "off_side_plate": off is not None}  # fmt: skip
    return {
        name: float(advice.accounts[name].value)
        for name, there in fitted.items()
        if there and name in advice.accounts
    }


def _fills(advice: Advice, tanks: list[str]) -> list[float]:
    return [float(advice.accounts[f"tanks.{tank}"].value) for tank in tanks]


def _asked(alone: Advice) -> Iterator[list[Any]]:
    for firing in alone.firings:
        for change in firing.rule.changes:
            if change.target.value in NUMBERS and change.action in _ADDED:
                field = change.amount.field
                yield [
                    firing.rule.id, change.target.value,
                    amount(alone.base.parameters, change.amount, firing.bound),
                    None if field is None else firing.bound[field.path],
                ]  # fmt: skip


def shares(boat: Boat, side: Side) -> dict[str, list[float]]:
    """What a percent in each tank adds to those of all tanks, of the off side and of the forward.

    By least squares, every tank by its capacity. Of these numbers a boat has those that its tanks
    tell apart.
    """
    begins = begins_forward(boat)
    columns = {
        EVEN: [1.0 for _ in boat.tanks],
        OFF_SIDE: [float(side.across(tank.y) < 0.0) for tank in boat.tanks],
        FORWARD: [float(tank.x > begins) for tank in boat.tanks],
    }
    taken: dict[str, list[float]] = {}
    for name, column in columns.items():
        if np.linalg.matrix_rank(np.array([*taken.values(), column])) > len(taken):
            taken[name] = column
    if not taken:
        return {}
    x = np.array(list(taken.values())).T
    weighed = x.T * [tank.capacity for tank in boat.tanks]
    found = np.linalg.solve(weighed @ x, weighed).round(9) + 0.0
    return dict(zip(taken, found.tolist(), strict=True))


def logged(
    log: Mapping[str, Any] | None, told: Mapping[str, Any], rating: int | None,
    rider: str | None, started: datetime, rules: RuleBase | None = None,
) -> Ridden | None:  # fmt: skip
    """A kept run; ``None`` for one that tells nothing: erased, not rated and not tuned, or ridden
    on the other side.

    ``told``: of its document settings, changes and tuning, as far as they are there. ``rules``:
    those that hold now, where they are not those that advised it.
    """
    settings = told.get("settings") or {}
    if log is None or settings.get("surf_side") not in (None, log["side"]):
        return None
    advised = {**log["alone"], **dict.fromkeys(log["water"], 0.0)}
    for name, further in _since(log["asked"], rules):
        if name in advised:
            advised[name] += further
    final = {**log["advised"], **_water(log, dict(zip(log["tanks"], log["in_tanks"], strict=True)))}
    final |= _numbers(log, settings)
    steps = (
        *(step for change in told.get("changes") or () for step in _steps(log, change)),
        *(step for past in told.get("tuning") or () for step in _session(log, past)),
    )
    if rating is None and not steps:
        return None
    context, day = Context(*log["context"]), started.timestamp() / 86400.0
    return Ridden(context, advised, final, rating, rider, day, steps)


def _since(asked: list[list[Any]], rules: RuleBase | None) -> Iterator[tuple[str, float]]:
    """How much more the rules now ask of a number in the same case.

    Of amounts alone: rules that would now fire in other cases, or were written anew, are taken to
    ask what they asked then.
    """
    if rules is None:
        return
    for rule, number, then, fact in asked:
        for change in rules.rules[rule].changes if rule in rules.rules else ():
            field = change.amount.field
            if change.target.value == number and change.action in _ADDED:
                if (field is None) is (fact is None):
                    facts = {} if field is None else {field.path: fact}
                    with suppress(KeyError, ValueError):  # a word or a number that it knew then
                        yield number, amount(rules.parameters, change.amount, facts) - then
                break


def _numbers(log: Mapping[str, Any], settings: Mapping[str, Any]) -> dict[str, float]:
    """The numbers that settings tell; tanks left out are as advised."""
    off_side = "starboard" if log["side"] == "port" else "port"
    plates = settings.get("plates") or {}
    told = {
        "speed": settings.get("speed"),
        "centre_plate": plates.get("centre"),
        "off_side_plate": plates.get(off_side),
    }
    found = {name: float(value) for name, value in told.items() if value is not None}
    tanks = settings.get("tanks") or {}
    if tanks:
        advised = dict(zip(log["tanks"], log["in_tanks"], strict=True))
        found |= _water(log, advised | tanks)
    return found


def _water(log: Mapping[str, Any], fills: Mapping[str, float]) -> dict[str, float]:
    """How far these fills are off those of the rules alone, as shares."""
    off = [
        fills[tank] - alone for tank, alone in zip(log["tanks"], log["alone_in_tanks"], strict=True)
    ]
    return {
        name: sum(a * b for a, b in zip(share, off, strict=True))
        for name, share in log["water"].items()
    }


def _steps(log: Mapping[str, Any], told: Mapping[str, Any]) -> Iterator[Changed]:
    """The change, where it is of one number: of several nobody knows which of them did it."""
    if told.get("helped") is None:
        return
    before, after = (_numbers(log, told.get(when) or {}) for when in ("before", "after"))
    differ = [n for n in before.keys() & after.keys() if abs(after[n] - before[n]) > 1e-6]
    if len(differ) == 1:
        yield Changed(differ[0], before[differ[0]], after[differ[0]], told["helped"])


def _session(log: Mapping[str, Any], past: Mapping[str, Any]) -> Iterator[Changed]:
    """The same of an entry of the tuning session, which is metric; of speed and plates.

    Where what was seen turned into its opposite, the right setting lies in between: a step across
    where it came from would help, one across where it went to would not.
    """
    off_side = "starboard" if log["side"] == "port" else "port"
    levers = {"speed": "speed", "plates.centre": "centre_plate",
              f"plates.{off_side}": "off_side_plate"}  # fmt: skip
    origin, goal, did = past.get("from"), past.get("to"), past.get("did")
    number = levers.get(past["lever"])
    if number is None or not isinstance(origin, float | int) or not isinstance(goal, float | int):
        return
    step = goal - origin
    if did in ("better", "worse"):
        yield Changed(number, origin, goal, did == "better")
    elif did == "reversed":
        yield Changed(number, origin - step, origin + step, helped=True)
        yield Changed(number, goal - step, goal + step, helped=False)
