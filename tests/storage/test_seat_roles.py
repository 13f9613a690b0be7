"""The seats of boats that were kept before seats had roles."""

from __future__ import annotations

import copy
import json
import logging
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask

from schemas.boat import KeptBoatSchema
from service import create_app
from service.boats.model import SeatRole
from service.outfits.demo import DEMO
from service.storage import Store, schema
from service.storage.tables import Boat, BoatVersion, Run, Setup

BEFORE = "0006"
AT = datetime(2020, 5, 1, 9, tzinfo=UTC)


def plain_boat(**names: str) -> dict[str, Any]:
    """The 7 m boat as it was before, its seats renamed."""
    path = files("service.boats") / "demo" / "demo-7m.json"
    boat: dict[str, Any] = json.loads(path.read_text("utf-8"))
    del boat["id"]
    boat["seats"] = [
        {name: seat[name] for name in ("id", "x", "y", "z", "places")}
        | {"id": names.get(seat["id"], seat["id"])}
        for seat in boat["seats"]
    ]
    return boat


@pytest.fixture
def before(empty_store: Store) -> Store:
    """A store of the schema before, with boats, a run and a set-up."""
    schema.upgrade(empty_store, BEFORE)
    boats = {"plain": plain_boat(), "renamed": plain_boat(helm="wheel"), "bare": {}}
    kept = {"outfit_id": "cove", "created": AT, "updated": AT}
    request = {"boat": plain_boat(), "rider": {"stance": "goofy"}, "saved": {"boat": plain_boat()}}
    with empty_store.writing() as session:
        run = session.connection().execute
        run(_table("outfits", "id", "name", "time_zone", "created").insert().values(
            id="cove", name="Cove", time_zone="UTC", created=AT
        ))  # fmt: skip
        for id_, document in boats.items():
            of = kept | {"id": id_, "version": 3, "document": document}
            run(_of(Boat).insert().values(name=id_, propulsion="inboard", **of))
            for version in (2, 3):
                run(_of(BoatVersion).insert().values(
                    outfit_id="cove", boat_id=id_, version=version, document=document, created=AT
                ))  # fmt: skip
        run(_of(Boat).insert().values(
            name="gone", propulsion="inboard", deleted=AT, **kept, id="gone", version=1, document={}
        ))  # fmt: skip
        document = {"request": request, "stood_for": {"boats": {"plain": plain_boat()}}}
        run(_of(Run).insert().values(
            id="r", version=1, document=document, started=AT, rule_set="0", answer={}, **kept
        ))  # fmt: skip
        crew = [{"seat": "helm", "name": "Ann", "age": 40, "role": "driver"}]
        run(_of(Setup).insert().values(
            id="s", version=1, boat_id="plain", document={"boat": "plain", "crew": crew}, **kept
        ))  # fmt: skip
    return empty_store


def _of(row: type[Any]) -> sa.Table:
    table: sa.Table = row.__table__
    return table


def _table(name: str, *columns: str) -> sa.TableClause:
    return sa.table(name, *map(sa.column, columns[:-1]), sa.column("created", sa.DateTime(True)))


def documents(store: Store, row: type[Any]) -> dict[str, dict[str, Any]]:
    with store.reading() as session:
        return {each.id: each.document for each in session.scalars(sa.select(row))}


def roles(boat: dict[str, Any]) -> dict[str, str | None]:
    return {seat["id"]: seat.get("role") for seat in boat["seats"]}


def test_helm_and_observer_get_their_roles_and_the_rest_goes_by_place(before: Store) -> None:
    schema.upgrade(before)
    boat = documents(before, Boat)["plain"]
    assert {id_: role for id_, role in roles(boat).items() if role} == {
        "helm": "driver", "observer": "observer",
    }  # fmt: skip
    assert [seat.role for seat in KeptBoatSchema().load({**boat, "id": "plain"}).seats] == [
        SeatRole.DRIVER, SeatRole.OBSERVER, SeatRole.BOW, SeatRole.BOW,
        SeatRole.COCKPIT, SeatRole.COCKPIT, SeatRole.STERN,
    ]  # fmt: skip


