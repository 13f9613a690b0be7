"""What the answer tells beyond the set-up: change-over, obstacles, trace, local values, arms."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import rules
import service
from rules.reading import RuleError
from tests.advice.conftest import SMALLEST, Ask

FULL_ON_THE_WRONG_SIDE = {"aft-port": 100, "mid-port": 100, "bow": 30}


def test_litres_and_minutes_of_each_tank_are_always_told(ask: Ask) -> None:
    tanks = {tank["tank"]: tank for tank in ask()["setup"]["tanks"]}
    aft = tanks["aft-starboard"]
    assert aft["change"] == aft["volume"]  # drained before
    assert aft["minutes"] == pytest.approx(aft["change"] / 75, abs=0.06)  # its pump: 75 L/min
    assert ask()["changeover"] is None  # nobody told what is in the tanks


def test_the_changeover_leads_from_what_is_there_to_the_setup(ask: Ask) -> None:
    crew = [{"mass": 80, "seat": "bench-port"}] * 3 + [{"mass": 84, "seat": "helm"}]
    answer = ask(crew=crew, ballast=FULL_ON_THE_WRONG_SIDE)
    fills = {tank["tank"]: float(FULL_ON_THE_WRONG_SIDE.get(tank["tank"], 0))
             for tank in answer["setup"]["tanks"]}  # fmt: skip
    seats = {"bench-port": 3, "helm": 1}
    for step in answer["changeover"]["steps"]:
        if step["do"] == "pump":
            assert fills[step["tank"]] == step["from"]
            fills[step["tank"]] = step["to"]
        else:
            seats[step["from"]] -= step["people"]
            seats[step["to"]] = seats.get(step["to"], 0) + step["people"]
    assert fills == {tank["tank"]: tank["fill"] for tank in answer["setup"]["tanks"]}
    goal: dict[str, int] = {}
    for group in answer["setup"]["seating"]:
        goal[group["to"]] = goal.get(group["to"], 0) + group["people"]
    assert {seat: n for seat, n in seats.items() if n} == goal
    last = answer["changeover"]["steps"][-1]["after"]
    assert last["heel"] == pytest.approx(answer["predicted"]["at_rest"]["heel"], abs=0.006)
    minutes = answer["changeover"]["minutes"]
    assert 0 < minutes["at_once"] < minutes["in_sequence"]


def test_the_card_tells_what_to_pump_in_that_order(ask: Ask, client: Any) -> None:
    body = SMALLEST | {"ballast": FULL_ON_THE_WRONG_SIDE}
    text = client.post("/v1/advice", json=body, headers={"Accept": "text/plain"}).get_data(True)
    row = text[text.index("PUMPS") : text.index("SITS")]
    pumped = [s["tank"] for s in ask(ballast=FULL_ON_THE_WRONG_SIDE)["changeover"]["steps"]
              if s["do"] == "pump"]  # fmt: skip
    assert [tank for tank in pumped if tank in row] == pumped
    assert "min in all" in row


def test_where_a_band_cannot_be_reached_it_is_said_what_would_help(ask: Ask) -> None:
    crew = [{"mass": 120, "x": 5.0, "y": -1.0}] * 6  # they stay where they are
    answer = ask(crew=crew, rider={"stance": "regular"})
    limits = {obstacle["limit"] for obstacle in answer["obstacles"]}
    assert "lean" in limits
    assert any("kg" in help_ for obstacle in answer["obstacles"] for help_ in obstacle["help"])
    assert ask()["obstacles"] == []


def test_the_trace_tells_of_every_rule_why_it_fired_or_did_not(client: Any) -> None:
    answer = client.post("/v1/advice?trace=full", json=SMALLEST).json
    trace = answer["trace"]
    fired = [entry["rule"] for entry in trace["fired"]]
    assert fired == [reason["rule"] for reason in answer["reasons"]]
    missed = {entry["rule"]: entry for entry in trace["not_fired"]}
    assert set(fired) | set(missed) == set(rules.load().rules)
    assert not set(fired) & set(missed)
    assert missed["surf_side.regular"]["condition"] == "rider.stance is regular"
    assert missed["surf_side.regular"]["because"] == "rider.stance was goofy"
    assert missed["depth.shallow"]["because"] == "water.depth: not told"
    used = {parameter["name"]: parameter["value"] for parameter in trace["parameters"]}
    assert used["centre_plate.middle"] == 55
    assert trace["facts"]["rider"]["mass"] == 82
    assert "trace" not in client.post("/v1/advice", json=SMALLEST).json
    assert client.post("/v1/advice?trace=some", json=SMALLEST).status_code == 422


def test_an_outfits_own_values_are_used_and_said_to_be_local(tmp_path: Path) -> None:
    file = tmp_path / "local.yaml"
    file.write_text(
        "fleet: {speed.start: 17.0}\nboats: {demo-6m: {off_side_plate.light_crew: 60}}\n"
    )
    own = service.create_app({"TESTING": True, "LOCAL_RULES": str(file)}).test_client()
    seven: Any = own.post("/v1/advice", json=SMALLEST | {"crew": 3}).json
    six: Any = own.post("/v1/advice", json=SMALLEST | {"crew": 3, "boat": "demo-6m"}).json
    assert seven["accounts"]["speed"]["lines"][0]["change"] == 17.0
    assert seven["accounts"]["plates.port"]["lines"][0]["change"] == 67
    assert six["accounts"]["speed"]["lines"][0]["change"] == 17.0
    assert six["accounts"]["plates.port"]["lines"][0]["change"] == 60
    assert seven["rule_set"]["local"] == ["speed.start"]
    assert six["rule_set"]["local"] == ["off_side_plate.light_crew", "speed.start"]
    assert len({seven["rule_set"]["hash"], six["rule_set"]["hash"], rules.load().hash}) == 3


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("fleet: {speed.nonsense: 1}", "speed.nonsense"),
        ("fleet: {speed.start: fast}", "speed.start"),
        ("fleet: {speed.start: [[1, 2]]}", "form of the original"),
        ("boat: {}", "'fleet' and 'boats'"),
        ("fleet: 3", "topic.parameter"),
        ("{", "local rules"),
    ],
)
def test_a_mistake_in_the_own_values_shows_at_the_start(
    tmp_path: Path, content: str, says: str
) -> None:
    file = tmp_path / f"{abs(hash(content))}.yaml"
    file.write_text(content)
    with pytest.raises(RuleError, match=says.replace(".", r"\.")):
        service.create_app({"LOCAL_RULES": str(file)})


def test_the_stability_picture_is_told_on_request(client: Any) -> None:
    body = {"boat": "demo-7m", "crew": 8}
    assert "stability" not in client.post("/v1/loading", json=body).json
    found = client.post("/v1/loading?stability=full", json=body).json["stability"]
    notes = {line["note"] for line in found["reference_lines"]}
    assert notes == {"reference line, not an assessment to the standard"}
    # ISO 12217-1:2015 as read second-hand, references section 5: 20.95 degrees at 7.0 m.
    assert found["reference_lines"][0]["line"] == pytest.approx(20.95, abs=0.005)
    port, starboard = found["sides"]
    assert port["downflooding"] == pytest.approx(starboard["downflooding"], abs=1e-3)
    assert json.dumps(found)


def test_people_of_different_mass_are_told_apart(ask: Ask) -> None:
    """The lean is reckoned for one of the ways to seat them: so it has to be told which."""
    crew = [{"mass": 120}, {"mass": 40}, {"mass": 80}]
    groups = ask(crew=crew)["setup"]["seating"]
    assert sorted(group["mass"] for group in groups) == [40, 80, 120]
    seated = [{"mass": group["mass"], "seat": group["to"]} for group in groups]
    rest = ask(crew=crew)["predicted"]["at_rest"]
    assert ask(crew=seated)["predicted"]["at_rest"] == rest


def test_tanks_that_were_not_told_are_said_to_be_taken_as_empty(ask: Ask) -> None:
    told = ask(ballast={"aft-port": 40, "bow": 0})
    assumed = [gap["pointer"] for gap in told["assumed"] if gap["pointer"].startswith("/ballast")]
    untold = ("aft-starboard", "mid-port", "mid-starboard")
    assert assumed == [f"/ballast/{tank}" for tank in untold]
