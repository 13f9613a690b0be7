"""A saved set-up as people read it: on the card, the sheet and the outing's table."""

from __future__ import annotations

from typing import Any

from flask.testing import FlaskClient

from tests.resources.test_ids_in_requests import SETTINGS, advised, keep

TEXT, HTML = {"Accept": "text/plain"}, {"Accept": "text/html"}


def test_the_card_says_it_in_a_row_of_its_own(mine: FlaskClient, boat: str, rider: str) -> None:
    body = {"boat": boat, "crew": 4, "rider": rider}
    plain = mine.post("/v1/advice", json=body, headers=TEXT).text
    assert "SAVED" not in plain
    setup = keep(mine, boat, rider)
    card = mine.post("/v1/advice", json=body, headers=TEXT).text
    start = card.index(f"SAVED    set-up {setup} for who is aboard today, 18.3 km/h,")
    assert "centre 41 % down" in " ".join(card[start:].split())
    lines = card.splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 78


def test_the_card_gives_no_numbers_that_are_not_to_be_used(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    setup = keep(mine, boat, rider)
    body = {"boat": boat, "crew": 20, "rider": rider}
    card = mine.post("/v1/advice", json=body, headers=TEXT).text
    assert f"SAVED    set-up {setup} for who is aboard today, DO NOT GO\n" in card
    assert "18.3" not in card


def test_the_sheet_has_it_beside_the_advice(
    mine: FlaskClient, boat: str, rider: str, particulars: dict[str, Any]
) -> None:
    other = mine.post("/v1/boats", json={**particulars, "name": "Other"}).get_json()["id"]
    setup = keep(mine, other, rider)
    body = {"boat": boat, "crew": 4, "rider": rider, "units": "us"}
    sheet = mine.post("/v1/advice", json=body, headers=HTML).text
    assert f"Set-up {setup}, carried over from Other by physics" in sheet
    speed = mine.post("/v1/advice", json=body).get_json()["saved"]["setup"]["speed"]
    assert f"Speed <b>{speed:.1f} mph</b>" in sheet
    assert "Compare saved set-up" not in mine.post(
        "/v1/advice", json=body | {"saved": None}, headers=HTML
    ).text  # fmt: skip


def test_the_outing_s_table_names_it(mine: FlaskClient, boat: str, rider: str) -> None:
    setup = keep(mine, boat, rider, settings=SETTINGS)
    body = {"boat": boat, "crew": 2, "riders": [{"rider": rider, "name": "Ada"}]}
    for accept in (TEXT, HTML):
        text = mine.post("/v1/outing-plans", json=body, headers=accept).text
        assert f"set-up {setup}: saved before, corrected for today" in " ".join(text.split())


def test_the_card_of_a_run_has_it_too(mine: FlaskClient, boat: str, rider: str) -> None:
    setup = keep(mine, boat, rider)
    asked = {"boat": boat, "crew": 4, "rider": rider}
    run = mine.post("/v1/runs", json={"request": asked}).get_json()
    assert run["answer"]["saved"] == advised(mine, boat, rider, crew=4)["saved"]
    assert f"set-up {setup}" in mine.get(f"/v1/runs/{run['id']}/card").text


def test_the_booking_s_sheet_has_it_beside_and_fills_no_more_than_it_wants(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    booking = {"start": "2025-07-05T10:00:00Z", "duration": 60, "party": 3, "riders": [rider]}
    mine.put("/v1/bookings/b", json=booking)
    sheet = "/v1/bookings/b/sheet"
    assert mine.get(sheet).get_json()["turns"][0]["saved"] is None
    setup = keep(mine, boat, rider)
    data = mine.get(sheet).get_json()
    (turn,) = data["turns"]
    assert (turn["saved"]["id"], turn["saved"]["source"]) == (setup, "saved")
    assert turn["saved"]["speed"] == 18.3
    crew: list[dict[str, Any]] = [{}, {}]  # the other two of the party
    assert turn["saved"]["tanks"] == {
        tank["tank"]: tank["fill"]
        for tank in advised(mine, boat, rider, crew=crew)["saved"]["setup"]["tanks"]
    }
    for filling in data["fill"]:
        both = (turn["tanks"][filling["tank"]], turn["saved"]["tanks"][filling["tank"]])
        assert filling["fill"] == min(both)
    text = mine.get(sheet, headers=TEXT).text
    assert f"{rider}, their set-up {setup}: starboard wave, 18.3" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 78
    assert f"{rider}, their set-up {setup}" in mine.get(sheet, headers=HTML).text
