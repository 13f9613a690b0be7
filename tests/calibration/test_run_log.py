"""How a kept run is read: what tells nothing, and rules that have changed since."""

from __future__ import annotations

from typing import Any

import pytest

import rules
from rules.base import RuleBase
from schemas.run_log import kept, logged
from service.advice.advise import advise
from service.advice.requests import AdviceRequest, Board, Level, Person, Rider, Stance
from service.calibration.log import Ridden
from service.storage.tables import now
from tests.calibration import synthetic

BASE = rules.load()
RIDER = Rider(62.0, Stance.REGULAR, Board.SURF, Level.INTERMEDIATE)


@pytest.fixture(scope="module")
def log() -> dict[str, Any]:
    asked = AdviceRequest(synthetic.FLEET["demo-7m"], RIDER, (Person(),) * 4)
    advice = advise(asked, BASE)
    return kept(advice, advice)


def read(
    log: dict[str, Any] | None,
    *,
    rules: RuleBase | None = None,
    rating: int | None = 5,
    changes: list[dict[str, Any]] | None = None,
    tuning: list[dict[str, Any]] | None = None,
    **settings: Any,
) -> Ridden | None:
    told = {"settings": settings, "changes": changes, "tuning": tuning}
    return logged(log, told, rating, None, now(), rules)


def deviations(run: Ridden | None) -> dict[str, float]:
    assert run is not None
    return {name: run.final[name] - run.advised[name] for name in run.advised}


def test_taken_as_advised_it_is_nowhere_off(log: dict[str, Any]) -> None:
    assert set(deviations(read(log)).values()) == {0.0}


def test_what_tells_nothing_is_none(log: dict[str, Any]) -> None:
    assert read(None) is None  # the rider was erased
    assert read(log, surf_side="starboard") is None
    assert read(log, rating=None) is None
    words = [{"target": "speed", "change": "a bit faster", "helped": True}]
    assert read(log, rating=None, changes=words) is None


def test_the_surf_side_plate_is_not_the_off_side_one(log: dict[str, Any]) -> None:
    run = read(log, plates={"port": 30.0, "starboard": 80.0})
    assert run is not None
    assert run.final["off_side_plate"] == 80.0


@pytest.mark.parametrize(
    ("name", "value", "number", "by"),
    [
        ("speed.start", 17.7, "speed", 0.5),
        ("off_side_plate.light_crew", 70.0, "off_side_plate", 3.0),
        ("ballast.factory_fill", 90.0, "ballast", -10.0),
        ("ballast.off_side_less", -15.0, "off_side_ballast", -5.0),
    ],
)
def test_a_value_changed_since_is_taken_off(
    log: dict[str, Any], name: str, value: float, number: str, by: float
) -> None:
    local = BASE.with_values({name: value})
    found = deviations(read(log, rules=local))
    assert found.pop(number) == pytest.approx(-by)
    assert set(found.values()) == {0.0}


def test_a_curve_changed_since_is_looked_up_at_what_it_went_by(log: dict[str, Any]) -> None:
    """For 62 kg of rider, as of that day, against an advice by the changed curve itself."""
    name, number = next(
        (change.amount.parameter, change.target.value)
        for rule in BASE.rules.values()
        for change in rule.changes
        if change.amount.field is not None
        and change.amount.field.path == "rider.mass"
        and [rule.id, change.target.value] in [line[:2] for line in log["asked"]]
        and isinstance(BASE.parameters[change.amount.parameter].value, tuple)
    )
    points = BASE.parameters[name].value
    assert isinstance(points, tuple)
    local = BASE.with_values({name: [[x, y + 1.5] for x, y in points]})
    asked = AdviceRequest(synthetic.FLEET["demo-7m"], RIDER, (Person(),) * 4)
    by_local = advise(asked, local).accounts[number].value
    by_shipped = advise(asked, BASE).accounts[number].value
    found = deviations(read(log, rules=local))[number]
    assert found == pytest.approx(float(by_shipped - by_local), abs=0.6)  # whole percents


def test_rules_written_anew_since_ask_what_they_asked(log: dict[str, Any]) -> None:
    strange = {
        **log,
        "asked": [
            ["no.such_rule", "speed", 1.0, None],
            ["speed.start", "speed", 17.2, "a word"],
            ["centre_plate.board", "centre_plate", 5.0, "no such board"],
        ],
    }
    assert set(deviations(read(strange, rules=BASE)).values()) == {0.0}


def past(lever: str, origin: Any, goal: Any, did: str) -> dict[str, Any]:
    return {"lever": lever, "from": origin, "to": goal, "did": did}


@pytest.mark.parametrize(
    ("entry", "number", "sides"),
    [
        (past("speed", 17.0, 17.4, "better"), "speed", [(0.2, 1.0)]),
        (past("speed", 17.0, 17.4, "worse"), "speed", [(0.2, -1.0)]),
        (past("speed", 17.4, 17.0, "worse"), "speed", [(0.2, 1.0)]),
        (past("plates.starboard", 69, 75, "better"), "off_side_plate", [(3.0, 1.0)]),
        (past("plates.centre", 57.0, 67.0, "reversed"), "centre_plate", [(0.0, 1.0), (10.0, -1.0)]),
        (past("plates.centre", 67.0, 57.0, "reversed"), "centre_plate", [(0.0, 1.0), (10.0, -1.0)]),
    ],
)
def test_a_tuning_session_is_read(
    log: dict[str, Any], entry: dict[str, Any], number: str, sides: list[tuple[float, float]]
) -> None:
    run = read(log, rating=None, tuning=[entry])
    assert run is not None
    assert [side for _, side in run.sides(number)] == [side for _, side in sides]
    assert [at for at, _ in run.sides(number)] == pytest.approx([at for at, _ in sides])


@pytest.mark.parametrize(
    "entry",
    [
        past("speed", 17.0, 17.4, "same"),
        past("speed", None, 17.4, "better"),
        past("plates.port", 0.0, 10.0, "better"),
        past("tanks.bow", 100.0, 50.0, "better"),
        past("people", "stern", "bow", "better"),
        {"lever": "look", "did": "same", "seen": []},
    ],
)
def test_what_of_a_session_tells_no_side_is_passed_over(
    log: dict[str, Any], entry: dict[str, Any]
) -> None:
    assert read(log, rating=None, tuning=[entry]) is None
