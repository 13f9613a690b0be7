"""A mirrored request gets exactly the mirrored advice; units change the writing, not the boat."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from tests.advice.requests_made import OTHER, bodies, mirrored, swapped
from tests.size import cases

FEW = settings(
    max_examples=cases(60, 100), deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip


def advice(client: Any, body: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/advice", json=body)
    assert response.status_code == 200, response.get_data(as_text=True)
    found: dict[str, Any] = response.json
    return found


def mirrored_answer(answer: dict[str, Any]) -> dict[str, Any]:
    """What the mirrored request must be answered, computed from the answer alone."""
    answer = copy.deepcopy(answer)
    setup, rest = answer["setup"], answer["predicted"]["at_rest"]
    setup["surf_side"] = OTHER[setup["surf_side"]]
    plates = setup["plates"]
    plates["port"], plates["starboard"] = plates["starboard"], plates["port"]
    for tank in setup["tanks"]:
        tank["tank"] = swapped(tank["tank"])
    _swap_places(setup)
    if rest["heel"] is not None:
        rest["heel"] = -rest["heel"] + 0.0
        board = rest["freeboard"]
        board["port"], board["starboard"] = board["starboard"], board["port"]
    for row in answer["sensitivities"]:
        row["heel"] = -row["heel"] + 0.0
        where, _, side = row["where"].rpartition(".")
        row["where"] = f"{where}.{OTHER[side]}" if side in OTHER else swapped(row["where"])
    for step in (answer["changeover"] or {"steps": []})["steps"]:
        for name in ("tank", "from", "to"):
            if isinstance(step.get(name), str):
                step[name] = swapped(step[name])
        if step["after"]["heel"] is not None:
            step["after"]["heel"] = -step["after"]["heel"] + 0.0
    for gap in answer["assumed"]:
        gap["pointer"] = SIDES.sub(_other_side, gap["pointer"])
    for obstacle in answer["obstacles"]:
        obstacle["help"] = [SIDES.sub(_other_side, text) for text in obstacle["help"]]
    answer["accounts"] = {
        _swapped_account(name): account for name, account in answer["accounts"].items()
    }
    return answer


def _swap_places(setup: dict[str, Any]) -> None:
    for group in setup["seating"]:
        group["from"] = group["from"] and swapped(group["from"])
        group["to"] = group["to"] and swapped(group["to"])
    for load in setup["loads"]:
        load["from"]["y"] = -load["from"]["y"] + 0.0
        load["to"] = swapped(load["to"])


SIDES = re.compile(r"port|starboard")


def _other_side(match: re.Match[str]) -> str:
    return OTHER[match.group()]


def _swapped_account(name: str) -> str:
    kind, _, part = name.partition(".")
    return f"{kind}.{OTHER.get(part, swapped(part))}" if part else name


def comparable(answer: dict[str, Any]) -> dict[str, Any]:
    """Without the rules of the stance, which are a pair; lists by what they are about."""
    answer = copy.deepcopy(answer)
    answer.pop("reasons")
    answer["rider"].pop("stance")
    answer["boat"] = None
    for row in answer["sensitivities"]:
        row["note"] = ""  # the plates' notes differ in more than the side
    answer["assumed"].sort(key=lambda gap: gap["pointer"])
    answer["sensitivities"].sort(key=lambda row: (row["change"], row["where"]))
    answer["setup"]["tanks"].sort(key=lambda tank: tank["tank"])
    answer["setup"]["seating"].sort(key=lambda g: (str(g["to"]), str(g["from"]), -g["mass"]))
    return answer


@FEW
@given(body=bodies(inline=True))
def test_the_mirrored_request_on_the_mirrored_boat_gets_the_mirrored_advice(
    client: Any, body: dict[str, Any]
) -> None:
    def rules(answer: dict[str, Any]) -> list[str]:
        return [r["rule"] for r in answer["reasons"] if not r["rule"].startswith("surf_side.")]

    answer = advice(client, body)
    seen = advice(client, mirrored(body))
    assert comparable(seen) == comparable(mirrored_answer(answer))
    assert rules(seen) == rules(answer)


@FEW
@given(body=bodies())
def test_the_same_request_in_us_units_is_the_same_advice(client: Any, body: dict[str, Any]) -> None:
    metric, us = advice(client, body), advice(client, body | {"units": "us"})
    assert us["verdict"] == metric["verdict"]
    assert [r["rule"] for r in us["reasons"]] == [r["rule"] for r in metric["reasons"]]
    assert us["setup"]["plates"] == metric["setup"]["plates"]
    for a, b in zip(us["setup"]["seating"], metric["setup"]["seating"], strict=True):
        assert a | {"mass": 0} == b | {"mass": 0}
    # Exact factors, references section 6: 1 mile 1609.344 m, 1 lb 0.45359237 kg, 1 ft 0.3048 m,
    # 1 US gal 3.785411784 L.
    assert us["setup"]["speed"] * 1.609344 == pytest.approx(metric["setup"]["speed"], abs=0.009)
    for a, b in zip(us["setup"]["tanks"], metric["setup"]["tanks"], strict=True):
        assert a["fill"] == b["fill"]
        assert a["volume"] * 3.785411784 == pytest.approx(b["volume"], abs=0.25)
        assert a["mass"] * 0.45359237 == pytest.approx(b["mass"], abs=0.1)
    us_rest, rest = us["predicted"]["at_rest"], metric["predicted"]["at_rest"]
    assert us_rest["heel"] == rest["heel"]
    assert us_rest["trim"] == rest["trim"]
    if rest["freeboard"]:
        for side, height in rest["freeboard"].items():
            assert us_rest["freeboard"][side] * 0.3048 == pytest.approx(height, abs=1e-4)


def test_the_request_written_in_us_units_is_the_same_request(client: Any) -> None:
    metric = {
        "boat": "demo-7m",
        "crew": [{"mass": 90, "seat": "helm"}, {"mass": 70, "x": 2.0, "y": 0.5}],
        "rider": {"mass": 82, "stance": "regular", "board": "surf", "level": "expert"},
        "water": {"depth": 7.62, "temperature": 20, "distance_to_shore": 152.4},
    }
    us = copy.deepcopy(metric) | {"units": "us"}
    us["crew"][0]["mass"] = 90 / 0.45359237  # type: ignore[index]
    us["crew"][1] = {"mass": 70 / 0.45359237, "x": 2 / 0.3048, "y": 0.5 / 0.3048}  # type: ignore[index]
    us["rider"]["mass"] = 82 / 0.45359237  # type: ignore[index]
    us["water"] = {"depth": 25, "temperature": 68, "distance_to_shore": 500}
    a, b = advice(client, metric), advice(client, us)
    assert a["setup"]["plates"] == b["setup"]["plates"]
    assert [t["fill"] for t in a["setup"]["tanks"]] == [t["fill"] for t in b["setup"]["tanks"]]
    rest = a["predicted"]["at_rest"]["heel"]
    assert rest == pytest.approx(b["predicted"]["at_rest"]["heel"], abs=1e-3)
    assert [r["rule"] for r in a["reasons"]] == [r["rule"] for r in b["reasons"]]
