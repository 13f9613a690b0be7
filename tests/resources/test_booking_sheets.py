"""What a booking's sheet and the sheet of a day say, and what is left of a rider who is gone."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

from tests.resources.conftest import RIDER, USUAL, Book


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
    said = " ".join(text.split())
    for group in first["seating"]:
        assert f" at {group['to']}" in said
    # Of different mass: who of them sits where is told, and never what they weigh.
    book("r2", party=[{"mass": mass} for mass in (121, 43, 79, 82)])
    sheet = mine.get("/v1/bookings/r2/sheet")
    mixed = mine.get("/v1/bookings/r2/sheet", headers={"Accept": "text/plain"}).text
    page = mine.get("/v1/bookings/r2/sheet", headers={"Accept": "text/html"}).text
    seats = " ".join(mixed.split()).partition(" people ")[2].partition(" BRIEFING")[0]
    # 82 kg rides: three are aboard.
    assert sorted(re.findall(r"guest \d", seats)) == ["guest 1", "guest 2", "guest 3"]
    assert re.search(r"guest \d drives at helm", seats)
    for shown in (mixed, page, sheet.text):
        assert not re.search(r"\b(121|43|79)(\.0)? ?(kg)?\b[,/ ]", shown.partition("people")[2])
    assert all("mass" not in entry for entry in sheet.get_json()["turns"][0]["seating"])
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


def test_a_sheet_whose_advice_is_not_to_go_says_first_what_has_to_change(
    mine: FlaskClient, book: Book
) -> None:
    """The boat's plate was told anew after the booking: 3 people, and 6 come."""
    book(boat="small", party=6)
    assert mine.get("/v1/bookings/r1/sheet").get_json()["not_yet"] is None
    changed = {"limits": {"persons": 3}}
    assert mine.patch("/v1/boats/small", json=changed, headers={"If-Match": "*"}).status_code == 200
    held = mine.get("/v1/bookings/r1/sheet").get_json()["not_yet"]
    assert held["first"] == ["Leave 3 people ashore, or use a larger boat."]
    assert "fill any tank" in held["text"]
    for form in ("text/plain", "text/html"):
        words = " ".join(mine.get("/v1/bookings/r1/sheet", headers={"Accept": form}).text.split())
        assert words.index(held["text"]) < words.index("aft-port")


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
    for date in ("2025-13-01", "0001-01-01", "9999-12-31"):
        assert mine.get(f"/v1/bookings?date={date}").status_code == 422
    book("z", start="2099-12-31T12:00:00Z")  # where this outfit is, it is the next century
    (last,) = mine.get("/v1/bookings?date=2100-01-01").get_json()["items"]
    assert last["id"] == "z"
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


def test_an_erased_rider_leaves_the_bookings(mine: FlaskClient, book: Book, rider: str) -> None:
    book(riders=[rider, RIDER])
    export = mine.get(f"/v1/riders/{rider}/export").get_json()
    assert [booking["id"] for booking in export["bookings"]] == ["r1"]
    mine.delete(f"/v1/riders/{rider}?erase=true")
    left = mine.get("/v1/bookings/r1").get_json()
    assert left["riders"] == [RIDER]
    assert mine.get("/v1/bookings/r1/sheet").status_code == 200


def test_a_deleted_rider_stays_on_the_sheet_as_someone_of_whom_nothing_is_known(
    mine: FlaskClient, book: Book, rider: str
) -> None:
    """Deleted, not erased: the booking keeps the id; 80 and 84 kg are the rule base's defaults."""
    book(riders=[rider, RIDER], party=3)
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
    as_told = book("r2", riders=[{}, RIDER], party=3, boat="large", level=None)
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
    assert book(riders=[rider, RIDER]).status_code == 404  # booked anew, it has to be someone


def test_what_the_guests_weigh_is_still_known_of_a_deleted_rider(
    mine: FlaskClient, book: Book, rider: str
) -> None:
    book(riders=[rider], party=[{"mass": 70}], staff=2, level="expert", units="us")
    mine.delete(f"/v1/riders/{rider}", headers={"If-Match": "*"})
    sheet = mine.get("/v1/bookings/r1/sheet?units=us").get_json()
    (said,) = (entry for entry in sheet["check"] if entry.startswith(f"Who rides for {rider}"))
    assert "176 lb, surf-style board, expert, on both sides, and 70 lb while" in said
