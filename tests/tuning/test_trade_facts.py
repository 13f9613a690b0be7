"""What schools, coaches and drivers commonly hold: every check here is "common practice"."""

from __future__ import annotations

from typing import Any

import pytest

from rules.tuning import TuningBase
from rules.tuning.base import STRENGTHS
from tests.tuning.conftest import RIDER, Ask, seen

FULL = {"aft-port": 100, "aft-starboard": 100, "mid-port": 100, "mid-starboard": 100, "bow": 100}


@pytest.mark.parametrize("strength", STRENGTHS[2:])
def test_a_large_crew_on_65_percent_with_a_white_crest_gets_80_to_85(
    ask: Ask, strength: str
) -> None:
    answer = ask(
        crew=12,
        settings={"plates": {"starboard": 65}},
        seen=seen("white_crest", strength=strength),
    )
    change = answer["change"]
    assert (change["lever"], change["from"]) == ("plates.starboard", 65)
    assert 80 <= change["to"] <= 85


def test_slightly_white_it_gets_more_plate_a_step_at_a_time(ask: Ask) -> None:
    settings = {"plates": {"starboard": 65}}
    change = ask(crew=12, settings=settings, seen=seen("white_crest", strength="slight"))["change"]
    assert change["lever"] == "plates.starboard"
    assert 65 < change["to"] <= 75


def test_a_level_boat_with_wash_on_top_lets_water_out_of_the_off_side(ask: Ask) -> None:
    seats = ("helm", "observer", "bench-port", "bench-starboard", "stern", "stern")
    crew = [{"mass": 80, "seat": seat} for seat in seats]
    answer = ask(crew=crew, settings={"tanks": FULL}, seen=seen("wash_on_top"))
    change = answer["change"]
    assert change["lever"] in ("tanks.aft-starboard", "tanks.mid-starboard")
    assert 0 < change["from"] - change["to"] <= 15, "a little at a time"
    heel = change["predicted"]["heel"]
    assert heel["change"] < 0, "the surf side, port, goes down"


@pytest.mark.parametrize("level", ["first_time", "beginner"])
def test_a_steep_wave_with_a_beginner_gets_more_centre_plate(ask: Ask, level: str) -> None:
    change = ask(rider=RIDER | {"level": level}, seen=seen("too_steep"))["change"]
    assert change["lever"] == "plates.centre"
    assert change["to"] > change["from"]


@pytest.mark.parametrize("sign", ["no_face", "falls_back"])
def test_never_faster_without_a_face_or_for_a_rider_who_drops_back(ask: Ask, sign: str) -> None:
    answer = ask(seen=seen(sign))
    for change in (answer["change"], *answer["alternatives"]):
        assert change["lever"] != "speed" or change["to"] < change["from"]


def test_never_weight_aft_against_a_white_crest(base: TuningBase) -> None:
    rules = [r for r in base.rules.rules.values() if "seen.white_crest is not none" in _when(r)]
    assert rules
    assert "aft" not in {p.move for r in rules for p in r.proposals}


def _when(rule: Any) -> list[str]:
    return [condition.text for condition in rule.when]


def test_the_plate_on_the_surf_side_comes_up_first(ask: Ask) -> None:
    answer = ask(settings={"plates": {"port": 30, "starboard": 40}}, seen=seen("wrong_side"))
    change = answer["change"]
    assert (change["lever"], change["to"]) == ("plates.port", 0)


def test_shallow_water_comes_before_any_lever(ask: Ask) -> None:
    answer = ask(water={"depth": "3 m"}, seen=seen("too_little_push"))
    assert answer["change"]["lever"] == "depth"
    assert answer["change"]["to"] == pytest.approx(6.096, abs=0.05)


def test_lumps_are_waited_out(ask: Ask) -> None:
    assert ask(seen=seen("lumps"))["change"]["lever"] == "line"


def test_a_rider_who_drops_off_a_good_wave_moves_the_feet(ask: Ask) -> None:
    assert ask(seen=seen("falls_back"))["change"]["lever"] == "stance"


def test_less_weight_on_the_surf_side_where_the_lip_rolls_over(ask: Ask) -> None:
    change = ask(seen=seen("rolls_over"))["change"]
    assert change["move"] == "to_off_side"
    assert change["lever"] == "people", "people before pumps"
    assert change["predicted"]["heel"]["change"] > 0, "the surf side, port, comes up"


def test_washed_out_asks_which_of_the_two(ask: Ask) -> None:
    answer = ask(seen=seen("washed_out"))
    assert answer["action"] == "ask"
    assert answer["change"] is None
    named = [sign["sign"] for sign in answer["question"]["signs"]]
    assert named == ["white_crest", "long_and_low"]
    two = [ask(seen=seen(sign))["change"] for sign in named]
    assert two[0]["to"] > two[0]["from"]
    assert two[1]["to"] < two[1]["from"], "opposite remedies"


ORDER = ["depth", "speed", "line", "side", "fore_and_aft", "total", "plates", "stance", "board"]


def test_the_order_of_attack(base: TuningBase) -> None:
    rank = {move.lever: move.rank for move in base.moves.values()}
    rank["plates"] = max(rank["off_side_plate"], rank["centre_plate"])
    ranks = [rank[lever] for lever in ORDER]
    assert ranks == sorted(ranks)


def test_people_before_pumps(ask: Ask) -> None:
    crew = [{"mass": 80, "seat": s} for s in ("helm", "bow-port", "bow-starboard", "observer")]
    change = ask(crew=crew, seen=seen("spray_over_bow"))["change"]
    assert (change["lever"], change["move"]) == ("people", "aft")
    assert change["from"].startswith("bow-")
    assert change["predicted"]["trim"]["change"] > 0


def test_pumps_where_nobody_can_move(ask: Ask) -> None:
    settings = {"tanks": FULL, "speed": 17.2}
    crew = [{"mass": 80, "seat": seat} for seat in ("helm", "observer")]
    change = ask(crew=crew, settings=settings, seen=seen("spray_over_bow"))["change"]
    assert change["lever"].startswith("tanks.")
    assert change["predicted"]["trim"]["change"] > 0