def test_the_boat_of_before_stays_in_its_version(before: Store) -> None:
    schema.upgrade(before)
    with before.reading() as session:
        rows = session.scalars(sa.select(BoatVersion).where(BoatVersion.boat_id == "plain"))
        versions = {row.version: row.document for row in rows}
        now = session.scalars(sa.select(Boat).where(Boat.id == "plain")).one()
    assert versions[2] == versions[3] == plain_boat()
    assert (now.version, now.document) == (4, versions[4])
    assert now.updated > AT


def test_boats_in_the_requests_of_runs_get_their_roles_too(before: Store) -> None:
    schema.upgrade(before)
    run = documents(before, Run)["r"]
    for boat in (run["request"]["boat"], run["request"]["saved"]["boat"]):
        assert roles(boat)["helm"] == "driver"
    assert run["stood_for"] == {"boats": {"plain": plain_boat()}}  # as it was on that day
    assert run["request"]["rider"] == {"stance": "goofy"}


def test_a_boat_without_a_drivers_seat_is_reported(
    before: Store, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING):
        schema.upgrade(before)
    told = [r.getMessage() for r in caplog.records if "driver's seat" in r.getMessage()]
    assert [line.split(":")[0] for line in told] == [
        'Boat "renamed" of outfit "cove" has no driver\'s seat',
        'Boat "bare" of outfit "cove" has no driver\'s seat',
    ]
    assert roles(documents(before, Boat)["renamed"])["wheel"] is None


def test_the_operator_can_list_the_boats_without_a_drivers_seat(before: Store) -> None:
    schema.upgrade(before)
    url = before.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    checked = checking(app)
    assert checked.exit_code == 1
    ids = [line.split(":")[0] for line in checked.output.splitlines()]
    assert ids == ["cove/renamed", "cove/bare"]
    with before.writing() as session:
        for boat in session.scalars(sa.select(Boat).where(Boat.id.in_(["renamed", "bare"]))):
            boat.document = copy.deepcopy(boat.document) | {
                "seats": [{"id": "a", "x": 1, "y": 0, "z": 1, "role": "driver"}]
            }
    checked = checking(app)
    assert (checked.exit_code, checked.output) == (0, "Every boat has a driver's seat.\n")
    app.extensions["store"].close()


def checking(app: Flask) -> Any:
    return app.test_cli_runner().invoke(args=["boats", "check"])


def test_the_way_back_leaves_what_the_program_before_reads(before: Store) -> None:
    schema.upgrade(before)
    with before.writing() as session:
        boat = session.scalars(sa.select(Boat).where(Boat.id == "plain")).one()
        limits = {**boat.document["limits"], "bow_persons": 4, "bow_mass": 300}
        seats = [{**seat, "faces": "aft"} for seat in boat.document["seats"]]
        boat.document = {**boat.document, "limits": limits, "seats": seats}
    schema.downgrade(before, BEFORE)
    assert documents(before, Boat)["plain"] == plain_boat()
    assert documents(before, Run)["r"]["request"]["boat"] == plain_boat()
    assert documents(before, Setup)["s"]["crew"] == [{"seat": "helm"}]
    with before.reading() as session:
        for version in session.scalars(sa.select(BoatVersion).where(BoatVersion.boat_id != "bare")):
            assert set(roles(version.document).values()) == {None}
    schema.upgrade(before)  # once more
    assert roles(documents(before, Boat)["plain"])["helm"] == "driver"


def test_a_store_made_anew_has_nothing_to_report(
    empty_store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING):
        schema.upgrade(empty_store)
    assert "driver's seat" not in caplog.text
    assert DEMO not in caplog.text
