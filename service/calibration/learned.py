"""What has been learned of a boat, in the form in which advice uses it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.calibration.log import Context, Offsets
from service.running.estimate import Measured


@dataclass(frozen=True, slots=True)
class Step:
    """One step off the rule base: whose it is, from how many runs, value and 95 % half-width."""

    whose: str
    runs: int
    value: float
    band: float


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """What the log and a running trim read on the water say of one boat.

    ``offsets`` by the number's name; empty where there is no log, or it is switched off.
    """

    offsets: Mapping[str, Offsets] = field(default_factory=dict)
    running_trim: Measured | None = None

    def steps(self, number: str, context: Context, rider: str | None = None) -> tuple[Step, ...]:
        """The boat's step and the rider's, together never further than the number's ``most``."""
        found = self.offsets.get(number)
        if found is None:
            return ()
        most = found.number.most
        value, band = found.boat(context)
        value = min(max(value, -most), most)
        steps = [Step("this boat", found.runs, value, band)]
        own = None if rider is None else found.rider(rider)
        if rider is not None and own is not None:
            further = min(max(own[0], -most - value), most - value)
            steps.append(Step("this rider", found.riders[rider][0], further, own[1]))
        return tuple(steps)
