"""Signs that cannot both be so, and answers where nothing speaks for any lever."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from flask.testing import FlaskClient

from rules.tuning import TuningBase, load
from tests.tuning.conftest import RIDER, Ask, seen

# A wall is not low, a rider who drops back does not run ahead, a high bow does not dive: common
# practice, and the plain meaning of the words.
PLAIN = [
    ("too_steep", "long_and_low"),
    ("falls_back", "catches_boat"),
    ("bow_high", "bow_diving"),
    ("no_face", "too_steep"),
    ("too_little_push", "catches_boat"),
]
EXHAUSTED = "Every lever that would help"


def contradictions() -> list[tuple[str, str]]:
    signs = load().signs
    return [(a, b) for a, b in combinations(signs, 2) if b in signs[a].contradicts]


def test_the_plain_opposites_are_among_them() -> None:
    known = [set(pair) for pair in contradictions()]
    assert all(set(pair) in known for pair in PLAIN)


@pytest.mark.parametrize(("first", "second"), contradictions())
def test_of_two_that_contradict_it_is_asked_which(
    ask: Ask, base: TuningBase, first: str, second: str
) -> None:
    crew = [{"mass": 80, "seat": seat} for seat in ("helm", "observer", "stern")]
    for both in (seen(first, second), seen(second, first, strength="strong")):
        answer = ask(crew=crew, seen=both)
        assert (answer["action"], answer["change"]) == ("ask", None)
        assert {sign["sign"] for sign in answer["question"]["signs"]} == {first, second}
        assert answer["message"] == answer["question"]["text"]
        for name in (first, second):
            assert base.signs[name].says.rstrip(".") in answer["message"]
    for alone in (first, second):
        assert ask(crew=crew, seen=seen(alone))["action"] == "change"


def test_danger_comes_before_the_question(ask: Ask) -> None:
    assert ask(seen=seen("bow_high", "bow_diving", "water_over_bow"))["action"] == "stop"


def test_what_hides_the_rest_is_put_right_first(ask: Ask) -> None:
    answer = ask(seen=seen("too_steep", "long_and_low", "lumps"))
    assert (answer["action"], answer["change"]["lever"]) == ("change", "line")


def test_what_one_remedy_mends_is_not_asked_about(ask: Ask) -> None:
    answer = ask(seen=seen("white_crest", "long_and_low"), settings={"plates": {"starboard": 40}})
    assert answer["change"]["move"] == "off_side_plate_down"


def test_the_card_asks_in_three_lines(client: FlaskClient) -> None:
    body = {"boat": "demo-7m", "rider": RIDER, "seen": seen("too_steep", "long_and_low")}
    card = client.post("/v1/tuning", json=body, headers={"Accept": "text/plain"}).text
    labels = [line[:8].strip() for line in card.splitlines() if not line.startswith(" ")]
    assert labels == ["WHICH", "THIS", "OR THIS"]


def test_the_list_of_signs_tells_what_contradicts(client: FlaskClient, base: TuningBase) -> None:
    listed: Any = client.get("/v1/tuning/signs").get_json()["signs"]
    told = {sign["sign"]: tuple(sign["contradicts"]) for sign in listed}
    assert told == {name: sign.contradicts for name, sign in base.signs.items()}


def test_exhausted_is_said_where_everything_was_tried(ask: Ask) -> None:
    tried = [{"lever": "start", "did": "same", "move": "easy_start"}]
    answer = ask(seen=seen("pulled_over"), history=tried)
    assert answer["action"] == "leave"
    assert answer["message"].startswith(EXHAUSTED)
    assert answer["passed_over"]


def test_exhausted_is_not_said_where_nothing_was_tried(ask: Ask) -> None:
    # All weight on the centre line: people hold on, but there is no side to take weight from.
    crew = [{"mass": 80, "x": x, "y": 0} for x in (2.5, 3)]
    level = {"crew": crew, "settings": {"tanks": {}}}
    answer = ask(**level, seen=seen("leans_far"))
    assert (answer["action"], answer["passed_over"]) == ("leave", [])
    assert not answer["message"].startswith(EXHAUSTED)
    assert "plainest" in answer["message"]
