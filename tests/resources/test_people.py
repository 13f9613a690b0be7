"""What is kept of a person can be had, and taken away; the boat's part stays."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import inspect, text, update

from service.api import advice
from service.storage import Store
from service.storage.tables import Rider, now

ANY = {"If-Match": "*"}
NAME, NOTE, MASS = "Quendolin", "likes it steeper than Quendolin's sister", 83.7


@pytest.fixture
def kept(mine: FlaskClient, boat: str) -> dict[str, str]:
    """A rider with a set-up and a run, made under an Idempotency-Key."""
    sent = {"name": NAME, "mass": MASS, "stance": "goofy", "notes": NOTE}
    headers = {"Idempotency-Key": "k"}
    rider = mine.post("/v1/riders", json=sent, headers=headers).get_json()["id"]
    setup = {
        "boat": boat, "rider": rider, "settings": {"speed": 18}, "rating": 5, "notes": NOTE,
    }  # fmt: skip
    run = {"request": {"boat": boat, "crew": 3, "rider": rider}, "rating": 4, "notes": NOTE}
    return {
        "rider": rider,
        "setup": mine.post("/v1/setups", json=setup, headers=headers).get_json()["id"],
        "run": mine.post("/v1/runs", json=run, headers=headers).get_json()["id"],
    }


def everything(store: Store, client: FlaskClient) -> str:
    """All that is in the store of the client's outfit, as text."""
    outfit = client.get("/v1/outfit").get_json()["id"]
    with store.connected() as connection:
        rows = [
            str(row)
            for table in inspect(connection).get_table_names()
            for row in connection.execute(text(f"SELECT * FROM {table}"))  # noqa: S608
        ]
    return "\n".join(row for row in rows if outfit in row)


def test_all_that_is_kept_can_be_had(mine: FlaskClient, kept: dict[str, str]) -> None:
    export = mine.get(f"/v1/riders/{kept['rider']}/export").get_json()
    assert (export["rider"]["name"], export["rider"]["notes"]) == (NAME, NOTE)
    assert [setup["id"] for setup in export["setups"]] == [kept["setup"]]
    (run,) = export["runs"]
    assert (run["id"], run["answer"]["rider"]["mass"]) == (kept["run"], MASS)
    assert export["bookings"] == []


def test_an_erased_rider_is_nowhere_and_the_boat_s_part_stays(
    mine: FlaskClient, kept: dict[str, str], store: Store, boat: str
) -> None:
    run_before = mine.get(f"/v1/runs/{kept['run']}").get_json()
    assert kept["rider"] in everything(store, mine)
    assert mine.delete(f"/v1/riders/{kept['rider']}?erase=true").status_code == 204
    left = everything(store, mine)
    for trace in (kept["rider"], NAME, NOTE, str(MASS)):
        assert trace not in left

    setup = mine.get(f"/v1/setups/{kept['setup']}").get_json()
    assert (setup["boat"], setup["settings"], setup["rating"]) == (boat, {"speed": 18}, 5)
    run = mine.get(f"/v1/runs/{kept['run']}").get_json()
    for group in run_before["answer"]["setup"]["seating"]:
        del group["mass"]
    for name in ("verdict", "setup", "predicted", "rule_set"):
        assert run["answer"][name] == run_before["answer"][name]
    assert (run["rating"], run["rule_set"]) == (4, run_before["rule_set"])
    assert mine.get(f"/v1/runs/{kept['run']}/card").status_code == 410
    assert mine.get(f"/v1/riders/{kept['rider']}").status_code == 404
    assert mine.get(f"/v1/riders/{kept['rider']}/export").status_code == 404
    # What is left can still be rated.
    rated = mine.patch(f"/v1/runs/{kept['run']}", json={"rating": 3}, headers=ANY)
    assert rated.status_code == 200


def test_one_of_the_crew_is_erased_with_name_and_age(
    mine: FlaskClient, kept: dict[str, str], store: Store, boat: str
) -> None:
    someone = {"rider": kept["rider"], "name": "Wilhelmina", "age": 41.25, "role": "driver"}
    request = {"boat": boat, "crew": [someone, {"mass": 70}], "rider": {"stance": "goofy"}}
    run = mine.post("/v1/runs", json={"request": request}).get_json()
    assert run["answer"]["setup"]["seating"][0]["name"] == "Wilhelmina"
    mine.delete(f"/v1/riders/{kept['rider']}?erase=true")
    left = everything(store, mine)
    assert "Wilhelmina" not in left
    assert "41.25" not in left
    (first, second) = mine.get(f"/v1/runs/{run['id']}").get_json()["answer"]["setup"]["seating"]
    assert (first["person"], first["role"], second["person"]) == (1, "driver", 2)


def test_a_request_that_is_sent_again_does_not_bring_the_person_back(
    mine: FlaskClient, kept: dict[str, str]
) -> None:
    mine.delete(f"/v1/riders/{kept['rider']}?erase=true")
    sent = {"name": NAME, "mass": MASS, "stance": "goofy", "notes": NOTE}
    again = mine.post("/v1/riders", json=sent, headers={"Idempotency-Key": "k"})
    assert again.status_code == 410
    assert mine.get("/v1/riders").get_json()["items"] == []


def test_nor_what_was_answered_in_the_tuning_of_their_run(
    mine: FlaskClient, kept: dict[str, str]
) -> None:
    address = f"/v1/runs/{kept['run']}"
    version = {"If-Match": mine.get(address).headers["ETag"], "Idempotency-Key": "look"}
    look = {"seen": ["white_crest"]}
    assert mine.post(f"{address}/tuning", json=look, headers=version).status_code == 200
    mine.delete(f"/v1/riders/{kept['rider']}?erase=true")
    assert mine.post(f"{address}/tuning", json=look, headers=version).status_code == 410


