"""The card for the helm: one page, in words, and never another number than the answer's."""

from __future__ import annotations

import re
from typing import Any

from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from schemas.card import bow, card, lean
from tests.advice.requests_made import bodies

TEXT = {"Accept": "text/plain"}
SMALLEST: dict[str, Any] = {
    "boat": "demo-7m",
    "crew": 8,
    "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate"},
}


def test_text_is_answered_by_the_accept_header(client: FlaskClient) -> None:
    answer = client.post("/v1/advice", json=SMALLEST, headers=TEXT)
    assert answer.mimetype == "text/plain"
    assert "Accept" in answer.headers["Vary"]


@settings(
    max_examples=60, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(body=bodies(), system=st.sampled_from(["metric", "us"]))
def test_the_card_is_one_page_and_says_what_the_answer_says(
    client: FlaskClient, body: dict[str, Any], system: str
) -> None:
    body |= {"units": system}
    answer: Any = client.post("/v1/advice", json=body).json
    text = card(answer)
    lines = text.splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    assert {"go": "GO", "go_with_care": "GO WITH CARE", "do_not_go": "DO NOT GO"}[
        answer["verdict"]
    ] in lines[0]
    assert f"{answer['setup']['surf_side'].upper()} WAVE" in lines[0]
    speed = re.search(r"SPEED +([0-9.]+) (\S+)", text)
    assert speed
    assert abs(float(speed.group(1)) - answer["setup"]["speed"]) <= 0.051
    assert speed.group(2) == answer["units"]["speed"]
    assert "Local law, the maker's limits and a licensed operator's judgement" in text
    assert not re.search(r"(?<![\w–])-\d", text.replace("- ", "")), "a bare sign"
    why = text[text.index("WHY") :].split("LOOK FOR")[0].split("-----")[0]
    assert len(why.splitlines()) <= 5
    for number, terms in re.findall(r": (-?[0-9.]+) \S+ = (.*)", why):
        changes = re.findall(r"(?:^|[+−] )[0-9.]+", terms)
        total = sum(float(change.replace("− ", "-").replace("+ ", "")) for change in changes)
        assert abs(total - float(number)) <= 0.005 * (len(changes) + 1) + 1e-9, terms


def test_danger_is_on_the_card_however_full_it_is(client: FlaskClient) -> None:
    body = SMALLEST | {
        "crew": 25,
        "units": "us",
        "boat": "demo-6m",
        "water": {"depth": 5, "distance_to_shore": 30},
        "loads": [{"mass": 900, "x": 3, "y": 2, "z": 3}],
    }
    answer: Any = client.post("/v1/advice", json=body).json
    text = " ".join(client.post("/v1/advice", json=body, headers=TEXT).get_data(True).split())
    dangers = [c for c in answer["cautions"] if c["severity"] == "danger"]
    assert dangers
    for caution in dangers:
        assert caution["text"] in text


def test_sides_and_ends_are_told_in_words() -> None:
    assert lean(1.44) == "1.4° to starboard"
    assert lean(-1.44) == "1.4° to port"
    assert lean(0.04) == "upright"
    assert bow(2.0) == "2° bow up"
    assert bow(-0.55) == "0.6° bow down"
    assert bow(0.0) == "level fore and aft"


def test_the_notes_of_this_request_are_on_the_card_with_what_to_do(client: FlaskClient) -> None:
    body = {
        "boat": "demo-6m", "units": "us", "crew": 7, "ballast": {"aft-port": 50},
        "rider": {"mass": 60, "stance": "goofy", "board": "surf", "level": "first_time",
                  "wants": ["steeper", "mellower"]},
        "water": {"depth": 10, "distance_to_shore": 250},
    }  # fmt: skip
    text = " ".join(client.post("/v1/advice", json=body, headers=TEXT).get_data(True).split())
    assert "perhaps a child. A jacket that fits" in text
    assert "Go where it is 20 ft or deeper" in text


def test_a_short_note_tells_what_to_do(client: FlaskClient) -> None:
    text = client.post("/v1/advice", json=SMALLEST, headers=TEXT).get_data(True)
    assert "The depth was not told. Run where it is 6.1 m or deeper." in text
    assert text.index("The depth was not told") < text.index("A thick, short rope")


def test_a_boat_that_must_not_go_is_not_set_up_before_that_is_mended(client: FlaskClient) -> None:
    text = client.post("/v1/advice", json=SMALLEST | {"crew": 30}, headers=TEXT).text
    assert "NOT YET" in text
    assert "12 without a seat" in text
    assert "NOT YET" not in client.post("/v1/advice", json=SMALLEST, headers=TEXT).text


def test_where_the_lowest_place_is_stands_on_the_card(client: FlaskClient) -> None:
    answer: Any = client.post("/v1/advice", json=SMALLEST).json
    board = answer["predicted"]["at_rest"]["freeboard"]
    assert board["stern"] == board["least"] < min(board["port"], board["starboard"], board["bow"])
    assert "lowest at the stern" in card(answer)


def test_pumps_that_run_less_than_a_minute_are_told_in_seconds(client: FlaskClient) -> None:
    tanks = client.post("/v1/advice", json=SMALLEST).get_json()["setup"]["tanks"]
    now = {tank["tank"]: tank["fill"] for tank in tanks}
    body = SMALLEST | {"ballast": now | {"bow": now["bow"] - 10}}
    text = client.post("/v1/advice", json=body, headers=TEXT).text
    assert re.search(r"\d\d s in all with the pumps at once", text)
