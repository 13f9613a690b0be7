"""HTTP: what comes in is checked, a use case does the work, what goes out is written."""

from __future__ import annotations

from collections.abc import Iterator

from service.api import (
    advice,
    boats,
    bookings,
    bookings_batch,
    calibrations,
    health,
    jobs,
    keys,
    loading,
    metrics,
    outfit,
    outfit_rules,
    outings,
    riders,
    rules,
    runs,
    setups,
    tuning,
)
from service.api.body import Blueprint
from service.api.learning import CalibratedBoats
from service.api.stored import StoredRiders, StoredSetups


def blueprints(
    known_boats: CalibratedBoats, known_riders: StoredRiders, known_setups: StoredSetups
) -> Iterator[Blueprint]:
    """Every resource; the three are where the ids in a request are looked up."""
    yield health.blueprint
    yield metrics.blueprint
    yield advice.blueprint(known_boats, known_riders, known_setups)
    yield loading.blueprint(known_boats, known_riders)
    yield tuning.blueprint(known_boats, known_riders, known_setups)
    yield rules.blueprint
    yield boats.blueprint()
    yield calibrations.blueprint(known_boats)
    yield riders.blueprint()
    yield setups.blueprint(known_boats, known_riders)
    yield runs.blueprint(known_boats, known_riders, known_setups)
    yield bookings.blueprint(known_boats, known_riders, known_setups)
    yield bookings_batch.blueprint(known_boats, known_riders)
    yield outings.blueprint(known_boats, known_riders, known_setups)
    yield outfit.blueprint
    yield outfit_rules.blueprint
    yield keys.blueprint
    yield jobs.blueprint