def test_a_deleted_rider_can_still_be_had_and_erased(
    mine: FlaskClient, kept: dict[str, str]
) -> None:
    assert mine.delete(f"/v1/riders/{kept['rider']}", headers=ANY).status_code == 204
    assert mine.get(f"/v1/riders/{kept['rider']}").status_code == 404
    assert mine.get(f"/v1/riders/{kept['rider']}/export").status_code == 200
    assert mine.delete(f"/v1/riders/{kept['rider']}?erase=true").status_code == 204
    assert mine.get(f"/v1/riders/{kept['rider']}/export").status_code == 404


def test_whoever_was_not_needed_for_long_is_erased_where_the_outfit_says_so(
    mine: FlaskClient, kept: dict[str, str], store: Store, app: Flask
) -> None:
    sweep = ["outfits", "sweep"]
    with store.writing() as session:
        old = now() - timedelta(days=31)
        session.execute(update(Rider).where(Rider.id == kept["rider"]).values(used=old))
    runner = app.test_cli_runner()
    assert runner.invoke(args=sweep).exit_code == 0
    assert mine.get(f"/v1/riders/{kept['rider']}").status_code == 200  # nobody said so
    mine.patch("/v1/outfit", json={"retention_days": 32})
    runner.invoke(args=sweep)
    assert mine.get(f"/v1/riders/{kept['rider']}").status_code == 200
    mine.patch("/v1/outfit", json={"retention_days": 30})
    assert "1 " in runner.invoke(args=sweep).output
    assert mine.get(f"/v1/riders/{kept['rider']}/export").status_code == 404


@pytest.mark.usefixtures("boat")
def test_who_is_booked_to_ride_yet_is_needed(mine: FlaskClient, store: Store, app: Flask) -> None:
    rider = mine.post("/v1/riders", json={"name": "Alder", "mass": 61}).get_json()["id"]
    start = now() + timedelta(days=2)
    sent = {"start": start.isoformat(), "duration": 60, "party": 3, "riders": [rider]}
    assert mine.put("/v1/bookings/ahead", json=sent).status_code == 201
    with store.writing() as session:
        old = now() - timedelta(days=31)
        session.execute(update(Rider).where(Rider.id == rider).values(used=old))
    mine.patch("/v1/outfit", json={"retention_days": 30})
    app.test_cli_runner().invoke(args=["outfits", "sweep"])
    assert mine.get("/v1/bookings/ahead").get_json()["riders"] == [rider]
    mine.delete("/v1/bookings/ahead", headers={"If-Match": "*"})
    app.test_cli_runner().invoke(args=["outfits", "sweep"])
    assert mine.get(f"/v1/riders/{rider}/export").status_code == 404


@pytest.mark.parametrize("as_crew", [False, True])
def test_nothing_is_kept_of_who_was_erased_while_the_advice_was_reckoned(
    mine: FlaskClient, boat: str, monkeypatch: pytest.MonkeyPatch, *, as_crew: bool
) -> None:
    told = {"name": "Alder", "mass": 61, "stance": "goofy", "board": "surf", "level": "beginner"}
    rider = mine.post("/v1/riders", json=told).get_json()["id"]
    reckon = advice.answered

    def erased_meanwhile(*asked: Any) -> Any:
        found = reckon(*asked)
        assert mine.delete(f"/v1/riders/{rider}?erase=true").status_code == 204
        return found

    monkeypatch.setattr("service.api.runs.answered", erased_meanwhile)
    guest = {"mass": 82, "stance": "goofy", "board": "surf", "level": "beginner"}
    sent = {
        "boat": boat,
        "crew": [{"mass": 84}, {"rider": rider} if as_crew else {"mass": 70}],
        "rider": guest if as_crew else rider,
    }
    refused = mine.post("/v1/runs", json={"request": sent})
    assert refused.status_code == 404
    assert rider in refused.get_json()["detail"]
    assert mine.get("/v1/runs").get_json()["items"] == []


def test_personal_data_is_left_in_no_cache(
    mine: FlaskClient, client: FlaskClient, rider: str
) -> None:
    for path in (f"/v1/riders/{rider}", "/v1/riders", f"/v1/riders/{rider}/export", "/v1/bookings",
                 "/v1/runs", "/v1/riders/nobody"):  # fmt: skip
        assert mine.get(path).headers["Cache-Control"] == "no-store", path
    asked = {"boat": "demo-7m", "crew": 2, "rider": {"mass": 80, "stance": "goofy"}}
    assert client.post("/v1/advice", json=asked).headers["Cache-Control"] == "no-store"
    assert "Cache-Control" not in client.get("/v1/rules").headers


@pytest.mark.parametrize("name", ["نی\u200cما", "ක්\u200dෂ", "👩\u200d👦"])
def test_joiners_are_allowed_in_names(mine: FlaskClient, name: str) -> None:
    """Persian and Sinhala are written with them."""
    made = mine.post("/v1/riders", json={"name": name, "notes": f"{name}\n{name}"})
    assert made.status_code == 201
    assert made.get_json()["name"] == name


@pytest.mark.parametrize("name", ["\u200c", "\u200d\u200d", "a\u202eb", "a\u200bb", "a\u2028b"])
def test_names_that_show_nothing_or_turn_the_line_are_refused(mine: FlaskClient, name: str) -> None:
    refused = mine.post("/v1/riders", json={"name": name})
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["pointer"] == "/name"
