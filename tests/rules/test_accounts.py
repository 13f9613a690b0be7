"""Accounts: exact sums, bounds, rounding, curves and tables."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import RuleBase, load
from rules.accounts import ROUNDING, Account, AccountError, Line, amount, curve, quantised, settle
from rules.engine import evaluate
from rules.model import TARGET_UNITS, Amount, Confidence, Parameter, Stage, Target
from tests.rules import oracle
from tests.rules.conftest import small

SPEED, CENTRE, LEAN = Target.SPEED, Target.CENTRE_PLATE, Target.LEAN


def account(base: RuleBase, target: Target, **rider: Any) -> Account | None:
    facts = oracle.facts(base.documents, base.facts, 0, whole=True)
    facts["rider"].update({"mass": 82.0, "board": "surf"}, **rider)
    firings, _ = evaluate(base, facts, list(Stage))
    return settle(base, firings, target, TARGET_UNITS[target])


def settled(base: RuleBase, target: Target, **rider: Any) -> Account:
    found = account(base, target, **rider)
    assert found is not None
    return found


def test_base_then_contributions_then_bounds_then_rounding() -> None:
    base = small(
        {"id": "more", "add": {"centre_plate": "$topic.more"}},
        {"id": "start", "base": {"centre_plate": "$topic.start"},
         "at_least": {"centre_plate": "$topic.least"}, "at_most": {"centre_plate": "$topic.most"}},
        {"id": "less", "add": {"centre_plate": "$topic.less"}},
        start=55, more=30.44, less=-0.06, least=20, most=80,
    )  # fmt: skip
    found = settled(base, CENTRE)
    assert found.lines == (
        Line("topic.start", "Title of r1", Decimal("55.0"), "base"),
        Line("topic.more", "Title of r0", Decimal("30.4")),
        Line("topic.less", "Title of r2", Decimal("-0.1")),
        Line("topic.start", "kept within its range: a number", Decimal("-5.3"), "bound"),
    )
    assert found.value == 80
    unbounded = settled(base.with_values({"topic.most": 95}), CENTRE)
    assert unbounded.lines[-1] == Line(
        ROUNDING, "rounded to a whole step", Decimal("-0.3"), "rounding"
    )
    assert unbounded.value == 85


def test_a_target_that_no_rule_starts_has_no_account() -> None:
    base = small({"add": {"speed": "$topic.p"}, "at_most": {"speed": "$topic.p"}}, p=1)
    assert account(base, SPEED) is None
    assert account(base, LEAN) is None


def test_two_bases_are_refused() -> None:
    base = small({"base": {"speed": "$topic.p"}}, {"base": {"speed": "$topic.p"}}, p=1)
    with pytest.raises(AccountError, match=r"speed: base from topic\.r0, topic\.r1"):
        account(base, SPEED)


def test_lines_of_nothing_are_left_out_but_a_base_of_nothing_stands() -> None:
    base = small({"base": {"lean": "$topic.none"}}, {"add": {"lean": "$topic.none"}}, none=0)
    assert [line.rule for line in settled(base, LEAN).lines] == ["topic.r0"]
    assert settled(base, LEAN).value == 0


@pytest.mark.parametrize(
    ("value", "expected"), [(10.0, 16.0), (16.0, 16.0), (17.0, 17.0), (19.3, 19.3), (25.0, 19.3)]
)
def test_bounds_on_either_side(value: float, expected: float) -> None:
    rule = {"base": {"speed": "$topic.v"}, "at_least": {"speed": "$topic.low"},
            "at_most": {"speed": "$topic.high"}}  # fmt: skip
    found = settled(small(rule, v=value, low=16.0, high=19.3), SPEED)
    assert float(found.value) == expected
    assert (len(found.lines) == 2) == (value != expected)


@given(st.floats(0, 100), st.floats(0, 50), st.floats(50, 100))
def test_rounding_never_goes_past_a_bound(value: float, low: float, high: float) -> None:
    rule = {"base": {"centre_plate": "$topic.v"}, "at_least": {"centre_plate": "$topic.low"},
            "at_most": {"centre_plate": "$topic.high"}}  # fmt: skip
    found = float(settled(small(rule, v=value, low=low, high=high), CENTRE).value)
    assert low <= found <= high or int(low) == int(high)
    assert found == int(found)


@given(
    st.lists(st.floats(-50, 50), min_size=1, max_size=8),
    st.sampled_from([SPEED, CENTRE, LEAN]),
)
def test_lines_add_up_to_the_last_digit(values: list[float], target: Target) -> None:
    """Against integers: tenths counted one by one."""
    rules = [
        {"base" if i == 0 else "add": {target.value: f"$topic.p{chr(97 + i)}"}}
        for i in range(len(values))
    ]
    found = settled(small(*rules, **{f"p{chr(97 + i)}": v for i, v in enumerate(values)}), target)
    tenths = [int(line.change * 10) for line in found.lines]
    assert [Decimal(t) / 10 for t in tenths] == [line.change for line in found.lines]
    assert Decimal(sum(tenths)) / 10 == found.value
    exact = sum(Decimal(repr(value)) for value in values)
    loose = Decimal("0.05") * len(values) + (Decimal("0.5") if target is CENTRE else 0)
    assert abs(found.value - exact) <= loose


@given(st.floats(-1e6, 1e6), st.sampled_from(["0.1", "1", "0.5"]))
def test_quantised_is_the_nearest_step(value: float, step: str) -> None:
    found = quantised(value, Decimal(step))
    assert found % Decimal(step) == 0
    assert abs(found - Decimal(value)) <= Decimal(step) / 2 + Decimal("1e-9")


@pytest.mark.parametrize(
    ("value", "expected"), [(0.05, "0.1"), (-0.05, "-0.1"), (0.25, "0.3"), (17.349, "17.3")]
)
def test_halves_go_away_from_zero(value: float, expected: str) -> None:
    assert quantised(value, Decimal("0.1")) == Decimal(expected)


# -- amounts ----------------------------------------------------------------------------------

POINTS = st.lists(
    st.tuples(st.floats(-1000, 1000), st.floats(-100, 100)),
    min_size=1, max_size=6, unique_by=lambda point: round(point[0], 2),
).map(lambda points: tuple(sorted((round(x, 2), y) for x, y in points)))  # fmt: skip


@given(POINTS)
def test_a_curve_goes_through_its_points_and_is_level_beyond(
    points: tuple[tuple[float, float], ...],
) -> None:
    for x, y in points:
        assert curve(points, x) == y
    assert curve(points, points[0][0] - 1.0) == points[0][1]
    assert curve(points, points[-1][0] + 1e9) == points[-1][1]


@given(POINTS, st.floats(0, 1))
def test_a_curve_is_straight_between_its_points(
    points: tuple[tuple[float, float], ...], share: float
) -> None:
    for (x0, y0), (x1, y1) in pairwise(points):
        found = curve(points, x0 + share * (x1 - x0))
        assert found == pytest.approx(y0 + share * (y1 - y0), abs=1e-6 * max(1, abs(y1 - y0)) * 50)
        assert min(y0, y1) - 1e-9 <= found <= max(y0, y1) + 1e-9


@given(POINTS, st.lists(st.floats(-1100, 1100), min_size=2))
def test_a_rising_curve_rises(points: tuple[tuple[float, float], ...], xs: list[float]) -> None:
    rising = tuple(zip((x for x, _ in points), sorted(y for _, y in points), strict=True))
    values = [curve(rising, x) for x in sorted(xs)]
    assert all(a <= b + 1e-9 for a, b in pairwise(values))


def test_tables_are_looked_up_by_the_word() -> None:
    rule = {"base": {"speed": "$topic.t by rider.board"}}
    base = small(rule, t={"skim": 10, "surf": -5})
    assert settled(base, SPEED, board="skim").value == 10
    assert settled(base, SPEED, board="surf").value == -5


def test_curves_are_read_at_the_fact() -> None:
    rule = {"base": {"speed": "$topic.c at rider.mass"}}
    base = small(rule, c=[[60, -0.2], [80, 0], [100, 0.2]])
    assert settled(base, SPEED, mass=90.0).value == Decimal("0.1")
    assert settled(base, SPEED, mass=70.0).value == Decimal("-0.1")
    assert settled(base, SPEED, mass=300.0).value == Decimal("0.2")


def test_a_curve_or_table_without_a_fact_is_refused() -> None:
    parameter = Parameter("t.c", "s", "kg", ((0.0, 0.0),), "x", Confidence.COMMON, "c")
    with pytest.raises(AccountError, match=r"\$t\.c wants a fact"):
        amount({"t.c": parameter}, Amount("t.c", None, "$t.c"), {})


def test_every_target_has_a_unit() -> None:
    assert set(TARGET_UNITS) == set(Target)


def test_the_accounts_of_the_shipped_rules_add_up(generated: list[oracle.Facts]) -> None:
    base = load()
    for facts in generated[:300]:
        firings, _ = evaluate(base, facts, list(Stage))
        for target in Target:
            found = settle(base, firings, target, TARGET_UNITS[target])
            if found is not None:
                total = sum(int((line.change * 10).to_integral_exact()) for line in found.lines)
                assert Decimal(total) / 10 == found.value
                assert found.lines[0].kind == "base"
                assert all(line.change for line in found.lines[1:])
