"""A small change of what is told makes a small change of what is advised.

No jump is over the size stated here, except where a rule begins or ceases to fire because a fact
passed a limit that the rule itself declares; then by no more than the rule adds.

WAVESETUP_TEST_RULE_SWEEPS makes the steps that many times finer, and goes over every demo boat.
"""

from __future__ import annotations

import copy
import itertools
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rules import RuleBase, load
from rules.accounts import amount
from rules.model import Condition, Rule, Target
from service import create_app
from service.advice.requests import Wish
from tests.advice.requests_made import BOATS, OTHER
from tests.rules import oracle
from tests.rules.asked import requests

FINER = int(os.environ.get("WAVESETUP_TEST_RULE_SWEEPS", "1"))
FLEET = ["demo-7m"] if FINER == 1 else sorted(BOATS)

Answer = dict[str, Any]
Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Sizes:
    """The most that each advised or predicted number may move, a declared jump apart.

    Lean and trim besides by what the rules leave to them: people are whole and seats are few, so
    they lie anywhere in their bands.
    """

    speed: float = 0.2  # km/h: two contributions, each worked out to a tenth
    plate: float = 1.0  # %, the whole step in which plates are advised
    fill: float = 10.0  # %, the step in which tanks are filled
    freeboard: float = 0.04  # m


STEP = Sizes()
PERSON = Sizes(plate=2.0, fill=20.0, freeboard=0.05)
"""For one more person of 84 kg, who may come to sit on either side: two steps of a tank."""

BANDS = {"heel": "balance.lean_band", "trim": "balance.bow_band"}
"""The parameters that say how far off either may be, each way."""

TURNING = {
    "attitude.lean_reached", "attitude.bow_reached", "attitude.fuller_side",
    "attitude.water_short_for", "crew.driver", "crew.observer",
}  # fmt: skip
"""Words that a rule asks for, and that turn where a number passes a limit."""

SWEEPS: Mapping[str, tuple[Path, float, float, float]] = {
    "rider mass, kg": (("rider", "mass"), 40, 130, 1),
    "mass of one of the crew, kg": (("crew", 1, "mass"), 40, 120, 2),
    "place of one of the crew, forward, m": (("crew", 2, "x"), 0.4, 5.4, 0.1),
    "place of one of the crew, to port, m": (("crew", 2, "y"), -1.0, 1.0, 0.05),
    "mass of a load, kg": (("loads", 0, "mass"), 0, 200, 4),
    "place of a load, forward, m": (("loads", 0, "x"), 0, 6, 0.2),
    "place of a load, to port, m": (("loads", 0, "y"), -1.2, 1.2, 0.1),
    "height of a load, m": (("loads", 0, "z"), 0.3, 1.5, 0.1),
    "depth, m": (("water", "depth"), 2.5, 8, 0.1),
    "distance to shore, m": (("water", "distance_to_shore"), 40, 320, 10),
    "temperature of the water, °C": (("water", "temperature"), 0, 30, 3),
    "fuel, %": (("fuel",), 0, 100, 5),
    "water in a tank now, %": (("ballast", "aft-port"), 0, 100, 5),
}
"""Where each number stands in the request, from, to, and its step."""


def request(boat: str) -> dict[str, Any]:
    crew = [
        {"mass": 84, "seat": "helm"}, {"mass": 80}, {"mass": 70, "x": 2.0, "y": 0.4}, {"mass": 60},
    ]  # fmt: skip
    return {
        "boat": boat,
        "crew": crew,
        "loads": [{"mass": 60, "x": 2.6, "y": 0.4, "z": 0.6}],
        "rider": {"mass": 80, "stance": "goofy", "board": "surf", "level": "intermediate"},
        "water": {"depth": 7, "distance_to_shore": 200, "temperature": 18},
        "fuel": 50,
    }


@pytest.fixture(scope="module")
def asked() -> FlaskClient:
    return create_app({"TESTING": True}).test_client()


def answer(client: FlaskClient, sent: dict[str, Any]) -> Answer:
    response = client.post("/v1/advice?trace=full", json=sent)
    assert response.status_code == 200, response.get_json(force=True)
    found: Answer = response.get_json()
    return found


def put(sent: dict[str, Any], path: Path, value: float) -> dict[str, Any]:
    sent = copy.deepcopy(sent)
    *before, last = path
    place: Any = sent
    for step in before:
        if step == "ballast":  # told in no other sweep: what to change over takes its time
            place.setdefault(step, {})
        place = place[step]
    place[last] = value
    return sent


# -- what moved, and what the rules declare ----------------------------------------------------


