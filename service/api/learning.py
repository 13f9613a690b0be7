"""The boats and riders of an outfit with what was learned of them since they were entered."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import ColumnElement, Connection, select

from rules.base import RuleBase
from schemas.calibration import CalibrationSchema
from schemas.run_log import logged
from schemas.units import System, using
from service.advice.dock import BoatModel, boat_without, measured_model, model_of, with_log
from service.advice.dock_readings import Calibration
from service.advice.requests import Rider
from service.api.auth import outfit_of_key
from service.api.rulebase import rules_of
from service.api.stored import MOST_CACHED, StoredBoats, StoredRiders
from service.boats.model import Boat
from service.caches import SizedCache, size_of
from service.calibration.log import Ridden
from service.storage import Store
from service.storage.tables import Calibration as CalibrationRow
from service.storage.tables import Run
from service.storage.usage import QuotaError, Quotas

MOST_RUNS = 10_000
"""The latest so many rated runs of a boat are learned from."""

MOST_UNRATED = 1_000
"""And so many that nobody rated, for the changes that were made in them."""

TOLD = ("settings", "changes", "tuning")
"""The parts of a run's document that are read."""

AT_ONCE = 500
"""So many are read in one statement."""

A_RUN = 2_000
"""Bytes that a run read takes, as measured."""

BoatKey = tuple[str, str]
Runs = dict[tuple[int, int], Ridden | None]
"""By number and version; ``None`` for those that say nothing."""


@dataclass(frozen=True, slots=True)
class _Known:
    """A model, what it was made from, and the runs in it; see :meth:`CalibratedBoats.stands`."""

    state: tuple[str, int, int]
    model: BoatModel
    runs: Runs

    @property
    def size(self) -> int:
        """Bytes it takes, nearly: to count thousands of runs one by one is slow."""
        measured = replace(self.model, runs=())
        return size_of(measured) + A_RUN * len(self.runs)


