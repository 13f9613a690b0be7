"""Water by the log: what it asks of the tanks, and that limits, ranges and balance still rule."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rules
from schemas.run_log import kept, logged, shares
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.requests import AdviceRequest, Board, Level, Person, Rider, Stance
from service.boats.model import Boat, Side, mirrored
from service.calibration.learned import Learned
from service.calibration.log import NUMBERS, Context, Ridden, learn_all
from service.storage.tables import now
from tests.calibration import synthetic

WATER = ("ballast", "off_side_ballast", "forward_ballast")
GOOFY = Rider(82.0, Stance.GOOFY, Board.SKIM, Level.INTERMEDIATE)
REGULAR = replace(GOOFY, stance=Stance.REGULAR)


def taught(boat: Boat, off: dict[str, float], count: int = 14) -> Boat:
    """The boat whose every run rode well with its water so far off the rule base."""
    context = Context(6.0, 1300.0, 82.0)
    runs = [Ridden(context, dict.fromkeys(off, 0.0), off, 5)] * count
    return replace(boat, learned=Learned(learn_all(runs)))


def asked(boat: Boat, people: int = 6, rider: Rider = GOOFY) -> Advice:
    return advise(AdviceRequest(boat, rider, (Person(),) * people), rules.load())


def fills(advice: Advice) -> dict[str, float]:
    return {setting.tank: 100.0 * setting.fill for setting in advice.setup.tanks}


@pytest.fixture(scope="module")
def plain() -> dict[str, Advice]:
    return {name: asked(boat) for name, boat in synthetic.FLEET.items()}


@pytest.mark.parametrize("name", sorted(synthetic.FLEET))
def test_what_was_planted_is_found_in_what_was_set(name: str, plain: dict[str, Advice]) -> None:
    """From tanks to shares and back: −6 everywhere, −9 more on the off side, +5 forward."""
    boat, advice = synthetic.FLEET[name], plain[name]
    found = shares(boat, Side.STARBOARD)
    planted = {"ballast": -6.0, "off_side_ballast": -9.0, "forward_ballast": 5.0}
    log = kept(advice, advice)
    now_in = fills(advice)
    tanks = {}
    for tank in boat.tanks:
        off = planted["ballast"] + (planted["off_side_ballast"] if tank.y > 0 else 0.0)
        forward = tank.id in ("bow", "centre")
        tanks[tank.id] = now_in[tank.id] + off + (planted["forward_ballast"] if forward else 0.0)
    run = logged(log, {"settings": {"tanks": tanks}}, 5, None, now())
    assert run is not None
    got = {name: run.final[name] - run.advised[name] for name in found}
    assert got == pytest.approx({name: planted[name] for name in found})


def test_a_boat_without_tanks_has_no_shares() -> None:
    boat = replace(synthetic.FLEET["demo-7m"], tanks=())
    assert shares(boat, Side.PORT) == {}


def test_what_tanks_do_not_tell_apart_is_not_learned() -> None:
    boat = synthetic.FLEET["demo-7m"]
    aft = replace(boat, tanks=tuple(tank for tank in boat.tanks if tank.id.startswith("aft")))
    assert list(shares(aft, Side.PORT)) == ["ballast", "off_side_ballast"]
    middle = replace(boat, tanks=tuple(tank for tank in boat.tanks if tank.id == "bow"))
    assert list(shares(middle, Side.PORT)) == ["ballast"]


def test_without_tanks_the_log_asks_for_no_water() -> None:
    boat = replace(synthetic.FLEET["demo-7m"], tanks=())
    assert asked(taught(boat, dict.fromkeys(WATER, 10.0))).accounts.keys() >= {"speed"}


def test_lines_say_whose_and_how_surely_and_add_up(plain: dict[str, Advice]) -> None:
    boat = synthetic.FLEET["demo-7m"]
    found = asked(
        taught(boat, {"ballast": -10.0, "off_side_ballast": -5.0, "forward_ballast": -8.0})
    )
    lines = {
        tank.id: [
            (line.label, line.change, line.band)
            for line in found.accounts[f"tanks.{tank.id}"].lines
            if line.rule == "log.this_boat"
        ]
        for tank in boat.tanks
    }
    said = {tank: [label.split(": ")[1] for label, _, _ in each] for tank, each in lines.items()}
    assert said == {
        "aft-port": ["water in every tank", "off-side tanks"],
        "mid-port": ["water in every tank", "off-side tanks"],
        "aft-starboard": ["water in every tank"],
        "mid-starboard": ["water in every tank"],
        "bow": ["water in every tank", "forward tanks"],
    }
    label, change, band = lines["bow"][1]
    assert label.startswith("this boat, 14 runs")
    assert band is not None
    assert abs(float(change) + 8.0) < float(band)
    for name, fill in fills(found).items():
        account = found.accounts[f"tanks.{name}"]
        assert account.value == sum((line.change for line in account.lines), Decimal(0))
        assert float(account.value) == pytest.approx(fill)
    assert sum(fills(found).values()) < sum(fills(plain["demo-7m"]).values()) - 40.0


@given(
    off=st.fixed_dictionaries({name: st.floats(-100.0, 100.0) for name in WATER}),
    people=st.integers(0, 12),
    mass=st.floats(40.0, 130.0),
    boat=st.sampled_from(sorted(synthetic.FLEET)),
)
@settings(max_examples=25, deadline=None)
def test_however_far_off_no_range_and_no_limit_is_touched(
    off: dict[str, float], people: int, mass: float, boat: str
) -> None:
    base = rules.load()
    rider = replace(GOOFY, mass=mass)
    without = asked(synthetic.FLEET[boat], people, rider)
    found = asked(taught(synthetic.FLEET[boat], off), people, rider)
    most = {tank.id: 100.0 * tank.max_fill for tank in found.boat.tanks}
    for name, fill in fills(found).items():
        assert 0.0 <= fill <= most[name] + 1e-9
        lines = found.accounts[f"tanks.{name}"].lines
        own = [line for line in lines if line.rule == "log.this_boat"]
        assert all(abs(line.change) <= 20 for line in own)
    least = base.number("attitude.freeboard_caution")
    before, after = without.at_rest.freeboard, found.at_rest.freeboard
    if before is not None and before.least >= least:
        assert after is not None
        assert after.least >= least - 1e-9
    limits = found.boat.limits
    if limits.load_mass is not None and limits.includes_ballast is not False:
        room = limits.load_mass - people * base.number("defaults.person_mass") - mass
        assert sum(tank.mass for tank in found.setup.tanks) <= max(room, 0.0) + 1e-6
    broken = {obstacle.limit for obstacle in found.obstacles}
    hard = {"floats", "least_freeboard", "bow_freeboard", "gm", "most_lean"}
    assert broken & hard <= {obstacle.limit for obstacle in without.obstacles}


@pytest.mark.parametrize("name", sorted(synthetic.FLEET))
def test_mirrored_asked_mirrored_answered(name: str) -> None:
    off = {"ballast": -7.0, "off_side_ballast": -6.0, "forward_ballast": 4.0}
    boat = taught(synthetic.FLEET[name], off)
    one, other = asked(boat), asked(mirrored(boat), rider=REGULAR)
    assert fills(one) == fills(other)  # the mirrored boat's tanks keep their names
    for tank in boat.tanks:
        account = f"tanks.{tank.id}"
        assert one.accounts[account].lines == other.accounts[account].lines


def test_one_person_more_never_lowers_the_off_side_plate_by_what_the_log_asks() -> None:
    rng = np.random.default_rng(2)
    runs = []
    for _ in range(30):
        people = float(rng.integers(0, 12))
        final = {"ballast": -3.0 * people, "off_side_ballast": -2.0 * people}
        runs.append(Ridden(Context(people, 1300.0, 82.0), dict.fromkeys(final, 0.0), final, 5))
    boat = replace(synthetic.FLEET["demo-7m"], learned=Learned(learn_all(runs)))
    plates = [asked(boat, people).accounts["off_side_plate"].value for people in range(12)]
    assert plates == sorted(plates)


def test_the_same_is_asked_before_and_after_there_is_a_plan() -> None:
    """Water does not go by water: what starts the solver is what the accounts say."""
    for name in WATER:
        assert set(NUMBERS[name].level) == {"people", "water"}
    boat = taught(synthetic.FLEET["demo-8m"], {"ballast": -9.0})
    found = asked(boat)
    for tank in boat.tanks:
        start = found.accounts[f"tanks.{tank.id}"].lines[:2]
        assert [line.rule for line in start] == ["ballast.full_tanks", "log.this_boat"]


@pytest.mark.parametrize(
    ("fill", "off", "held", "at"), [(100.0, 60.0, -10.0, 100.0), (15.0, -60.0, 15.0, 0.0)]
)
def test_the_log_asks_for_no_more_than_full_and_no_less_than_empty(
    fill: float, off: float, held: float, at: float
) -> None:
    """Of the off side, where the rules let out a tenth; with a line that says so."""
    base = rules.load().with_values({"ballast.factory_fill": fill})
    boat = taught(synthetic.FLEET["demo-8m"], {"ballast": off})
    lines = advise(AdviceRequest(boat, GOOFY, (Person(),) * 6), base).accounts["tanks.aft-port"]
    bound = [line for line in lines.lines if line.kind == "bound"]
    assert [float(line.change) for line in bound] == [held]
    asked_for = [line for line in lines.lines if line.rule != "balance.lean"]
    before = asked_for[: asked_for.index(bound[0]) + 1]
    assert float(sum((line.change for line in before), Decimal(0))) == at
