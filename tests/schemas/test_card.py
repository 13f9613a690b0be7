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


def why_rows(text: str) -> list[str]:
    """The rows of WHY, each with its further lines in one."""
    why = (
        text[text.index("\nWHY") + 1 :]
        .split("\nIF YOU SEE", maxsplit=1)[0]
        .split("\n-----", maxsplit=1)[0]
    )
    lines = [line[9:] for line in why.splitlines()]
    return "\n".join(lines).replace("\n  ", " ").splitlines()


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
    for number, terms in re.findall(r": (-?[0-9.]+) \S+ = (.*)", "\n".join(why_rows(text))):
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
    assert "Depth not given. Run where it is 6.1 m or deeper." in text
    assert text.index("Depth not given") < text.index("A thick, short rope")


def test_a_boat_that_must_not_go_is_not_set_up_before_that_is_mended(client: FlaskClient) -> None:
    body = SMALLEST | {"crew": 30, "ballast": {}}
    answer: Any = client.post("/v1/advice", json=body).json
    first = answer["not_yet"]["first"]
    # The maker's plate of the invented boat: 16 people; 30 and the rider are 15 too many.
    assert first[0] == "Leave 15 people ashore, or use a larger boat."
    assert "keep the tanks empty until then" in first[2]
    text = client.post("/v1/advice", json=body, headers=TEXT).text
    head, settings, _ = text.split("-" * 78 + "\n", 2)
    assert answer["not_yet"]["text"] in " ".join(head.split())
    assert "Do not use these settings or fill any tank." in head
    assert all(" ".join(text.split()).count(action) == 1 for action in first)
    assert settings.startswith("DO NOT SET. For reference only")
    assert "no seat: 12" in settings
    assert "PUMPS" not in text
    assert answer["changeover"]["steps"]
    assert "IF YOU SEE" not in text


def test_a_boat_that_may_go_is_not_held_back(client: FlaskClient) -> None:
    for body in (SMALLEST, SMALLEST | {"water": {"depth": 4}}):
        answer: Any = client.post("/v1/advice", json=body).json
        assert answer["verdict"] != "do_not_go"
        assert answer["not_yet"] is None
        text = card(answer)
        assert "NOT YET" not in text
        assert "DO NOT SET" not in text


def test_each_part_of_a_sum_is_named_on_the_card(client: FlaskClient) -> None:
    rider = {"mass": 120, "stance": "regular", "level": "expert",
             "wants": ["steeper", "more_push", "longer"]}  # fmt: skip
    body = SMALLEST | {"crew": 3, "rider": rider, "water": {"kind": "salt", "depth": 4}}
    for told in (SMALLEST, body):
        answer: Any = client.post("/v1/advice", json=told).json
        rows = {row.split(":")[0]: row for row in why_rows(card(answer))}
        for title, name in (("speed", "speed"), ("centre plate", "plates.centre")):
            account = answer["accounts"][name]
            shown = re.findall(r"(?:^|[+−] )([0-9.]+)", rows[title].partition(" = ")[2])
            assert [float(size) for size in shown] == [
                abs(line["change"]) for line in account["lines"]
            ]
            assert "other" not in rows[title]
    # 55 − 5 − 15 − 10 − 8 − 8 is 9; what keeps the plate at 20 % is named.
    assert rows["centre plate"].endswith("+ 11 limit (the least plate of the normal range)")


def test_of_a_limit_it_is_told_what_limits(client: FlaskClient) -> None:
    """Water that the maker's load limit, or the tank itself, leaves out of a tank."""
    heavy = SMALLEST["rider"] | {"mass": "120 kg"}
    loads = [{"mass": 900, "x": 3, "y": 0, "z": 0.8}]
    laden = SMALLEST | {"boat": "demo-8m", "crew": 14, "loads": loads}
    for body, rule, what in (
        (laden, "ballast.within_limits", "the load limit takes"),
        (SMALLEST | {"boat": "demo-7m", "rider": heavy}, "ballast.steps", "the tank holds"),
    ):
        answer: Any = client.post("/v1/advice", json=body).json
        lines = [line for account in answer["accounts"].values() for line in account["lines"]]
        kinds = {line["label"]: line["kind"] for line in lines if line["rule"] == rule}
        assert kinds[f"no more than {what}"] == "bound"


def test_where_the_lowest_place_is_stands_on_the_card(client: FlaskClient) -> None:
    answer: Any = client.post("/v1/advice", json=SMALLEST).json
    board = answer["predicted"]["at_rest"]["freeboard"]
    assert board["stern"] == board["least"] < min(board["port"], board["starboard"], board["bow"])
    assert re.search(r"lowest freeboard \d+ cm, at the stern", card(answer))


def test_pumps_that_run_less_than_a_minute_are_told_in_seconds(client: FlaskClient) -> None:
    tanks = client.post("/v1/advice", json=SMALLEST).get_json()["setup"]["tanks"]
    now = {tank["tank"]: tank["fill"] for tank in tanks}
    body = SMALLEST | {"ballast": now | {"bow": now["bow"] - 10}}
    text = client.post("/v1/advice", json=body, headers=TEXT).text
    assert re.search(r"\d\d s in all with the pumps at once", text)
