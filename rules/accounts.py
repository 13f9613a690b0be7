"""Adds up what fired: for each number its base, every contribution, every bound.

Sums are exact decimals, so that the lines of an account add up to its value to the last digit.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from rules.base import RuleBase
from rules.model import Amount, Change, Firing, Parameter, Target, Value

STEP = {target: Decimal("0.1") for target in Target}
"""Every contribution is worked out to a tenth of the target's unit."""

WHOLE = {
    Target.CENTRE_PLATE: Decimal(1),
    Target.OFF_SIDE_PLATE: Decimal(1),
    Target.SURF_SIDE_PLATE: Decimal(1),
}
"""Numbers set in whole steps; the account shows the rounding as a line of its own."""

_INWARD = {"at_least": ROUND_CEILING, "at_most": ROUND_FLOOR}

ROUNDING = "rounding"


class AccountError(ValueError):
    """Rules that fired together do not make one number."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an account: what a rule changed, in the target's unit.

    ``kind`` is ``base``, ``add``, ``bound`` or ``rounding``. ``band`` is the half-width of the
    change's 95 % interval where it was estimated.
    """

    rule: str
    label: str
    change: Decimal
    kind: str = "add"
    band: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Account:
    """A number of the set-up and the lines that add up to it exactly."""

    target: str
    unit: str
    lines: tuple[Line, ...]

    @property
    def value(self) -> Decimal:
        return sum((line.change for line in self.lines), Decimal(0))

    def plus(self, line: Line) -> Account:
        """The same account with one more line; a line of nothing is left out."""
        if not line.change:
            return self
        return Account(self.target, self.unit, (*self.lines, line))


def settle(
    base: RuleBase, fired: Iterable[Firing], target: Target, unit: str, further: Iterable[Line] = ()
) -> Account | None:
    """The account of one target out of everything that fired; ``None`` where no rule sets it.

    Base first, contributions in firing order and those of ``further``, then the bounds, then
    rounding to whole steps.
    Raises ``AccountError`` when two rules both give the base.
    """
    changes = [
        (firing, change) for firing in fired for change in firing.rule.changes
        if change.target is target
    ]  # fmt: skip
    bases = [(firing, change) for firing, change in changes if change.action == "base"]
    if not bases:
        return None
    if len(bases) > 1:
        raise AccountError(f"{target}: base from {', '.join(f.rule.id for f, _ in bases)}")
    firing, change = bases[0]
    first = Line(firing.rule.id, change.label, _of(base, firing, change), "base")
    account = Account(target, unit, (first,))
    for firing, change in changes:
        if change.action == "add":
            account = account.plus(Line(firing.rule.id, change.label, _of(base, firing, change)))
    for line in further:
        account = account.plus(line)
    for firing, change in changes:
        if change.action in _INWARD:
            account = _bounded(account, base, firing, change)
    if target in WHOLE:
        account = account.plus(_rounding(account.value, WHOLE[target]))
    return account


def _of(base: RuleBase, firing: Firing, change: Change) -> Decimal:
    return quantised(amount(base.parameters, change.amount, firing.bound), STEP[change.target])


def quantised(value: float, step: Decimal) -> Decimal:
    """``value`` to the nearest multiple of ``step``, halves away from zero."""
    return (Decimal(repr(value)) / step).quantize(Decimal(1), ROUND_HALF_UP) * step


def _bounded(account: Account, base: RuleBase, firing: Firing, change: Change) -> Account:
    """Bounds count inward to the target's step, so that no rounding goes past them."""
    step = WHOLE.get(change.target, STEP[change.target])
    limit = Decimal(repr(amount(base.parameters, change.amount, firing.bound)))
    excess = (limit / step).quantize(Decimal(1), _INWARD[change.action]) * step - account.value
    if (change.action == "at_least" and excess > 0) or (change.action == "at_most" and excess < 0):
        says = base.parameters[change.amount.parameter].says
        return account.plus(Line(firing.rule.id, f"kept within its range: {says}", excess, "bound"))
    return account


def _rounding(value: Decimal, step: Decimal) -> Line:
    whole = (value / step).quantize(Decimal(1), ROUND_HALF_UP) * step
    return Line(ROUNDING, "rounded to a whole step", whole - value, "rounding")


def amount(
    parameters: Mapping[str, Parameter], amount: Amount, facts: Mapping[str, Value]
) -> float:
    """What an amount comes to: the number, the curve at a fact, the table by a fact."""
    value = parameters[amount.parameter].value
    if isinstance(value, float):
        return value
    if amount.field is None:
        raise AccountError(f"{amount.text} wants a fact")
    fact = facts[amount.field.path]
    if isinstance(value, tuple):
        return curve(value, float(fact))
    return value[str(fact)]


def curve(points: Sequence[tuple[float, float]], x: float) -> float:
    """Straight lines between the points, level beyond the first and the last."""
    if x <= points[0][0]:
        return points[0][1]
    if x >= points[-1][0]:
        return points[-1][1]
    right = bisect_right(points, x, key=lambda point: point[0])
    (x0, y0), (x1, y1) = points[right - 1], points[right]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
