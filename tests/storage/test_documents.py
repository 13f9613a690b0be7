"""Documents: by outfit, in versions, in pages."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import select, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.outfits.demo import DEMO
from service.outfits.people import erase
from service.storage import Store
from service.storage.documents import AlreadyStoredError, NotStoredError, Shelf, StaleError
from service.storage.tables import Boat as BoatRow
from service.storage.tables import BoatVersion, Calibration, Outfit, Rider, Run, Setup, now


def add_rider(store: Store, rider_id: str | None = None, outfit: str = DEMO) -> Rider:
    with store.writing() as session:
        return Shelf(session, Rider, outfit).add(rider_id, {"mass": 82.0}, name="A", level=None)


def test_what_was_added_is_found_and_is_of_version_one(store: Store) -> None:
    added = add_rider(store)
    with store.reading() as session:
        found = Shelf(session, Rider, DEMO).find(added.id)
    assert (found.document, found.version, found.deleted) == ({"mass": 82.0}, 1, None)
    assert found.created.tzinfo is not None
    assert found.created == added.created


def test_another_outfit_finds_nothing(store: Store) -> None:
    added = add_rider(store)
    with store.writing() as session:
        session.add(Outfit(id="other", name="Another"))
        session.flush()
        shelf = Shelf(session, Rider, "other")
        for act in (
            lambda: shelf.find(added.id),
            lambda: shelf.replace(added.id, 1, {}, name=None),
            lambda: shelf.remove(added.id, 1),
        ):
            with pytest.raises(NotStoredError):
                act()
        assert shelf.page(10) == []
        assert shelf.add(added.id, {}, name=None, level=None).outfit_id == "other"


def test_an_id_is_taken_once_also_after_it_was_deleted(store: Store) -> None:
    add_rider(store, "ada")
    with pytest.raises(AlreadyStoredError):
        add_rider(store, "ada")
    with store.writing() as session:
        Shelf(session, Rider, DEMO).remove("ada", 1)
    with store.reading() as session, pytest.raises(NotStoredError):
        Shelf(session, Rider, DEMO).find("ada")
    with pytest.raises(AlreadyStoredError):
        add_rider(store, "ada")


def test_a_version_that_is_past_changes_nothing(store: Store) -> None:
    add_rider(store, "ada")
    with store.writing() as session:
        assert Shelf(session, Rider, DEMO).replace("ada", 1, {"mass": 80.0}).version == 2
    for version in (1, 3):
        with store.writing() as session, pytest.raises(StaleError):
            Shelf(session, Rider, DEMO).replace("ada", version, {"mass": 1.0})
        with store.writing() as session, pytest.raises(StaleError):
            Shelf(session, Rider, DEMO).remove("ada", version)
    with store.reading() as session:
        assert Shelf(session, Rider, DEMO).find("ada").document == {"mass": 80.0}


def test_of_many_that_replace_one_version_one_wins(store: Store) -> None:
    add_rider(store, "ada")

    def replace(number: int) -> int | None:
        try:
            with store.writing() as session:
                Shelf(session, Rider, DEMO).replace("ada", 1, {"number": number})
        except StaleError:
            return None
        return number

    with ThreadPoolExecutor(8) as pool:
        winners = [number for number in pool.map(replace, range(40)) if number is not None]
    assert len(winners) == 1
    with store.reading() as session:
        found = Shelf(session, Rider, DEMO).find("ada")
    assert (found.version, found.document) == (2, {"number": winners[0]})


def test_a_unit_of_work_that_fails_leaves_nothing(store: Store) -> None:
    def fail_late() -> None:
        with store.writing() as session:
            Shelf(session, Rider, DEMO).add("ada", {}, name=None, level=None)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_late()
    with store.reading() as session:
        assert Shelf(session, Rider, DEMO).page(10) == []


def test_a_reference_that_leads_nowhere_is_refused_by_the_store_itself(store: Store) -> None:
    with pytest.raises(IntegrityError), store.writing() as session:
        Shelf(session, Setup, DEMO).add(None, {}, boat_id="no-such-boat")


def test_pages_follow_one_another_without_gap_or_repetition(store: Store) -> None:
    added = [add_rider(store).id for _ in range(7)]
    seen: list[str] = []
    after = 0
    while True:
        with store.reading() as session:
            page = Shelf(session, Rider, DEMO).page(3, after)
        if not page:
            break
        seen += [rider.id for rider in page]
        after = page[-1].number
    assert seen == added


def test_a_boat_is_kept_as_it_was(store: Store) -> None:
    with store.writing() as session:
        shelf = Shelf(session, BoatRow, DEMO)
        first = shelf.find("demo-7m").document
        shelf.replace("demo-7m", 1, {**first, "beam": 2.6})
    with store.reading() as session:
        versions = session.scalars(
            select(BoatVersion)
            .where(BoatVersion.outfit_id == DEMO, BoatVersion.boat_id == "demo-7m")
            .order_by(BoatVersion.version)
        ).all()
    assert [version.document["beam"] for version in versions] == [2.55, 2.6]


LISTS = {
    "SELECT * FROM runs WHERE outfit_id = 'demo' AND deleted IS NULL AND number > 5 "
    "ORDER BY number LIMIT 51": "ix_runs_outfit_id_number",
    "SELECT * FROM runs WHERE outfit_id = 'demo' AND deleted IS NULL AND number > 5 "
    "AND rider_id = 'ada' ORDER BY number LIMIT 51": "ix_runs_outfit_id_rider_id_number",
    "SELECT * FROM bookings WHERE outfit_id = 'demo' AND deleted IS NULL "
    "AND starts >= '2025-07-05' AND starts < '2025-07-06'": "ix_bookings_outfit_id_starts",
    "SELECT * FROM keys WHERE hash = 'x'": "hash",
}


@pytest.mark.parametrize("query", LISTS)
def test_lists_are_found_by_an_index(store: Store, query: str) -> None:
    explain = "EXPLAIN QUERY PLAN " if store.is_sqlite else "EXPLAIN "
    with store.connected() as connection:
        if not store.is_sqlite:
            # The tables are empty here, and PostgreSQL would rather read such a one whole.
            connection.execute(text("SET LOCAL enable_seqscan = off"))
        plan = "\n".join(str(row) for row in connection.execute(text(explain + query)))
    # SQLite names the index of a UNIQUE constraint itself.
    assert LISTS[query] in plan or "sqlite_autoindex_keys" in plan, plan
    assert "SORT" not in plan.upper()
    assert "TEMP B-TREE" not in plan


def test_a_boat_counts_what_she_is_learned_from(store: Store) -> None:
    """Whatever is added, changed, moved, deleted or erased of her runs and calibrations."""

    def evidence() -> dict[str, int]:
        with store.reading() as session:
            return {boat.id: boat.evidence for boat in Shelf(session, BoatRow, DEMO).page(10)}

    ridden = {"request": {"rider": "ada"}}
    run = {"rider_id": "ada", "rating": 5, "started": now(), "rule_set": "x", "answer": {}}
    add_rider(store, "ada")
    seen = [evidence()]
    acts: tuple[Callable[[Session], object], ...] = (
        lambda s: Shelf(s, Calibration, DEMO).add("c", {}, boat_id="demo-6m"),
        lambda s: Shelf(s, Calibration, DEMO).replace("c", 1, {}),
        lambda s: Shelf(s, Calibration, DEMO).remove("c", 2),
        lambda s: Shelf(s, Run, DEMO).add("r", ridden, boat_id="demo-6m", **run),
        lambda s: erase(s, DEMO, "ada"),
        lambda s: Shelf(s, Run, DEMO).remove("r", 2),
    )
    for act in acts:
        with store.writing() as session:
            act(session)
        seen.append(evidence())
    ours = [each["demo-6m"] for each in seen]
    assert ours == sorted(set(ours)), "it goes up every time"
    with store.writing() as session:
        Shelf(session, Calibration, DEMO).add("d", {}, boat_id="demo-6m")
    before = evidence()
    with store.writing() as session:
        Shelf(session, Calibration, DEMO).replace("d", 1, {}, boat_id="demo-7m")
    after = evidence()
    assert {name for name in after if after[name] > before[name]} == {"demo-6m", "demo-7m"}
    assert after["demo-8m"] == 0
