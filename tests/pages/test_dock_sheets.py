"""The dock's sheets: the preparation sheet of a booking and the day sheet."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from playwright.sync_api import Page, expect

from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.pages import tryout
from tests.pages.test_browser import faults

HTML = {"Accept": "text/html"}
RIDER = {"mass": 82, "stance": "goofy", "board": "skim", "level": "intermediate"}
LEVELS = ("first_time", "beginner", "intermediate", "advanced", "expert")
PARTIES: dict[str, dict[str, Any]] = {
    "plain": {"party": 6, "riders": [RIDER]},
    "eight": {
        "party": 10, "staff": 1,
        "riders": [
            RIDER | {"mass": 50 + 7 * n, "stance": ("goofy", "regular")[n % 2],
                     "level": LEVELS[n % 5]}
            for n in range(8)
        ],
    },
    "unknown": {"party": 8, "riders": [{}, {"mass": 60}]},
    "full": {
        "party": 14, "boat": "demo-8m",
        "riders": [
            RIDER | {"mass": 45 + 5 * n, "stance": ("goofy", "regular")[n % 2],
                     "board": ("skim", "surf")[n % 3 % 2], "level": LEVELS[n % 5]}
            for n in range(14)
        ],
    },
}  # fmt: skip
DAY = "2026-07-05"


@pytest.fixture(scope="session")
def dock(application: Flask) -> FlaskClient:
    """A client of the demo outfit with a day's bookings, of which some do not fit."""
    with application.extensions["store"].writing() as session:
        _, token = keys.issue(session, DEMO, "dock", Scope)
    client = application.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    for day, (name, party) in enumerate(PARTIES.items(), 1):
        sent = {"start": f"2026-06-{day:02}T10:00:00Z", "duration": "2 h"} | party
        made = client.put(f"/v1/bookings/{name}", json=sent).get_json()
        assert made["answer"]["fits"], (name, made["answer"])
    for number in range(36):
        sent = {
            "start": f"{DAY}T{6 + number // 3:02}:00:00Z", "duration": 50, "party": 2 + number % 19,
            "riders": [RIDER] if number % 2 else [],
        }  # fmt: skip
        assert client.put(f"/v1/bookings/L-{1040 + number}", json=sent).status_code == 201
    return client


@pytest.fixture
def show(page: Page, dock: FlaskClient) -> Callable[[str], None]:
    """Shows an address that needs the key, with its own headers."""

    def shown(address: str) -> None:
        headers = HTML | {"Authorization": dock.environ_base["HTTP_AUTHORIZATION"]}
        page.route(
            "**/shown-sheet*",
            lambda route: route.fulfill(response=page.request.get(address, headers=headers)),
        )
        page.goto("/shown-sheet")
        expect(page.get_by_role("article")).to_be_visible()

    return shown


def text_of(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html.split("<main")[1])).split())


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", PARTIES)
def test_the_sheet_says_what_its_json_says(dock: FlaskClient, name: str, units: str) -> None:
    address = f"/v1/bookings/{name}/sheet?units={units}"
    page, data = dock.get(address, headers=HTML), dock.get(address).get_json()
    assert (page.status_code, page.mimetype) == (200, "text/html")
    text = text_of(page.text)
    assert f"{data['boat']['name']}: {name}" in text
    for turn in data["turns"]:
        assert turn["rider"] in text
        assert f"{turn['speed']:.1f}".removesuffix(".0") in text
    for filling in data["fill"]:
        assert f"{filling['tank']} {filling['fill']:.0f} %" in text
    for caution in data["briefing"]:
        assert caution["text"] in text
        assert caution["action"] in text
    for entry in data["check"]:
        assert f"Ask: {entry}" in text
    for watch in data["turns"][0]["watch_for"]:
        assert watch["look"] in text


