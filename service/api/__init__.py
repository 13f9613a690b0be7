"""HTTP: what comes in is checked, a use case does the work, what goes out is written."""

from __future__ import annotations

from collections.abc import Iterator

from service.api import advice, health, loading, metrics, rules
from service.api.body import Blueprint
from service.boats.fleet import Boats


def blueprints(boats: Boats) -> Iterator[Blueprint]:
    """Every resource; ``boats`` is where a boat's id is looked up."""
    yield health.blueprint
    yield metrics.blueprint
    yield advice.blueprint(boats)
    yield loading.blueprint(boats)
    yield rules.blueprint
