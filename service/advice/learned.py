"""What the log adds to an account: a line of its own, before the bounds that hold for all."""

from __future__ import annotations

from dataclasses import dataclass

from rules.accounts import STEP, Line, quantised
from rules.model import Facts, Target
from service.calibration.learned import Learned, Step
from service.calibration.log import NUMBERS, Context


@dataclass(frozen=True, slots=True)
class Log:
    """The log of the boat, and whose rides in it count as the rider's own."""

    learned: Learned | None = None
    rider: str | None = None

    def lines(self, target: Target, facts: Facts) -> tuple[Line, ...]:
        """The boat's line and the rider's, in the target's unit; none where nothing is known."""
        if self.learned is None or target.value not in NUMBERS or "plan" not in facts:
            return ()
        steps = self.learned.steps(target.value, context_of(facts), self.rider)
        return tuple(_line(step, target) for step in steps)


def context_of(facts: Facts) -> Context:
    """What was aboard, of the facts of an advice."""
    people, water, mass = (
        float(facts[kind][name] or 0.0)
        for kind, name in (("load", "people"), ("plan", "water_mass"), ("rider", "mass"))
    )
    return Context(people, water, mass)


def _line(step: Step, target: Target) -> Line:
    runs = f"{step.runs} run{'' if step.runs == 1 else 's'}"
    return Line(
        rule=f"log.{step.whose.replace(' ', '_')}",
        label=f"{step.whose}, {runs}: {NUMBERS[target.value].says}",
        change=quantised(step.value, STEP[target]),
        band=quantised(step.band, STEP[target]),
    )
