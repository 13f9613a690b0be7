"""What stands in the way of the wanted loading, and what would help, in numbers."""

from __future__ import annotations

from collections.abc import Sequence

from service.advice.balance.cost import Array, Cost, Task
from service.advice.balance.model import Obstacle
from service.advice.situation import Occupant
from service.advice.weighing import Attitude


def obstacles(
    task: Task, people: Sequence[Occupant], percents: Array, attitude: Attitude, cost: Cost
) -> tuple[Obstacle, ...]:
    return ()
