"""Bookings: does a party fit, on which boat, and if not, why, in words for a customer."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.resources.conftest import RIDER, START, Book, Caller


def answer(response: TestResponse) -> dict[str, Any]:
    assert response.status_code in (200, 201), response.text
    found: dict[str, Any] = response.get_json()["answer"]
    return found


def test_a_party_that_fits_goes_on_the_smallest_boat(book: Book) -> None:
    made = book()
    assert (made.status_code, made.headers["Location"]) == (201, "/v1/bookings/r1")
    found = answer(made)
    assert (found["fits"], found["boat"], found["reasons"]) == (True, "small", [])
    assert found["summary"] == "Fits on Small."
    assert found["sheet"] == "/v1/bookings/r1/sheet"


def test_sent_again_it_is_the_same_booking_and_changed_it_is_changed(book: Book) -> None:
    first, again = book(), book()
    assert (again.status_code, again.data) == (200, first.data)
    assert again.headers["ETag"] == first.headers["ETag"] == '"1"'
    assert book(party=7).headers["ETag"] == '"2"'


def test_a_start_in_the_past_is_kept_and_said(mine: FlaskClient, book: Book) -> None:
    """Yesterday's bookings are brought in from elsewhere, so it is no fault; a slip is seen."""
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).isoformat()
    assert answer(book(start=tomorrow))["notice"] is None
    found = answer(book(start=START))
    assert found["fits"]
    assert found["notice"] == "It had begun already when this was told. Is the date right?"
    assert mine.get("/v1/bookings/r1").get_json()["answer"] == found
    assert answer(book(start=tomorrow))["notice"] is None


def test_too_many_with_full_tanks_take_fewer_or_the_larger_boat(book: Book) -> None:
    """By hand: fresh water of 20 °C is 998.2 kg/m³ (IAPWS), so 1.300 m³ are 1297.7 kg.

    11 people of 84 kg, the rider of 82 kg and the water are 2303.7 kg, 137.7 over 2166; the room
    for people is 868.3 kg, which is 10 of these people.
    """
    found = answer(book(boat="small", party=12))
    (reason,) = found["reasons"]
    assert reason["code"] == "full_tanks"
    assert reason["text"].startswith(
        "12 people with full tanks are 138 kg over this boat's limit: "
        "take 10 or the larger boat (Large)"
    )
    assert found["most"] == 10
    assert found["fits"]  # with less water, which the reason says
    for party, reasons in ((10, []), (11, ["full_tanks"])):
        fewer = answer(book(boat="small", party=party))
        assert [each["code"] for each in fewer["reasons"]] == reasons
    assert answer(book(party=12))["boat"] == "large"


def test_in_pounds_for_whoever_asks_in_pounds(book: Book) -> None:
    text = answer(book(boat="small", party=12, units="us"))["summary"]
    # The rider's 82 are pounds, too: 924 + 37.2 + 1297.7 - 2166 = 92.9 kg, over 0.45359237.
    assert "205 lb over" in text


def test_more_than_the_plate_says_do_not_fit(book: Book) -> None:
    found = answer(book(boat="small", party=13))
    assert not found["fits"]
    assert (found["boat"], found["sheet"]) == (None, None)
    assert found["reasons"][0]["text"].startswith("13 people are 1 more than Small takes (12)")
    masses = [{"mass": 200}] * 11
    heavy = answer(book(boat="small", party=masses))
    assert [reason["code"] for reason in heavy["reasons"]] == ["load"]
    assert "34 kg over this boat's limit even with empty tanks" in heavy["summary"]
    assert not heavy["fits"]


