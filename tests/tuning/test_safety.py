"""Where the run ends, and what no change may leave."""

from __future__ import annotations

from typing import Any

import pytest

from tests.tuning.conftest import Ask, seen

BOW = [{"mass": 80, "seat": s} for s in ("helm", "bow-port", "bow-starboard", "bow-port")]


@pytest.mark.parametrize("sign", ["water_over_bow", "water_over_side", "exhaust_symptoms"])
@pytest.mark.parametrize("strength", ["slight", "strong"])
def test_stop(ask: Ask, sign: str, strength: str) -> None:
    # Open-bow swampings, carbon monoxide: US Coast Guard and CDC/NIOSH warnings, as read.
    answer = ask(seen=[*seen("white_crest"), *seen(sign, strength=strength)])
    assert answer["action"] == "stop"
    assert answer["message"].startswith("Stop. ")
    assert answer["cautions"][0]["severity"] == "danger"
    assert f"seen.{sign}" in answer["reasons"][0]["because"]


def test_a_bow_that_dives_with_people_in_it_stops_the_run(ask: Ask) -> None:
    answer = ask(crew=BOW, seen=seen("bow_diving", strength="slight"))
    assert answer["action"] == "stop"
    assert answer["change"]["lever"] == "people"
    assert answer["change"]["from"].startswith("bow-")


def test_nobody_changes_seats_at_speed(ask: Ask) -> None:
    # Common practice: people are seated under way, and move when the boat has stopped.
    crew = [{"mass": 80, "seat": s} for s in ("helm", "bow-port", "bow-starboard", "observer")]
    answer = ask(crew=crew, seen=seen("wandering"))
    moves = [c for c in (answer["change"], *answer["alternatives"]) if c["lever"] == "people"]
    assert moves
    for change in moves:
        (number,) = change["persons"]
        assert change["text"].startswith(f"Stop, then person {number} from ")
        assert change["undo"].startswith(f"Stop, then person {number} back from ")
    for change in ask(crew=4, seen=seen("wandering"))["alternatives"]:
        if change["lever"] == "people":
            assert change["text"].startswith("Stop, then 1 person from ")
            assert change["undo"].startswith("Stop, then back from ")


def test_a_bow_that_dives_without_people_in_it_is_tuned(ask: Ask) -> None:
    crew = [{"mass": 80, "seat": seat} for seat in ("helm", "observer")]
    assert ask(crew=crew, seen=seen("bow_diving"))["action"] == "change"


@pytest.mark.parametrize("what", [[], seen("too_steep")])
def test_more_people_than_the_maker_allows_stops_it_whatever_is_seen(
    ask: Ask, what: list[Any]
) -> None:
    answer = ask(crew=17, seen=what)
    assert answer["action"] == "stop"
    assert answer["cautions"][0]["rule"] == "people_and_load.too_many_people"


@pytest.mark.parametrize(("depth", "rule"), [(0.4, "aground"), (1.7, "hard_landing")])
def test_too_little_water_stops_it_whatever_is_seen(ask: Ask, depth: float, rule: str) -> None:
    answer = ask(water={"depth": depth}, seen=seen("too_steep"))
    assert answer["action"] == "stop"
    assert answer["change"] is None
    assert f"depth.{rule}" in {caution["rule"] for caution in answer["cautions"]}
    assert "deeper" in answer["cautions"][0]["action"]


def test_water_just_deep_enough_to_fall_into_does_not_stop_it(ask: Ask) -> None:
    assert ask(water={"depth": 1.8}, seen=seen("too_steep"))["action"] != "stop"


def test_water_beyond_the_load_limit_is_never_proposed(ask: Ask) -> None:
    # demo-8m: its limit of 3300 kg counts the water. 15 people and a rider are 1342 kg.
    tanks = {"aft-port": 100, "aft-starboard": 100, "mid-port": 100, "mid-starboard": 100}
    answer = ask(
        boat="demo-8m",
        crew=15,
        settings={"tanks": tanks | {"bow": 80}},
        seen=seen("too_little_push", strength="strong"),
        water={"depth": 9},
    )
    proposed = [answer["change"], *answer["alternatives"]]
    more = [c for c in proposed if c["lever"].startswith("tanks") and c["to"] > c["from"]]
    load = 15 * 84 + 82 + 1280 + 0.8 * 220
    for change in more:
        added = sum((t["to"] - t["from"]) / 100 * 400 for t in change["tanks"])
        assert load + added <= 3300


