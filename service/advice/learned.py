"""What the log adds to an account: a line of its own, before the bounds that hold for all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from rules.accounts import Line, quantised
from rules.model import Facts
from service.advice.loading_condition import bow_begins
from service.boats.model import Boat
from service.calibration.learned import Learned, Step
from service.calibration.log import NUMBERS, Context

FORWARD = "forward_ballast"
"""Water in the forward tanks beyond that of every tank: a number of the log alone, no rule speaks
of it."""

_LOG = "log."
_TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Log:
    """The log of the boat, and whose rides in it count as the rider's own."""

    learned: Learned | None = None
    rider: str | None = None

    def lines(self, number: str, facts: Facts) -> tuple[Line, ...]:
        """The boat's line and the rider's, in the number's unit; none where nothing is known."""
        if self.learned is None or number not in NUMBERS:
            return ()
        steps = self.learned.steps(number, context_of(facts), self.rider)
        return tuple(_line(step, number) for step in steps)


def begins_forward(boat: Boat) -> float:
    """``x`` (m) beyond which a tank is a forward one: in the bow or, where none is there, forward
    of the middle of all tanks.
    """
    bow, tanks = bow_begins(boat.hull), boat.tanks
    capacity = math.fsum(tank.capacity for tank in tanks)
    if not capacity or any(tank.x > bow for tank in tanks):
        return bow
    # What lies at one place does not lie forward of itself for a rounding.
    return math.fsum(tank.x * tank.capacity for tank in tanks) / capacity + 1e-6


def is_of_log(line: Line) -> bool:
    """Whether the log wrote this line, and no rule."""
    return line.rule.startswith(_LOG)


def context_of(facts: Facts) -> Context:
    """What is aboard, of the facts of an advice; no water yet before there is a plan of it."""
    people, water, mass = (
        float(facts.get(kind, {}).get(name) or 0.0)
        for kind, name in (("load", "people"), ("plan", "water_mass"), ("rider", "mass"))
    )
    return Context(people, water, mass)


def _line(step: Step, number: str) -> Line:
    runs = f"{step.runs} run{'' if step.runs == 1 else 's'}"
    return Line(
        rule=f"{_LOG}{step.whose.replace(' ', '_')}",
        label=f"{step.whose}, {runs}: {NUMBERS[number].says}",
        change=quantised(step.value, _TENTH),
        band=quantised(step.band, _TENTH),
    )