def test_a_boat_without_known_limits_or_places_for_all_comes_last(
    mine: FlaskClient, book: Book, particulars: dict[str, Any]
) -> None:
    """18 places on the 7 m boat; an unknown limit is not a small one."""
    mine.post("/v1/boats", json={**particulars, "id": "unread", "name": "Unread", "limits": {}})
    assert answer(book(party=10))["boat"] == "small"
    assert answer(book(party=14))["boat"] == "large"
    found = answer(book(boat="unread", party=20))
    assert found["fits"]
    assert [reason["code"] for reason in found["reasons"]] == ["places"]
    assert found["most"] == 18
    assert found["summary"] == (
        "Fits on Unread with care: "
        "20 people are 2 more than Unread has places to sit (18): take 18."
    )


def test_what_the_riders_weigh_counts(
    mine: FlaskClient, book: Book, particulars: dict[str, Any]
) -> None:
    """By hand: 2 riders of 130 kg and 4 guests of 84 kg are 596 kg, of whom 580 are allowed."""
    limits = {"persons": 8, "persons_mass": 580, "load_mass": 3000, "includes_ballast": True}
    mine.post("/v1/boats", json={**particulars, "id": "light", "limits": limits})
    riders = [RIDER | {"mass": 130}] * 2
    found = answer(book(boat="light", riders=riders))
    assert [reason["code"] for reason in found["reasons"]] == ["people_mass"]
    assert "16 kg over" in found["summary"]
    assert not found["fits"]
    # Told twice they are the same two people.
    party = [{"mass": 60}, {"mass": 130}, {"mass": 60}, {"mass": 130}]
    assert answer(book(boat="light", party=party, riders=riders))["fits"]
    # With everybody's mass told there is nothing to ask for.
    assert answer(book(boat="large", party=2, riders=riders))["missing"] == []


def test_the_outfit_s_own_people_count(book: Book) -> None:
    assert answer(book(boat="small", party=12))["fits"]
    assert not answer(book(boat="small", party=12, staff=1))["fits"]


def test_what_the_advice_forbids_does_not_fit(
    mine: FlaskClient, book: Book, particulars: dict[str, Any]
) -> None:
    """Nobody rides close behind an outboard: the rules say so, and so says the booking."""
    mine.post("/v1/boats", json={**particulars, "id": "outboard", "propulsion": "outboard"})
    found = answer(book(boat="outboard"))
    assert [reason["code"] for reason in found["reasons"]] == ["unsafe"]
    assert not found["fits"]
    assert "propeller" in found["summary"].lower()


COUNTS_WATER = (
    "The maker, or the maker's plate: does the load limit count the ballast water? (Here it does.)"
)


def test_what_is_asked_is_a_question_that_says_of_whom(
    mine: FlaskClient, book: Book, particulars: dict[str, Any]
) -> None:
    limits = {"load_mass": 3000}
    mine.post("/v1/boats", json={**particulars, "id": "unread", "limits": limits})
    asked = answer(book(boat="unread", riders=[RIDER, {}]))["missing"]
    assert [question["text"] for question in asked] == [
        "What does each guest weigh? (The usual mass is taken.)",
        "Rider 2: what do they weigh?",
        "Rider 2: which foot is in front?",
        "Rider 2: a surf-style or a skim-style board?",
        "Rider 2: how experienced are they?",
        "The maker, or the maker's plate: how many people may the boat carry?",
        COUNTS_WATER,
    ]
    text = mine.get("/v1/bookings/r1/sheet", headers={"Accept": "text/plain"}).text
    for question in asked:
        assert question["text"] in " ".join(text.split())


def test_what_is_not_known_is_asked_for(book: Book) -> None:
    pointers = [m["pointer"] for m in answer(book(riders=[{}], level="expert"))["missing"]]
    assert pointers == ["/party", "/riders/0/mass", "/riders/0/stance", "/riders/0/board"]
    told = answer(book(party=[{"mass": 80}] * 3))
    assert told["missing"] == []
    assert [m["pointer"] for m in answer(book(riders=[]))["missing"]] == ["/party", "/riders"]