@pytest.mark.parametrize("address", ["/v1/bookings/plain/sheet", f"/v1/bookings?date={DAY}"])
def test_the_sheets_carry_their_style_and_the_policy_knows_it(
    dock: FlaskClient, address: str
) -> None:
    """A style is allowed by the hash of its text: CSP level 3, 6.7.3.3."""
    response = dock.get(address, headers=HTML)
    (style,) = re.findall(r"<style>(.*?)</style>", response.text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in response.headers["Content-Security-Policy"]
    assert "<link" not in response.text
    assert "<nav" not in response.text
    assert style in (Path(tryout.__file__).parent / "assets/site.css").read_text("utf-8")


@pytest.mark.keeps
def test_riders_with_the_same_set_up_share_a_row(dock: FlaskClient) -> None:
    sent = {"start": "2026-06-20T10:00:00Z", "duration": 60, "party": 3, "riders": [RIDER] * 3}
    dock.put("/v1/bookings/alike", json=sent)
    page = dock.get("/v1/bookings/alike/sheet", headers=HTML).text
    assert "rider 1, rider 2, rider 3" in page


@pytest.mark.keeps
def test_no_script_and_nothing_of_a_booking_is_taken_for_markup(dock: FlaskClient) -> None:
    boat = dock.get("/v1/boats/demo-6m").get_json()
    named = {k: v for k, v in boat.items() if k not in ("id", "version", "created", "updated")}
    made = dock.post("/v1/boats", json=named | {"name": "<b>Bo</b> & co"}).get_json()
    sent = {"start": "2026-06-21T10:00:00Z", "duration": 60, "party": 3, "boat": made["id"]}
    dock.put("/v1/bookings/marked", json=sent)
    for address in ("/v1/bookings/marked/sheet", "/v1/bookings?date=2026-06-21"):
        response = dock.get(address, headers=HTML)
        assert "default-src 'none'" in response.headers["Content-Security-Policy"]
        assert "<b>Bo" not in response.text
        assert "&lt;b&gt;Bo&lt;/b&gt; &amp; co" in response.text
        for forbidden in ("<script", "style=", "onload", "onclick"):
            assert forbidden not in response.text


def test_the_day_sheet_is_whole_and_in_the_order_of_time(dock: FlaskClient) -> None:
    page = dock.get(f"/v1/bookings?date={DAY}&limit=3", headers=HTML)
    assert "Link" not in page.headers
    references = re.findall(r'<th scope="row">(L-\d+)</th>', page.text)
    assert references == [f"L-{1040 + number}" for number in range(36)]
    items = dock.get(f"/v1/bookings?date={DAY}&limit=200").get_json()["items"]
    text = text_of(page.text)
    assert "Bookings of 05 Jul 2026" in text
    fits = sum(item["answer"]["fits"] for item in items)
    assert 0 < fits < 36
    assert text.count("Does not fit.") == 36 - fits
    for item in items:
        assert item["answer"]["summary"] in text
    empty = dock.get("/v1/bookings?date=2026-01-01", headers=HTML)
    assert "No bookings." in text_of(empty.text)


def test_without_a_day_it_is_a_page_of_all_with_their_dates(dock: FlaskClient) -> None:
    page = dock.get("/v1/bookings?limit=2", headers=HTML)
    assert "01 Jun 2026, 10:00–12:00 UTC" in text_of(page.text)
    assert 'rel="next"' in page.headers["Link"]
    assert page.text.count('<th scope="row">') == 2


@pytest.mark.parametrize("form", ["A4", "Letter"])
@pytest.mark.parametrize(
    "address",
    [*(f"/v1/bookings/{name}/sheet" for name in PARTIES), f"/v1/bookings?date={DAY}"],
)
def test_it_prints_on_one_page(
    page: Page, show: Callable[[str], None], address: str, form: str, tmp_path: Path
) -> None:
    show(address)
    pdf = page.pdf(path=tmp_path / "sheet.pdf", format=form)
    # ISO 32000: one /Type /Page object for each page.
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(
    "address", ["/v1/bookings/eight/sheet", "/v1/bookings/full/sheet", f"/v1/bookings?date={DAY}"]
)
def test_axe_finds_no_fault_and_nothing_spills_sideways(
    page: Page, show: Callable[[str], None], address: str, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    show(address)
    assert faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