def set_otherwise(before: Answer, after: Answer) -> dict[str, float]:
    """How far speed (km/h) and plates moved, the plates by what they do."""
    a, b = before["setup"], after["setup"]
    assert a["surf_side"] == b["surf_side"]
    off = OTHER[a["surf_side"]]
    plates = {Target.CENTRE_PLATE: "centre", Target.OFF_SIDE_PLATE: off}
    kilometres = 1.609344 if before["units"]["speed"] == "mph" else 1.0
    return {Target.SPEED: abs(a["speed"] - b["speed"]) * kilometres} | {
        target: abs(a["plates"][name] - b["plates"][name])
        for target, name in plates.items()
        if a["plates"][name] is not None
    }


def moved(before: Answer, after: Answer) -> dict[str, float]:
    """How far each number moved, of the tanks the one that moved most."""
    (a, rest_a), (b, rest_b) = ((x["setup"], x["predicted"]["at_rest"]) for x in (before, after))
    tanks = zip(a["tanks"], b["tanks"], strict=True)
    return set_otherwise(before, after) | {
        "fill": max(abs(x["fill"] - y["fill"]) for x, y in tanks),
        "heel": abs(rest_a["heel"] - rest_b["heel"]),
        "trim": abs(rest_a["trim"] - rest_b["trim"]),
        "freeboard": abs(rest_a["freeboard"]["least"] - rest_b["freeboard"]["least"]),
    }


def differing(base: RuleBase, before: Answer, after: Answer) -> Iterator[tuple[Rule, Answer]]:
    """Each rule that fired in one answer only, and that answer."""
    fired = [{each["rule"] for each in one["trace"]["fired"]} for one in (before, after)]
    for rule in sorted(fired[0] ^ fired[1]):
        yield base.rules[rule], before if rule in fired[0] else after


def declared(base: RuleBase, before: Answer, after: Answer) -> dict[str, float]:
    """What the rules that fired in one answer only add, by target."""
    added: dict[str, float] = {}
    for rule, one in differing(base, before, after):
        (bound,) = (f["bound"] for f in one["trace"]["fired"] if f["rule"] == rule.id)
        for change in rule.changes:
            size = abs(amount(base.parameters, change.amount, bound))
            added[change.target] = added.get(change.target, 0.0) + size
    return added


def passed_a_limit(rule: Rule, before: Answer, after: Answer) -> bool:
    """Whether a fact is on one side of a limit of the rule, then on the other."""
    facts = [one["trace"]["facts"] for one in (before, after)]
    for condition in rule.when:
        if isinstance(condition, Condition) and condition.field.path in TURNING:
            if len({seen[condition.field.kind][condition.field.name] for seen in facts}) == 2:
                return True
        elif isinstance(condition, Condition) and condition.operator.value in oracle.COMPARE:
            field, limit = condition.field, float(condition.value)
            holds = oracle.COMPARE[condition.operator.value]
            if len({holds(round(seen[field.kind][field.name], 4), limit) for seen in facts}) == 2:
                return True
    return False


def check(base: RuleBase, before: Answer, after: Answer, sizes: Sizes, numeric: bool) -> int:
    """Asserts that nothing jumped; gives how many rules began or ceased to fire."""
    differ = list(differing(base, before, after))
    if numeric:
        for rule, _ in differ:
            assert passed_a_limit(rule, before, after), rule.id
    jumps, plates = declared(base, before, after), (Target.CENTRE_PLATE, Target.OFF_SIDE_PLATE)
    for target, by in _of_the_water(base, before, after).items():
        jumps[target] = jumps.get(target, 0.0) + by
    for what, by in moved(before, after).items():
        if what in BANDS:
            size = 2 * base.number(BANDS[what])
        else:
            size = sizes.plate if what in plates else getattr(sizes, what)
        assert by <= size + jumps.get(what, 0.0) + 1e-9, (what, by, size, jumps)
    return len(differ)


def _of_the_water(base: RuleBase, before: Answer, after: Answer) -> dict[str, float]:
    """What the curves by load give for a step of a tank; nothing where no tank moved."""
    fills = [[tank["fill"] for tank in one["setup"]["tanks"]] for one in (before, after)]
    if fills[0] == fills[1]:
        return {}
    loads = [one["trace"]["facts"]["plan"]["load_beyond_light"] for one in (before, after)]
    curves = {
        Target.SPEED: base.rules["speed.heavy_hull"].changes[0].amount,
        Target.OFF_SIDE_PLATE: base.rules["off_side_plate.load"].changes[0].amount,
    }
    found = {}
    for target, curve in curves.items():
        low, high = (
            amount(base.parameters, curve, {"plan.load_beyond_light": load}) for load in loads
        )
        found[target.value] = abs(high - low)
    return found


