"""Bookings: does a party fit, on which boat, and if not, why, in words for a customer."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.resources.conftest import Caller

START = "2025-07-05T10:00:00+02:00"
USUAL = 84  # kg, 46 CFR 170.090 (185 lb); the rule base's own default
RIDER = {"mass": 82, "stance": "goofy", "board": "skim", "level": "intermediate"}
Book = Callable[..., TestResponse]


@pytest.fixture
def fleet_of_two(mine: FlaskClient, particulars: dict[str, Any]) -> dict[str, Any]:
    """A boat whose load limit counts 1,300 L of ballast, and a larger one."""
    small = {**particulars, "id": "small", "name": "Small"}
    small["limits"] = {"persons": 12, "load_mass": 2166, "includes_ballast": True}
    large = {**particulars, "id": "large", "name": "Large", "length_overall": 7.4}
    large["limits"] = {"persons": 16, "load_mass": 3000, "includes_ballast": True}
    for boat in (small, large):
        assert mine.post("/v1/boats", json=boat).status_code == 201
    return {"small": small, "large": large}


@pytest.fixture
def book(mine: FlaskClient, fleet_of_two: dict[str, Any]) -> Book:
    def put(reference: str = "r1", client: FlaskClient = mine, **changes: Any) -> TestResponse:
        body = {"start": START, "duration": "2 h", "party": 6, "riders": [RIDER], **changes}
        return client.put(f"/v1/bookings/{reference}", json=body)

    return put


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
        ({"customer": "somebody"}, "/customer"),
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


def test_the_sheet_prepares_what_all_riders_have_in_common(mine: FlaskClient, book: Book) -> None:
    riders = [RIDER, {**RIDER, "stance": "regular", "mass": 70}, {}]
    book(riders=riders)
    sheet = mine.get("/v1/bookings/r1/sheet").get_json()
    assert [turn["rider"] for turn in sheet["turns"]] == ["rider 1", "rider 2"] + ["rider 3"] * 2
    assert [turn["surf_side"] for turn in sheet["turns"]] == [
        "starboard", "port", "port", "starboard",
    ]  # fmt: skip
    for filling in sheet["fill"]:
        fills = [turn["tanks"][filling["tank"]] for turn in sheet["turns"]]
        assert filling["fill"] == min(fills)
        # Its own pump alone: volume over rate, 75 or 60 L/min in the boat's particulars.
        rate = 75 if filling["tank"].startswith("aft") else 60
        assert filling["time"] == pytest.approx(filling["volume"] / rate, abs=0.1)
    others = [{"mass": 70}, *({"mass": USUAL},) * 4]
    asked = {"boat": "small", "crew": others, "rider": RIDER}
    advice = mine.post("/v1/advice", json=asked).get_json()
    first = sheet["turns"][0]
    assert first["speed"] == advice["setup"]["speed"]
    assert first["plates"] == advice["setup"]["plates"]
    assert {caution["text"] for caution in advice["cautions"]} <= {
        entry["text"] for entry in sheet["briefing"]
    }


def test_the_sheet_for_the_dock_is_text(mine: FlaskClient, book: Book) -> None:
    mine.patch("/v1/outfit", json={"time_zone": "Europe/Zurich"})
    book()
    text = mine.get("/v1/bookings/r1/sheet?units=us", headers={"Accept": "text/plain"}).text
    assert "Small: r1, 05 Jul 2025 10:00-12:00 UTC+02:00" in text
    assert "mph" in text
    assert "US gal" in text
    assert "plates centre" in text
    assert "port up" in text or "starboard up" in text  # the surf side's, as on the card
    first = mine.get("/v1/bookings/r1/sheet").get_json()["turns"][0]
    for group in first["seating"]:
        assert f"{group['people']} at {group['to']}" in " ".join(text.split())
    # Of different mass: which of them sits where is told.
    book("r2", party=[{"mass": mass} for mass in (120, 40, 80, 82)])
    mixed = mine.get("/v1/bookings/r2/sheet", headers={"Accept": "text/plain"}).text
    # 82 kg rides: three are aboard.
    seats = " ".join(mixed.split()).partition(" people ")[2].partition(" BRIEFING")[0]
    told = [mass for group in re.findall(r"([\d/]+) kg at", seats) for mass in group.split("/")]
    assert sorted(told, key=int) == ["40", "80", "120"]
    assert max(len(line) for line in text.splitlines()) <= 78


def test_until_a_time_zone_is_set_times_are_told_as_they_came(
    mine: FlaskClient, book: Book
) -> None:
    text = {"Accept": "text/plain"}
    book("east", start="2025-07-05T09:00:00+02:00")
    book("west", start="2025-07-05T09:00:00-03:30")
    book("zulu", start="2025-07-05T20:00:00Z")
    assert "09:00-11:00 UTC+02:00" in mine.get("/v1/bookings/east/sheet", headers=text).text
    html = mine.get("/v1/bookings/west/sheet", headers={"Accept": "text/html"}).text
    assert "09:00–11:00 UTC-03:30" in html
    day = mine.get("/v1/bookings?date=2025-07-05", headers=text).text
    assert [line.split()[:2] for line in day.splitlines()] == [
        ["09:00-11:00", "UTC+02:00"], ["09:00-11:00", "UTC-03:30"], ["20:00-22:00", "UTC"],
    ]  # fmt: skip
    mine.patch("/v1/outfit", json={"time_zone": "America/St_Johns"})
    assert "04:30-06:30 UTC-02:30" in mine.get("/v1/bookings/east/sheet", headers=text).text


def test_a_booking_on_no_boat_has_no_sheet(mine: FlaskClient, book: Book) -> None:
    book(party=30)
    assert mine.get("/v1/bookings/r1/sheet").status_code == 409


def test_the_day_sheet_is_of_the_outfit_s_day_in_the_order_of_time(
    mine: FlaskClient, book: Book
) -> None:
    mine.patch("/v1/outfit", json={"time_zone": "Pacific/Auckland"})
    # New Zealand is 12 hours ahead in July: its 6 July begins at 12:00 UTC on the 5th.
    for reference, start in (
        ("c", "06T11:59"),
        ("a", "05T12:00"),
        ("x", "05T11:59"),
        ("y", "06T12:00"),
    ):
        book(reference, start=f"2025-07-{start}:00Z", duration=30)
    day = mine.get("/v1/bookings?date=2025-07-06").get_json()["items"]
    assert [item["id"] for item in day] == ["a", "c"]
    text = mine.get("/v1/bookings?date=2025-07-06", headers={"Accept": "text/plain"}).text
    assert [line.split()[:3] for line in text.splitlines()] == [
        ["00:00-00:30", "UTC+12:00", "a"], ["23:59-00:29", "UTC+12:00", "c"],
    ]  # fmt: skip
    assert mine.get("/v1/bookings?date=2025-13-01").status_code == 422
    assert len(mine.get("/v1/bookings?limit=3").get_json()["items"]) == 3


def test_a_day_comes_in_pages_too(mine: FlaskClient, book: Book) -> None:
    """Several at the same moment, changed and cancelled ones between the pages."""
    hours = [9, 8, 8, 8, 10, 9, 8, 11, 9]
    for number, hour in enumerate(hours):
        book(f"r{number}", start=f"2025-07-05T{hour:02}:00:00Z", duration=30)
    book("next-day", start="2025-07-06T08:00:00Z")
    expected = [f"r{n}" for _, n in sorted((hour, n) for n, hour in enumerate(hours))]
    seen: list[str] = []
    address: str | None = "/v1/bookings?date=2025-07-05&limit=2"
    while address is not None:
        page = mine.get(address)
        body = page.get_json()
        seen += [item["id"] for item in body["items"]]
        address = body["next"]
        link = page.headers.get("Link")
        assert link == (None if address is None else f'<{address}>; rel="next"')
        if len(seen) == 4:
            # The last one seen goes away, one that was seen moves to the end: none is lost.
            assert mine.delete(f"/v1/bookings/{seen[-1]}").status_code == 204
            book(seen[0], start="2025-07-05T12:00:00Z", duration=30)
    assert seen == [*expected, expected[0]]
    whole = mine.get("/v1/bookings?date=2025-07-05").get_json()
    assert len(whole["items"]) == len(hours) - 1
    assert whole["next"] is None


def test_the_day_sheet_is_whole_however_small_the_page(mine: FlaskClient, book: Book) -> None:
    for number in range(4):
        book(f"r{number}", start=f"2025-07-05T{8 + number:02}:00:00Z", duration=30)
    headers = {"Accept": "text/plain"}
    day = mine.get("/v1/bookings?date=2025-07-05&limit=2", headers=headers)
    assert len(day.text.splitlines()) == 4
    assert "Link" not in day.headers
    listed = mine.get("/v1/bookings?limit=3", headers=headers)
    assert len(listed.text.splitlines()) == 3
    assert 'rel="next"' in listed.headers["Link"]


def test_the_mark_of_one_list_is_none_of_another(mine: FlaskClient, book: Book) -> None:
    for number in range(3):
        book(f"r{number}", start=f"2025-07-05T{8 + number:02}:00:00Z", duration=30)
    by_time = mine.get("/v1/bookings?date=2025-07-05&limit=1").get_json()["next"]
    by_number = mine.get("/v1/bookings?limit=1").get_json()["next"]
    for address in (
        by_time.replace("date=2025-07-05&", ""),
        by_number + "&date=2025-07-05",
        by_time.replace("/v1/bookings?date=2025-07-05&", "/v1/riders?"),
    ):
        refused = mine.get(address)
        assert refused.status_code == 422, address
        assert refused.get_json()["errors"][0]["parameter"] == "after"


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
        {"id": f"b{n}", "start": START, "duration": 60, "party": 2, "boat": "small"}
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


def test_an_erased_rider_leaves_the_bookings(mine: FlaskClient, book: Book, rider: str) -> None:
    book(riders=[rider, RIDER])
    export = mine.get(f"/v1/riders/{rider}/export").get_json()
    assert [booking["id"] for booking in export["bookings"]] == ["r1"]
    mine.delete(f"/v1/riders/{rider}?erase=true")
    left = mine.get("/v1/bookings/r1").get_json()
    assert left["riders"] == [RIDER]
    assert mine.get("/v1/bookings/r1/sheet").status_code == 200


def test_a_deleted_rider_stays_on_the_sheet_as_somebody_of_whom_nothing_is_known(
    mine: FlaskClient, book: Book, rider: str
) -> None:
    """Deleted, not erased: the booking keeps the id; 80 and 84 kg are the rule base's defaults."""
    book(riders=[rider, RIDER], party=2)
    whole = mine.get("/v1/bookings/r1/sheet").get_json()
    assert all(turn["kept"] for turn in whole["turns"])
    deleted = mine.delete(f"/v1/riders/{rider}", headers={"If-Match": "*"})
    assert deleted.status_code == 204
    sheet = mine.get("/v1/bookings/r1/sheet").get_json()
    told = [(turn["rider"], turn["kept"], turn["surf_side"]) for turn in sheet["turns"]]
    assert told == [
        (rider, False, "port"), (rider, False, "starboard"), ("rider 2", True, "starboard"),
    ]  # fmt: skip
    (said,) = (entry for entry in sheet["check"] if entry not in whole["check"])
    assert said == (
        f"Who rides for {rider}, of whom nothing is kept any more? (Taken: 80 kg, "
        f"surf-style board, beginner, on both sides, and {USUAL} kg while others ride.)"
    )
    as_told = book("r2", riders=[{}, RIDER], party=2, boat="large", level=None)
    assert as_told.status_code == 201
    like = mine.get("/v1/bookings/r2/sheet").get_json()["turns"]
    assert [turn["speed"] for turn in sheet["turns"]] == [turn["speed"] for turn in like]
    for form in ("text/plain", "text/html"):
        page = mine.get("/v1/bookings/r1/sheet", headers={"Accept": form})
        assert page.status_code == 200
        words = " ".join(page.text.split())
        assert f"{rider} (no longer kept)" in words
        assert said in words
    assert mine.get("/v1/bookings?date=2025-07-05").status_code == 200
    assert book(riders=[rider, RIDER]).status_code == 404  # booked anew, it has to be somebody


def test_what_the_guests_weigh_is_still_known_of_a_deleted_rider(
    mine: FlaskClient, book: Book, rider: str
) -> None:
    book(riders=[rider], party=[{"mass": 70}], staff=1, level="expert", units="us")
    mine.delete(f"/v1/riders/{rider}", headers={"If-Match": "*"})
    sheet = mine.get("/v1/bookings/r1/sheet?units=us").get_json()
    (said,) = (entry for entry in sheet["check"] if entry.startswith(f"Who rides for {rider}"))
    assert "176 lb, surf-style board, expert, on both sides, and 70 lb while" in said
