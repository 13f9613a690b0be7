"""The boats and riders of an outfit with what was learned of them since they were entered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sqlalchemy import ColumnElement, Connection, select

from rules.base import RuleBase
from schemas.calibration import CalibrationSchema
from schemas.run_log import logged
from schemas.units import System, using
from service.advice.dock import BoatModel, boat_without, model_of
from service.advice.dock_readings import Calibration
from service.advice.requests import Rider
from service.api.auth import outfit_of_key
from service.api.rulebase import rules_of
from service.api.stored import MOST_CACHED, StoredBoats, StoredRiders
from service.boats.model import Boat
from service.calibration.log import Ridden
from service.storage import Store
from service.storage.tables import Calibration as CalibrationRow
from service.storage.tables import Run

MOST_RUNS = 10_000
"""The latest so many rated runs of a boat are learned from."""

MOST_UNRATED = 1_000
"""And so many that nobody rated, for the changes that were made in them."""

TOLD = ("settings", "changes", "tuning")
"""The parts of a run's document that are read."""

AT_ONCE = 500
"""So many are read in one statement."""

BoatKey = tuple[str, str]
Runs = dict[tuple[int, int], Ridden | None]
"""By number and version; ``None`` for those that say nothing."""


class CalibratedBoats(StoredBoats):
    """The boats of the outfit that asks, as measured and as their logs have them.

    A model is made anew when the boat, her calibrations, her runs or the outfit's rules have
    changed; of the runs only those that changed are read again.
    """

    def __init__(self, store: Store, outfit: Callable[[], str]) -> None:
        super().__init__(store, outfit)
        self._models: dict[BoatKey, tuple[tuple[str, int, int], BoatModel]] = {}
        self._runs: dict[BoatKey, tuple[str, Runs]] = {}
        self._readings = CalibrationSchema()

    def find(self, boat_id: str) -> Boat:
        """The boat, or :class:`UnknownBoatError` with the ids that there are.

        Whoever asks without a key gets the demo fleet as entered: what somebody has measured of
        her or logged with her is for those of her outfit.
        """
        if outfit_of_key() is None:
            return self.entered(boat_id)
        return self.model(boat_id).boat

    def without(self, boat_id: str, run: int) -> Boat:
        """The boat as she would be known had the run of this number not been kept.

        Raises :class:`UnknownBoatError`.
        """
        model = self.model(boat_id)
        _, runs = self._runs[self._outfit(), boat_id]
        told = next((ridden for (number, _), ridden in runs.items() if number == run), None)
        return model.boat if told is None else boat_without(model, told)

    def entered(self, boat_id: str) -> Boat:
        """The boat as her particulars have her."""
        return super().find(boat_id)

    def model(self, boat_id: str) -> BoatModel:
        """All that is known of the boat; :class:`UnknownBoatError` where there is none."""
        key = (self._outfit(), boat_id)
        base = rules_of(boat_id)
        state = (base.hash, *self.stands(boat_id))
        known = self._models.pop(key, None)
        if known is None or known[0] != state:
            with self._store.connected() as connection:
                known = (state, self._made(connection, key, base))
        self._models[key] = known  # the latest used are the last
        for old in list(self._models)[:-MOST_CACHED]:
            self._models.pop(old, None)
            self._runs.pop(old, None)
        return known[1]

    def calibrations(self, connection: Connection, key: BoatKey) -> list[tuple[str, Calibration]]:
        """What was measured of a boat, in the order in which it came."""
        row = CalibrationRow
        query = select(row.id, row.document).where(*_of(row, *key)).order_by(row.number)
        with using(System.METRIC):
            return [
                (name, self._readings.load(document))
                for name, document in connection.execute(query).all()
            ]

    def ridden(self, connection: Connection, key: BoatKey, base: RuleBase) -> list[Ridden]:
        """The boat's runs that say something against ``base``; a run is read once a version."""
        numbers = select(Run.number, Run.version).where(*_of(Run, *key)).order_by(Run.number.desc())
        rated, others = Run.rating.is_not(None), Run.rating.is_(None)
        there = [
            *connection.execute(numbers.where(rated).limit(MOST_RUNS)).all(),
            *connection.execute(numbers.where(others).limit(MOST_UNRATED)).all(),
        ]
        advised_by, before = self._runs.get(key, ("", {}))
        if advised_by != base.hash:
            before = {}
        known: Runs = {
            (number, version): before.get((number, version)) for number, version in there
        }
        unread = sorted(number for number, _ in known.keys() - before.keys())
        told = [Run.document[name].label(name) for name in TOLD]
        columns = (Run.log, *told, Run.rating, Run.rider_id, Run.started, Run.rule_set)
        for start in range(0, len(unread), AT_ONCE):
            some = Run.number.in_(unread[start : start + AT_ONCE])
            rows = connection.execute(select(Run.number, Run.version, *columns).where(some))
            for row in rows:
                changed = None if row.rule_set == base.hash else base
                parts = {name: getattr(row, name) for name in TOLD}
                known[row.number, row.version] = logged(
                    row.log, parts, row.rating, row.rider_id, row.started, changed
                )
        self._runs[key] = (base.hash, known)
        return [run for run in known.values() if run is not None]

    def _made(self, connection: Connection, key: BoatKey, base: RuleBase) -> BoatModel:
        return model_of(
            self.entered(key[1]),
            self.calibrations(connection, key),
            self.ridden(connection, key, base),
            base,
        )


class KnownRiders(StoredRiders):
    """The riders of the outfit that asks, each with the id that their rides are logged under."""

    def find(self, rider_id: str) -> Rider:
        """The rider, or :class:`NotStoredError`."""
        return replace(super().find(rider_id), id=rider_id)


def _of(
    row: type[CalibrationRow | Run], outfit: str, boat_id: str
) -> tuple[ColumnElement[bool], ...]:
    return row.outfit_id == outfit, row.boat_id == boat_id, row.deleted.is_(None)