def test_a_lever_at_its_end_is_passed_over(ask: Ask) -> None:
    answer = ask(settings={"speed": 19.3}, seen=seen("too_steep"))
    proposed = [answer["change"], *answer["alternatives"]]
    assert all(change["lever"] != "speed" for change in proposed)
    assert "faster" in [past["move"] for past in answer["passed_over"]]


@pytest.mark.parametrize(
    ("sign", "settings", "lever"),
    [
        ("long_and_low", {"speed": 16.0}, "speed"),
        ("catches_boat", {"speed": 19.3}, "speed"),
        ("too_steep", {"plates": {"centre": 100}}, "plates.centre"),
        ("long_and_low", {"plates": {"centre": 0}}, "plates.centre"),
        ("white_crest", {"plates": {"starboard": 90}}, "plates.starboard"),
    ],
)
def test_at_its_end(ask: Ask, sign: str, settings: Any, lever: str) -> None:
    answer = ask(settings=settings, seen=seen(sign, strength="strong"))
    levers = [change["lever"] for change in (answer["change"], *answer["alternatives"])]
    assert lever not in levers


def test_nothing_leans_the_boat_past_the_caution_line(ask: Ask) -> None:
    # 7 degrees: a caution line of the rule base, common practice.
    crew = [{"mass": 90, "seat": s} for s in ("helm", *["bench-port"] * 3, "observer", "observer")]
    tanks = {"aft-port": 100, "aft-starboard": 40, "mid-port": 100, "mid-starboard": 60}
    answer = ask(crew=crew, settings={"tanks": tanks}, seen=seen("one_side_only"))
    changes = [answer["change"], *answer["alternatives"]]
    now = changes[0]["predicted"]["heel"]["before"]
    assert now < -5, "the case leans to port already"
    for change in changes:
        assert abs(change["predicted"]["heel"]["after"]) <= max(7.0, abs(now))
    assert {"move": "to_surf_side", "why": "the boat would lean too far"} in answer["passed_over"]


def people_moved(answer: dict[str, Any]) -> list[dict[str, Any]]:
    changes = [answer["change"], *answer["alternatives"]] if answer["change"] else []
    return [change for change in changes if change["lever"] == "people"]


SIGNS = ["too_short", "too_steep", "wash_on_top", "rolls_over", "porpoising", "spray_over_bow"]


@pytest.mark.parametrize("sign", SIGNS)
@pytest.mark.parametrize("strength", ["slight", "strong"])
def test_driver_observer_and_children_are_never_asked_to_move(
    ask: Ask, sign: str, strength: str
) -> None:
    # Common practice: the observer is not moved for balance, a child sits next to an adult.
    crew = [{"mass": mass, "seat": seat} for mass, seat in (
        (60, "helm"), (60, "observer"), (30, "stern"), (90, "stern"), (95, "bench-port"),
    )]  # fmt: skip
    answer = ask(crew=crew, seen=seen(sign, strength=strength))
    for change in people_moved(answer):
        assert set(change["persons"]) <= {5}, "the adult beside the child stays, too"


@pytest.mark.parametrize("sign", ["too_short", "porpoising", "bow_high"])
def test_nobody_is_sent_into_a_full_bow(ask: Ask, sign: str) -> None:
    # Three of 95 kg are 285 kg; a fourth would be over the 300 kg that the bow takes.
    people = [("helm", 70), ("observer", 70), *[("stern", 120)] * 4]
    people += [("bow-port", 95), ("bow-port", 95), ("bow-starboard", 95)]
    crew = [{"mass": mass, "seat": seat} for seat, mass in people]
    answer = ask(crew=crew, seen=seen(sign, strength="strong"))
    for change in people_moved(answer):
        assert not change["to"].startswith("bow-")