def test_a_boat_goes_out_once_at_a_time(book: Book) -> None:
    assert answer(book("r1"))["boat"] == "small"
    assert answer(book("r2"))["boat"] == "large"
    third = answer(book("r3"))
    assert not third["fits"]
    assert third["reasons"][0]["code"] == "taken"
    asked = answer(book("r4", boat="small", start="2025-07-05T11:59:00+02:00"))
    assert asked["reasons"][0]["text"] == "Small is booked from 10:00 to 12:00 (UTC+02:00)."
    assert answer(book("r5", boat="small", start="2025-07-05T12:00:00+02:00"))["fits"]
    # The first keeps its boat when it is sent again, changed or not.
    assert answer(book("r1", party=7))["boat"] == "small"


def test_a_cancelled_booking_gives_its_boat_back_and_may_come_again(
    mine: FlaskClient, book: Book
) -> None:
    assert answer(book("r1", boat="small"))["fits"]
    assert not answer(book("r2", boat="small"))["fits"]
    assert mine.delete("/v1/bookings/r1").status_code == 204
    assert mine.get("/v1/bookings/r1").status_code == 404
    assert answer(book("r2", boat="small"))["fits"]
    again = book("r1", boat="large")
    assert (again.status_code, again.headers["ETag"]) == (201, '"3"')


def test_if_match_is_minded_where_it_is_sent(mine: FlaskClient, book: Book) -> None:
    book("r1")
    body = {"start": START, "duration": 60, "party": 2}
    for address, tag, status in (
        ("r1", '"2"', 412), ("r9", "*", 412), ("r1", '"1"', 200), ("r1", "*", 200),
    ):  # fmt: skip
        put = mine.put(f"/v1/bookings/{address}", json=body, headers={"If-Match": tag})
        assert put.status_code == status
    assert mine.delete("/v1/bookings/r1", headers={"If-Match": '"1"'}).status_code == 412


def test_with_if_none_match_only_a_new_one_is_kept(mine: FlaskClient, book: Book) -> None:
    """RFC 9110, 13.1.2."""
    book("r1")
    body, new = {"start": START, "duration": 60, "party": 2}, {"If-None-Match": "*"}
    for address, status in (("r1", 412), ("r9", 201), ("r9", 412)):
        assert mine.put(f"/v1/bookings/{address}", json=body, headers=new).status_code == status
    assert mine.get("/v1/bookings/r1").get_json()["party"] == 6
    assert mine.delete("/v1/bookings/r1", headers=new).status_code == 412
    assert mine.delete("/v1/bookings/r1").status_code == 204
    assert mine.put("/v1/bookings/r1", json=body, headers=new).status_code == 201


def test_of_many_at_once_each_boat_is_taken_once(app: Flask, mine: FlaskClient, book: Book) -> None:
    def put(number: int) -> dict[str, Any]:
        client = app.test_client()
        client.environ_base.update(mine.environ_base)
        return answer(book(f"r{number}", client))

    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(put, range(12)))
    assert sorted(str(found["boat"]) for found in answers if found["fits"]) == ["large", "small"]


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"party": 0}, "/party"),
        ({"party": []}, "/party"),
        ({"party": [{"mass": 1}]}, "/party/0/mass"),
        ({"duration": "3 kg"}, "/duration"),
        ({"duration": 1500}, "/duration"),
        ({"start": "2025-07-05T10:00:00"}, "/start"),
        ({"riders": [RIDER] * 7}, "/riders"),
        ({"riders": [{"stance": "left"}]}, "/riders/0/stance"),
        ({"customer": "someone"}, "/customer"),
        ({"id": "another"}, "/id"),
    ],
)
def test_faults_are_named(book: Book, changes: dict[str, Any], pointer: str) -> None:
    refused = book(**changes)
    assert refused.status_code == 422
    assert pointer in [fault["pointer"] for fault in refused.get_json(force=True)["errors"]]


