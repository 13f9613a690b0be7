"""The log in advice: one more line, within all bounds, and nothing at all without runs."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

import rules
from schemas.advice_answer import present
from schemas.units import System
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.requests import AdviceRequest, Board, Level, Person, Rider, Stance
from service.advice.under_way import planing_case
from service.calibration.learned import Learned
from service.calibration.log import NUMBERS, Context, Offsets, Ridden, learn_all
from service.running.estimate import Measured
from tests.calibration import synthetic

BOAT = synthetic.FLEET["demo-7m"]
BOUNDS = {"speed": (16.0, 19.3), "centre_plate": (20.0, 80.0), "off_side_plate": (0.0, 90.0)}
"""The ranges in common use, of the rule base."""

Advised = Callable[..., Advice]


def asked(learned: Learned | None, rider: Rider | None = None, people: int = 8) -> AdviceRequest:
    who = Rider(82.0, Stance.GOOFY, Board.SKIM, Level.INTERMEDIATE)
    return AdviceRequest(replace(BOAT, learned=learned), rider or who, (Person(),) * people)


def runs(deviation: float, count: int = 14, rider: str | None = None) -> list[Ridden]:
    advised = {"speed": 17.2, "centre_plate": 55.0, "off_side_plate": 75.0}
    step = {"speed": deviation / 10.0, "centre_plate": deviation, "off_side_plate": deviation}
    final = {name: value + step[name] for name, value in advised.items()}
    return [Ridden(Context(8.0, 1300.0, 82.0), advised, final, 5, rider)] * count


@pytest.fixture(scope="module")
def plain() -> Advice:
    return advise(asked(None), rules.load())


def test_without_a_log_nothing_changes_to_the_digit(plain: Advice) -> None:
    for nothing in (Learned(), Learned(learn_all([])), Learned(learn_all(runs(5.0, count=0)))):
        assert present(advise(asked(nothing), rules.load()), System.METRIC) == present(
            plain, System.METRIC
        )


def test_the_log_is_one_more_line_that_says_how_surely(plain: Advice) -> None:
    found = advise(asked(Learned(learn_all(runs(4.0)))), rules.load())
    answer = present(found, System.METRIC)
    account = answer["accounts"]["plates.port"]  # goofy: the wave to starboard
    lines = [line for line in account["lines"] if line["rule"] == "log.this_boat"]
    assert len(lines) == 1
    assert lines[0]["label"].startswith("this boat, 14 runs: off-side plate +")
    assert " ± " in lines[0]["label"]
    assert 2.0 < lines[0]["change"] <= 4.5
    assert Decimal(str(account["value"])) == sum(
        Decimal(str(line["change"])) for line in account["lines"]
    )
    assert found.setup.speed > plain.setup.speed


def test_speed_lines_are_written_in_the_units_asked_for() -> None:
    found = advise(asked(Learned(learn_all(runs(4.0)))), rules.load())
    line = next(
        line
        for line in present(found, System.US)["accounts"]["speed"]["lines"]
        if line["rule"] == "log.this_boat"
    )
    assert f"+{line['change']:.1f} ± " in line["label"]
    assert line["change"] == pytest.approx(0.4 / 1.609344, abs=0.07)


def test_a_rider_who_is_known_has_a_line_of_their_own() -> None:
    learned = Learned(learn_all([*runs(0.0, rider="other"), *runs(6.0, rider="ana")]))
    who = Rider(82.0, Stance.GOOFY, Board.SKIM, Level.INTERMEDIATE)
    one = advise(asked(learned, replace(who, id="ana")), rules.load())
    labels = [line.label for line in one.accounts["centre_plate"].lines]
    assert "this rider, 14 runs: centre plate" in labels
    other = advise(asked(learned, replace(who, id="nobody")), rules.load())
    assert not any("this rider" in line.label for line in other.accounts["centre_plate"].lines)


@pytest.mark.parametrize("deviation", [-100.0, 100.0])
@pytest.mark.parametrize("people", [2, 12])
def test_no_number_leaves_its_range_and_no_limit_moves(deviation: float, people: int) -> None:
    """However far off the runs were: bounds, water, seats and verdict stay as they are."""
    for mass, level in ((40.0, Level.FIRST_TIME), (130.0, Level.EXPERT)):
        who = Rider(mass, Stance.GOOFY, Board.SURF, level, id="ana")
        learned = Learned(learn_all(runs(deviation, 50, "ana")))
        without = advise(asked(None, who, people), rules.load())
        found = advise(asked(learned, who, people), rules.load())
        for name, (low, high) in BOUNDS.items():
            before, after = (advice.accounts[name].value for advice in (without, found))
            assert low <= after <= high
            assert abs(float(after - before)) <= NUMBERS[name].most + 1.0
        assert found.setup.tanks == without.setup.tanks
        assert found.setup.seating == without.setup.seating
        assert found.verdict == without.verdict
        assert {c.rule for c in without.cautions} <= {c.rule for c in found.cautions}


def test_more_people_never_get_less_off_side_plate_from_the_log() -> None:
    falling = [
        replace(
            runs(0.0, 1)[0],
            context=Context(float(people), 1300.0, 82.0),
            final={"off_side_plate": 75.0 - 2.0 * (people - 6)},
        )
        for people in range(1, 12)
    ]
    learned = Learned(learn_all(falling))
    assert isinstance(learned.offsets["off_side_plate"], Offsets)
    plates = [
        advise(asked(learned, people=people), rules.load()).accounts["off_side_plate"].value
        for people in (3, 6, 9, 12)
    ]
    assert plates == sorted(plates)


def test_a_running_trim_read_on_the_water_corrects_the_estimate(plain: Advice) -> None:
    setup = plain.setup
    case = planing_case(
        BOAT, plain.at_rest.loading, setup.speed, plain.at_rest.density,
        setup.centre_plate or 0.0, setup.port_plate or 0.0,
    )  # fmt: skip
    assert case is not None
    assert plain.running is not None
    read = math.radians((plain.running.degrees or 0) + 3)
    found = advise(asked(Learned(running_trim=Measured(read, case))), rules.load())
    assert found.running is not None
    assert found.running.degrees == (plain.running.degrees or 0) + 3
    assert "corrected by one measured trim" in found.running.text
    assert plain.running.correction is None
    # It explains; it moves nothing.
    assert found.setup == setup
    assert found.verdict == plain.verdict