# -- the proofs -------------------------------------------------------------------------------


@pytest.mark.parametrize("boat", FLEET)
@pytest.mark.parametrize("name", SWEEPS)
def test_a_small_step_makes_a_small_difference(
    asked: FlaskClient, base: RuleBase, boat: str, name: str
) -> None:
    path, low, high, step = SWEEPS[name]
    count = round((high - low) / step) * FINER
    values = [round(low + (high - low) * i / count, 4) for i in range(count + 1)]
    found = [answer(asked, put(request(boat), path, value)) for value in values]
    passed = sum(
        check(base, before, after, STEP, numeric=True)
        for before, after in itertools.pairwise(found)
    )
    # Of the rules that fire at all for this rider: others ask for another level.
    fired = {each["rule"] for one in found for each in one["trace"]["fired"]}
    limits = {
        float(condition.value)
        for rule in map(base.rules.__getitem__, fired)
        for condition in rule.when
        if isinstance(condition, Condition)
        and condition.field.path == ".".join(map(str, path))
        and condition.operator.value in oracle.COMPARE
    }
    assert passed >= len({limit for limit in limits if low < limit < high})


NUDGES: Mapping[str, tuple[float, float, float, str]] = {
    "rider": (15, 199, 1, "kg"),
    "water": (0.3, 20, 0.1, "m"),
    "load": (0, 500, 1, "kg"),
}
"""From, to and step of the rider's mass, of the depth and of a load."""


@settings(
    max_examples=40 * FINER, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.large_base_example],
)  # fmt: skip
@given(sent=requests(), name=st.sampled_from(sorted(NUDGES)), part=st.floats(0, 1))
def test_a_nudge_of_any_request_moves_speed_and_plates_little(
    asked: FlaskClient, sent: dict[str, Any], name: str, part: float
) -> None:
    """Wherever in the documented ranges the request lies, whatever the verdict."""
    low, high, step, unit = NUDGES[name]
    start = low + part * (high - low)
    several = []
    for value in (start, start + step):
        number, changed = f"{value:.3f} {unit}", copy.deepcopy(sent)
        if name == "rider":
            changed["rider"]["mass"] = number
        elif name == "water":
            changed.setdefault("water", {})["depth"] = number
        else:
            changed["loads"] = [{"mass": number, "x": "2 m", "y": "0 m", "z": "0.6 m"}]
        several.append(answer(asked, changed))
    said = declared(load(), *several)
    for target, by in set_otherwise(*several).items():
        size = STEP.speed + 0.02 if target is Target.SPEED else STEP.plate  # mph to two digits
        assert by <= size + said.get(target, 0.0) + 1e-9, (target, by, said)


@pytest.mark.parametrize("boat", FLEET)
def test_one_more_person_makes_a_small_difference(
    asked: FlaskClient, base: RuleBase, boat: str
) -> None:
    sent = request(boat)
    most = BOATS[boat]["limits"]["persons"]
    found = [answer(asked, sent | {"crew": crew}) for crew in range(1, most)]
    for before, after in itertools.pairwise(found):
        check(base, before, after, PERSON, numeric=True)


@pytest.mark.parametrize("wish", list(Wish))
def test_one_more_wish_moves_no_more_than_its_rules_say(
    asked: FlaskClient, base: RuleBase, wish: Wish
) -> None:
    """Speed and plates; what a wish wants of the balance is left to the solver."""
    sent = request("demo-7m")
    for others in [(), *itertools.combinations([w.value for w in Wish if w is not wish], 1)]:
        wants = [answer(asked, sent | {"rider": sent["rider"] | {"wants": [*others, *more]}})
                 for more in ([], [wish.value])]  # fmt: skip
        by, said = moved(*wants), declared(base, *wants)
        assert list(differing(base, *wants))
        for target in (Target.SPEED, Target.CENTRE_PLATE, Target.OFF_SIDE_PLATE):
            assert by[target] <= said.get(target, 0.0) + 1e-9


def test_a_jump_that_no_rule_declares_is_seen(asked: FlaskClient, base: RuleBase) -> None:
    before, after = (
        answer(asked, put(request("demo-7m"), ("water", "depth"), depth)) for depth in (4.5, 4.7)
    )
    assert check(base, before, after, STEP, numeric=True) >= 1
    assert moved(before, after)[Target.SPEED] == pytest.approx(0.3)
    after["trace"]["fired"] = before["trace"]["fired"]
    with pytest.raises(AssertionError):
        check(base, before, after, STEP, numeric=True)