def test_unknown_boats_and_riders_are_a_404(book: Book, mine: FlaskClient) -> None:
    assert book(boat="nothing").status_code == 404
    assert book(riders=["nobody"]).status_code == 404
    assert mine.get("/v1/bookings/nothing/sheet").status_code == 404


def test_an_outfit_without_boats_is_told_so(caller: Caller) -> None:
    refused = caller().put("/v1/bookings/r1", json={"start": START, "duration": 60, "party": 2})
    assert refused.get_json(force=True)["errors"][0]["pointer"] == "/boat"


def test_a_batch_does_each_by_itself(mine: FlaskClient, book: Book) -> None:
    good = {"id": "g", "start": START, "duration": 60, "party": 4}
    bookings = [good, {**good, "id": "bad", "party": 0}, {**good, "id": "lost", "boat": "x"}, {}]
    done = mine.post("/v1/bookings:batch", json={"bookings": bookings})
    assert done.status_code == 200
    results = done.get_json()["results"]
    assert [result["status"] for result in results] == [201, 422, 404, 422]
    assert results[0]["booking"] == mine.get("/v1/bookings/g").get_json()
    assert results[1]["problem"]["errors"][0]["pointer"] == "/party"
    assert mine.get("/v1/bookings/bad").status_code == 404
    again = mine.post("/v1/bookings:batch", json={"bookings": [good]}).get_json()["results"]
    assert [result["status"] for result in again] == [200]


def test_a_batch_is_all_or_nothing_on_request(mine: FlaskClient, book: Book) -> None:
    good = {"id": "g", "start": START, "duration": 60, "party": 4}
    asked = {"atomic": True, "bookings": [good, {**good, "id": "bad", "party": 0}]}
    refused = mine.post("/v1/bookings:batch", json=asked)
    assert refused.status_code == 422
    assert refused.get_json(force=True)["errors"][0]["pointer"] == "/bookings/1/party"
    assert mine.get("/v1/bookings/g").status_code == 404
    asked["bookings"] = [good, {**good, "id": "good-too"}]
    assert mine.post("/v1/bookings:batch", json=asked).status_code == 200
    assert mine.get("/v1/bookings/good-too").status_code == 200


@pytest.mark.parametrize("form", ["application/jsonl", "application/x-ndjson"])
def test_a_batch_is_streamed_as_json_lines(mine: FlaskClient, book: Book, form: str) -> None:
    bookings = [
        {"id": f"b{n}", "start": START, "duration": 60, "party": 3, "boat": "small"}
        for n in range(3)
    ]
    headers = {"Accept": form, "Idempotency-Key": "day-1"}
    done = mine.post("/v1/bookings:batch", json={"bookings": bookings}, headers=headers)
    assert (done.status_code, done.mimetype, done.is_streamed) == (200, form, True)
    lines = [json.loads(line) for line in done.text.splitlines()]
    assert [(line["id"], line["status"]) for line in lines] == [
        ("b0", 201),
        ("b1", 201),
        ("b2", 201),
    ]
    assert [line["booking"]["answer"]["fits"] for line in lines] == [True, False, False]
    again = mine.post("/v1/bookings:batch", json={"bookings": bookings}, headers=headers)
    assert again.text == done.text
    assert again.headers["Idempotency-Replayed"] == "true"


def test_a_day_of_five_hundred_and_no_more(mine: FlaskClient, book: Book) -> None:
    bookings = [
        {"id": f"b{n}", "start": f"2025-07-{1 + n // 25:02d}T{n % 24:02d}:00:00Z", "duration": 50,
         "party": 2 + n % 9}
        for n in range(501)
    ]  # fmt: skip
    refused = mine.post("/v1/bookings:batch", json={"bookings": bookings})
    assert refused.status_code == 422
    done = mine.post("/v1/bookings:batch", json={"bookings": bookings[:500]})
    assert [result["status"] for result in done.get_json()["results"]] == [201] * 500
