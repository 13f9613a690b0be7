"""``POST /v1/advice``: what is answered, written in the request's units."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from rules.base import RuleBase
from rules.model import Facts, Firing, Rule, Target, Verdict
from schemas import written
from schemas.at_rest_answer import at_rest
from schemas.balance_answer import changeover, obstacle, pumping
from schemas.not_yet import forbids, not_yet
from schemas.rule_answer import rule_set
from schemas.units import Dimension, System, unit_names
from service.advice.answer import Advice, Moving, Seating, Setup, Shifting, Warned
from service.advice.requests import Role
from service.advice.saved import Beside
from service.advice.situation import Assumption
from service.boats.model import Boat, Side


def present(advice: Advice, system: System, saved: Beside | None = None) -> dict[str, Any]:
    """The whole answer as JSON-ready data; ``saved`` stands beside what is advised."""
    accounts = {name: written.account(account, system) for name, account in _accounts(advice)}
    cautions = [warned(entry, advice.base, advice.facts, system) for entry in advice.cautions]
    return {
        "verdict": advice.verdict.value,
        "not_yet": _not_yet(advice.verdict, cautions, advice.base),
        "boat": {"id": advice.boat.id, "name": advice.boat.name},
        "rider": {
            "mass": written.number(advice.rider.mass, Dimension.MASS, system),
            "stance": advice.rider.stance.value if advice.rider.stance else None,
            "board": advice.rider.board.value,
            "level": advice.rider.level.value,
            "wants": [wish.value for wish in advice.rider.wants],
        },
        "setup": _setup(advice.setup, advice.boat, system),
        "changeover": changeover(advice, system),
        "obstacles": [obstacle(advice, found, system) for found in advice.obstacles],
        "predicted": {
            "at_rest": at_rest(advice.at_rest, system),
            "under_way": _under_way(advice),
            "wave": _wave(advice, system),
        },
        "reasons": [_reason(advice, firing, accounts, system) for firing in advice.firings],
        "accounts": accounts,
        "cautions": cautions,
        "sensitivities": _sensitivities(advice, system),
        "watch_for": [
            {
                "look": _sentence(advice, seen.watch.look, system),
                "lever": _sentence(advice, seen.watch.lever, system),
                "rule": seen.rule,
            }
            for seen in advice.watch_for
        ],
        "assumed": [assumed(gap, system) for gap in advice.assumed],
        "saved": None if saved is None else _saved(saved, advice.boat, system),
        "rule_set": rule_set(advice.base),
        "units": unit_names(system),
    }


def _saved(found: Beside, boat: Boat, system: System) -> dict[str, Any]:
    done, saved = found.concluded, found.saved
    cautions = [warned(entry, found.base, done.facts, system) for entry in done.cautions]
    return {
        "id": saved.id,
        "found": found.found,
        "source": "saved" if saved.boat is None else "carried_over",
        "boat": {"id": found.boat.id, "name": found.boat.name},
        "verdict": done.verdict.value,
        "not_yet": _not_yet(done.verdict, cautions, found.base),
        "setup": _setup(done.setup, boat, system),
        "at_rest": at_rest(found.at_rest, system),
        "cautions": cautions,
        "assumed": [assumed(gap, system) for gap in found.assumed],
    }


def _not_yet(
    verdict: Verdict, cautions: Iterable[Mapping[str, Any]], base: RuleBase
) -> dict[str, Any] | None:
    """What has to change first; ``None`` where one may go."""
    if verdict is not Verdict.DO_NOT_GO:
        return None
    return not_yet(c["action"] for c in cautions if forbids(c["rule"], base))


def warned(entry: Warned, base: RuleBase, facts: Facts, system: System) -> dict[str, Any]:
    """A caution in words, with what to do, its source and its rule."""
    return {
        "severity": entry.caution.severity.value,
        "text": written.sentence(entry.caution.text, base, facts, system),
        "action": written.sentence(entry.caution.action, base, facts, system),
        "source": base.rules[entry.rule].source,
        "rule": entry.rule,
    }


def assumed(gap: Assumption, system: System) -> dict[str, Any]:
    """A default that was used: where, what, and where it comes from."""
    value = gap.value
    if not isinstance(value, str) and gap.dimension:
        value = written.number(value, Dimension(gap.dimension), system) or 0.0
    return {"pointer": gap.pointer, "value": value, "source": gap.source}


def _setup(setup: Setup, boat: Boat, system: System) -> dict[str, Any]:
    def percent(fraction: float | None) -> float | None:
        return written.number(fraction, Dimension.PERCENT, system)

    return {
        "surf_side": setup.surf_side.value,
        "speed": written.number(setup.speed, Dimension.SPEED, system),
        "plates": {
            "centre": percent(setup.centre_plate),
            "port": percent(setup.port_plate),
            "starboard": percent(setup.starboard_plate),
        },
        "tanks": [
            {
                "tank": tank.tank,
                "fill": percent(tank.fill),
                "now": percent(tank.now),
                "volume": written.number(tank.volume, Dimension.VOLUME, system),
                "mass": written.number(tank.mass, Dimension.MASS, system),
                **pumping(boat, tank.tank, tank.change, system),
            }
            for tank in setup.tanks
        ],
        "seating": _seating(setup, boat, system),
        "moving": _moving(setup.moving, system),
        "loads": [_shifting(load, system) for load in setup.loads],
    }


def _seating(setup: Setup, boat: Boat, system: System) -> list[dict[str, Any]]:
    """An entry for each person who was listed; of a head count one for all alike."""
    if setup.listed:
        return [
            {
                "person": seating.person.number,
                "name": seating.person.name,
                **_seated(seating, 1, system),
                "moves": seating.moves,
                "gain": None if seating.gain is None else round(seating.gain, 2) + 0.0,
            }
            for seating in setup.seating
        ]
    groups: dict[tuple[Any, ...], list[Seating]] = {}
    for seating in setup.seating:
        alike = seating.role, seating.person.mass, seating.origin, seating.goal
        groups.setdefault(alike, []).append(seating)
    order = [seat.id for seat in boat.seats]

    def by_role_and_seat(group: list[Seating]) -> tuple[int, ...]:
        goal = group[0].goal
        place = order.index(goal) if goal in order else len(order)
        return list(Role).index(group[0].role), place

    ordered = sorted(groups.values(), key=by_role_and_seat)
    return [_seated(group[0], len(group), system) for group in ordered]


def _moving(moving: Moving | None, system: System) -> dict[str, Any] | None:
    if moving is None:
        return None
    return {
        "people": moving.people,
        "minutes": written.number(moving.seconds, Dimension.TIME, system),
        "least_gain": moving.least_gain,
    }


def _seated(seating: Seating, people: int, system: System) -> dict[str, Any]:
    return {
        "people": people,
        "mass": written.number(seating.person.mass, Dimension.MASS, system),
        "role": seating.role.value,
        "from": seating.origin,
        "to": seating.goal,
    }


def _shifting(load: Shifting, system: System) -> dict[str, Any]:
    return {
        "name": load.name,
        "mass": written.number(load.mass, Dimension.MASS, system),
        "from": {
            "x": written.number(load.x, Dimension.LENGTH, system),
            "y": written.number(load.y, Dimension.LENGTH, system),
        },
        "to": load.goal,
    }


def _under_way(advice: Advice) -> dict[str, Any]:
    found = advice.running
    froude = advice.wave.depth_froude
    regime = advice.wave.regime
    return {
        "trim": found.degrees if found else None,
        "band": found.band if found else None,
        "valid": found.valid if found else False,
        "note": found.text if found else "The hull has no planing bottom to reckon with.",
        "depth_froude": None if froude is None else round(froude, 3),
        "regime": regime.value if regime else None,
    }


def _wave(advice: Advice, system: System) -> dict[str, Any]:
    wave = advice.wave
    return {
        "wavelength": written.number(wave.transverse_wavelength, Dimension.LENGTH, system),
        "cusp_wavelength": written.number(wave.cusp_wavelength, Dimension.LENGTH, system),
        "note": "Length of the boat's own free waves at this speed; height is not estimated.",
    }


def _reason(
    advice: Advice, firing: Firing, accounts: Mapping[str, dict[str, Any]], system: System
) -> dict[str, Any]:
    rule = firing.rule
    reason: dict[str, Any] = {
        "rule": rule.id,
        "title": rule.title,
        "why": rule.because,
        "because": {
            field.path: written.fact(field, firing.bound[field.path], system)
            for field in rule.facts
            if field.path in firing.bound
        },
        "effect": list(_effects(advice, firing.rule, accounts)),
        "source": rule.source,
        "confidence": rule.confidence.value,
    }
    if rule.other_view:
        reason["other_view"] = rule.other_view
    return reason


def _effects(
    advice: Advice, rule: Rule, accounts: Mapping[str, dict[str, Any]]
) -> Iterator[dict[str, Any]]:
    if rule.side:
        yield {"target": "surf_side", "change": advice.setup.surf_side.value}
    for name, account in accounts.items():
        for line in account["lines"]:
            if line["rule"] == rule.id:
                yield {"target": name, "change": line["change"]}
    if rule.verdict is not None:
        yield {"target": "verdict", "change": rule.verdict.value}


def _accounts(advice: Advice) -> Iterator[tuple[str, Any]]:
    """The accounts under the names of the set-up's own members."""
    surf = advice.setup.surf_side
    names = {
        Target.CENTRE_PLATE.value: "plates.centre",
        Target.OFF_SIDE_PLATE.value: f"plates.{surf.other.value}",
        Target.SURF_SIDE_PLATE.value: f"plates.{surf.value}",
    }
    fitted = {
        "plates.port": advice.setup.port_plate,
        "plates.starboard": advice.setup.starboard_plate,
    }
    for name, account in advice.accounts.items():
        shown = names.get(name, name)
        if fitted.get(shown, 0.0) is not None:
            yield shown, account


def _sentence(advice: Advice, text: str, system: System) -> str:
    return written.sentence(text, advice.base, advice.facts, system)


def _sensitivities(advice: Advice, system: System) -> list[dict[str, Any]]:
    rows = [
        {
            "change": found.change,
            "where": found.where,
            "heel": written.number(found.heel, Dimension.ANGLE, system),
            "trim": written.number(found.trim, Dimension.ANGLE, system),
            "least_freeboard": written.number(found.least_freeboard, Dimension.LENGTH, system),
        }
        for found in advice.sensitivities
    ]
    plates = advice.setup
    for name, fitted, under_way in (
        ("centre", plates.centre_plate, "bow down, a gentler and longer wave"),
        (Side.PORT.value, plates.port_plate, "more of the port side's water held back"),
        (Side.STARBOARD.value, plates.starboard_plate, "more of the starboard side's held back"),
    ):
        if fitted is not None:
            rows.append(
                {
                    "change": "10 % more plate",
                    "where": f"plates.{name}",
                    "heel": 0.0,
                    "trim": 0.0,
                    "least_freeboard": 0.0,
                    "note": f"nothing at rest; under way: {under_way} (common practice)",
                }
            )
    return rows