class CalibratedBoats(StoredBoats):
    """The boats of the outfit that asks, as measured and as their logs have them.

    A model is made again when the boat, its calibrations, her runs or the outfit's rules have
    changed; of the runs only those that changed are read again, and the fit to what was measured
    is made again only when that has changed.
    """

    def __init__(self, store: Store, outfit: Callable[[], str]) -> None:
        super().__init__(store, outfit)
        self._known: SizedCache[BoatKey, _Known] = SizedCache(MOST_CACHED, lambda k: k.size)
        self._measured: SizedCache[Hashable, BoatModel] = SizedCache(MOST_CACHED)
        self._readings = CalibrationSchema()

    def find(self, boat_id: str) -> Boat:
        """The boat, or :class:`UnknownBoatError` with the ids that there are.

        Whoever asks without a key gets the demo fleet as entered: what someone has measured of
        her or logged with her is for those of her outfit.
        """
        if outfit_of_key() is None:
            return self.find_in_demo(boat_id)
        return self.model(boat_id).boat

    def without(self, boat_id: str, run: int) -> Boat:
        """The boat as she would be known had the run of this number not been kept.

        Raises :class:`UnknownBoatError`.
        """
        known = self._now(boat_id)
        told = next((ridden for (number, _), ridden in known.runs.items() if number == run), None)
        return known.model.boat if told is None else boat_without(known.model, told)

    def entered(self, boat_id: str) -> Boat:
        """The boat as her particulars have her."""
        return super().find(boat_id)

    def model(self, boat_id: str) -> BoatModel:
        """All that is known of the boat; :class:`UnknownBoatError` where there is none."""
        return self._now(boat_id).model

    def model_with(
        self, boat_id: str, base: RuleBase, name: str, calibration: Calibration
    ) -> BoatModel:
        """All that would be known of the boat with this calibration too, stored as ``name``.

        :class:`QuotaError` for more readings than are fitted together of one boat.
        """
        key = (self._outfit(), boat_id)
        with self._store.connected() as connection:
            names = [found for found, _ in self._stored(connection, key)]
            earlier = self._calibrations(connection, key, names)
            runs = self._read(connection, key, base)
        used = sum(each.readings for _, each in earlier)
        most = (self._store.quotas or Quotas()).readings
        if used + calibration.readings > most:
            raise QuotaError("readings", most, used)
        every = [*earlier, (name, calibration)]
        return model_of(self.entered(boat_id), every, _telling(runs), base)

    def calibrations(self, boat_id: str) -> int:
        """How many calibrations of the boat are stored."""
        with self._store.connected() as connection:
            return len(self._stored(connection, (self._outfit(), boat_id)))

    def _now(self, boat_id: str) -> _Known:
        key = (self._outfit(), boat_id)
        base = rules_of(boat_id)
        state = (base.hash, *self.stands(boat_id))
        known = self._known.find(key)
        if known is None or known.state != state:
            with self._store.connected() as connection:
                runs = self._read(connection, key, base)
                measured = self._fitted(connection, key, base)
            known = _Known(state, with_log(measured, _telling(runs)), runs)
            self._known.put(key, known)
        return known

    def _fitted(self, connection: Connection, key: BoatKey, base: RuleBase) -> BoatModel:
        """The boat as measured; fitted once in a process."""
        stored = self._stored(connection, key)

        def fit() -> BoatModel:
            calibrations = self._calibrations(connection, key, [name for name, _ in stored])
            return measured_model(self.entered(key[1]), calibrations, base)

        of = (key, self.version(key[1]), base.hash, stored)
        return self._measured.get(of, fit)

    def _stored(self, connection: Connection, key: BoatKey) -> tuple[tuple[str, int], ...]:
        """Id and version of each calibration of the boat, in the order in which they came."""
        row = CalibrationRow
        query = select(row.id, row.version).where(*_of(row, *key)).order_by(row.number)
        return tuple((name, version) for name, version in connection.execute(query).all())

    def _calibrations(
        self, connection: Connection, key: BoatKey, names: Sequence[str]
    ) -> list[tuple[str, Calibration]]:
        row = CalibrationRow
        query = select(row.id, row.document).where(*_of(row, *key), row.id.in_(names))
        with using(System.METRIC):
            return [
                (name, self._readings.load(document))
                for name, document in connection.execute(query.order_by(row.number)).all()
            ]

    def _read(self, connection: Connection, key: BoatKey, base: RuleBase) -> Runs:
        """The boat's runs as read against ``base``; each is read once a version."""
        numbers = select(Run.number, Run.version).where(*_of(Run, *key)).order_by(Run.number.desc())
        rated, others = Run.rating.is_not(None), Run.rating.is_(None)
        there = [
            *connection.execute(numbers.where(rated).limit(MOST_RUNS)).all(),
            *connection.execute(numbers.where(others).limit(MOST_UNRATED)).all(),
        ]
        known = self._known.find(key)
        before = {} if known is None or known.state[0] != base.hash else known.runs
        runs: Runs = {(number, version): before.get((number, version)) for number, version in there}
        unread = sorted(number for number, _ in runs.keys() - before.keys())
        told = [Run.document[name].label(name) for name in TOLD]
        columns = (Run.log, *told, Run.rating, Run.rider_id, Run.started, Run.rule_set)
        for start in range(0, len(unread), AT_ONCE):
            some = Run.number.in_(unread[start : start + AT_ONCE])
            rows = connection.execute(select(Run.number, Run.version, *columns).where(some))
            for row in rows:
                changed = None if row.rule_set == base.hash else base
                parts = {name: getattr(row, name) for name in TOLD}
                runs[row.number, row.version] = logged(
                    row.log, parts, row.rating, row.rider_id, row.started, changed
                )
        return runs


def _telling(runs: Runs) -> list[Ridden]:
    return [run for run in runs.values() if run is not None]


class KnownRiders(StoredRiders):
    """The riders of the outfit that asks, each with the id that their rides are logged under."""

    def find(self, rider_id: str) -> Rider:
        """The rider, or :class:`NotStoredError`."""
        return replace(super().find(rider_id), id=rider_id)


def _of(
    row: type[CalibrationRow | Run], outfit: str, boat_id: str
) -> tuple[ColumnElement[bool], ...]:
    return row.outfit_id == outfit, row.boat_id == boat_id, row.deleted.is_(None)
