"""The log over HTTP: runs with settings, tuning changes and ratings teach the boat."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

pytestmark = pytest.mark.keeps

ANY = {"If-Match": "*"}
GOOFY = {"mass": 80, "stance": "goofy"}
OFF_SIDE = ("aft-port", "mid-port")  # of the starboard wave


def ask(boat: str, **more: Any) -> dict[str, Any]:
    return {"boat": boat, "crew": 4, "rider": GOOFY, **more}


def advised(mine: FlaskClient, boat: str, **more: Any) -> dict[str, Any]:
    response = mine.post("/v1/advice", json=ask(boat, **more))
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.get_json()
    return answer


def ride(mine: FlaskClient, boat: str, count: int = 1, **run: Any) -> None:
    for _ in range(count):
        response = mine.post("/v1/runs", json={"request": ask(boat), **run})
        assert response.status_code == 201, response.text


def of_log(answer: dict[str, Any], account: str) -> Iterator[tuple[str, float]]:
    for line in answer["accounts"][account]["lines"]:
        if line["rule"] == "log.this_boat":
            yield line["label"].split(": ")[1].rsplit(" ", 3)[0], line["change"]


def fills(answer: dict[str, Any]) -> dict[str, float]:
    return {tank["tank"]: tank["fill"] for tank in answer["setup"]["tanks"]}


def test_water_is_learned_and_stands_in_the_accounts_of_the_tanks(
    mine: FlaskClient, boat: str
) -> None:
    plain = advised(mine, boat)
    want = {tank: fill - 12 - (8 if tank in OFF_SIDE else 0) for tank, fill in fills(plain).items()}
    ride(mine, boat, 20, rating=5, settings={"tanks": want})
    taught = advised(mine, boat)
    learned = dict(of_log(taught, "tanks.aft-port"))
    assert set(learned) >= {"water in every tank", "off-side tanks"}
    assert learned["water in every tank"] == pytest.approx(-12, abs=1.5)
    assert learned["off-side tanks"] == pytest.approx(-8, abs=1.5)
    assert set(dict(of_log(taught, "tanks.aft-starboard"))) == {"water in every tank"}
    total = sum(fills(taught).values()) - sum(fills(plain).values())
    assert total < -40.0
    for name, account in taught["accounts"].items():
        assert account["value"] == pytest.approx(
            sum(line["change"] for line in account["lines"]), abs=1e-9
        ), name


def test_what_was_taken_as_advised_confirms_the_log_and_does_not_count_twice(
    mine: FlaskClient, boat: str
) -> None:
    """By a whole step of the gauges: advice is given in them, and so is what was taken."""
    plain = advised(mine, boat)
    want = {tank: fill - 10 for tank, fill in fills(plain).items()}
    ride(mine, boat, 10, rating=5, settings={"tanks": want})
    first = dict(of_log(advised(mine, boat), "tanks.bow"))["water in every tank"]
    ride(mine, boat, 20, rating=5)
    second = dict(of_log(advised(mine, boat), "tanks.bow"))["water in every tank"]
    assert second == pytest.approx(first, abs=1.0)


def test_the_other_wave_learns_the_mirrored_tanks(mine: FlaskClient, boat: str) -> None:
    want = {tank: fill - 10 for tank, fill in fills(advised(mine, boat)).items()
            if tank in OFF_SIDE}  # fmt: skip
    ride(mine, boat, 15, rating=5, settings={"tanks": want})
    one = advised(mine, boat)
    other = advised(mine, boat, rider={**GOOFY, "stance": "regular"})
    swap = {"port": "starboard", "starboard": "port"}
    for tank in fills(one):
        place, _, side = tank.partition("-")
        twin = f"{place}-{swap[side]}" if side else tank
        assert list(of_log(one, f"tanks.{tank}")) == list(of_log(other, f"tanks.{twin}"))


def step(before: dict[str, Any], after: dict[str, Any], helped: bool) -> dict[str, Any]:
    return {"target": "as set", "change": "one step", "helped": helped, "before": before,
            "after": after}  # fmt: skip


def test_a_change_that_helped_counts_without_a_rating(mine: FlaskClient, boat: str) -> None:
    plain = advised(mine, boat)
    speed = plain["setup"]["speed"]
    changes = [
        step({"speed": speed}, {"speed": speed + 0.5}, True),
        step({"speed": speed + 0.5}, {"speed": speed + 1.0}, True),
    ]
    ride(mine, boat, 12, changes=changes)
    learned = dict(of_log(advised(mine, boat), "speed"))["speed"]
    assert 0.2 < learned < 1.0
    log = mine.get(f"/v1/boats/{boat}/model").get_json()["log"]
    found = {each["target"]: each for each in log["offsets"]}["speed"]
    assert (found["runs"], found["changes"]) == (12, 12)
    assert found["worth"] < 6.0  # weaker than as many runs with stars


def test_changes_are_read_in_the_units_they_were_sent_in(mine: FlaskClient, boat: str) -> None:
    mph = advised(mine, boat, units="us")["setup"]["speed"]
    changes = [step({"speed": mph}, {"speed": f"{mph - 0.4} mph"}, True)]
    ride(mine, boat, 12, units="us", changes=changes)
    assert dict(of_log(advised(mine, boat), "speed"))["speed"] < -0.2


def test_a_change_of_several_numbers_at_once_says_nothing(mine: FlaskClient, boat: str) -> None:
    plain = advised(mine, boat)
    both = {"speed": 18.0, "plates": {"centre": 20}}
    now = {"speed": 17.2, "plates": {"centre": 60}}
    ride(mine, boat, 3, changes=[step(now, both, True)])
    assert advised(mine, boat) == plain


def test_a_change_names_what_the_boat_has_not(mine: FlaskClient, boat: str) -> None:
    change = step({"tanks": {"attic": 10}}, {"speed": 17}, True)
    sent = {"request": ask(boat), "changes": [change]}
    refused = mine.post("/v1/runs", json=sent)
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.get_json(force=True)["errors"]] == [
        "/changes/0/before/tanks/attic"
    ]


def test_an_outfits_own_value_is_not_added_to_what_the_log_says(
    mine: FlaskClient, boat: str
) -> None:
    """Who sees the log's half a kilometre and makes it the start does not get it twice."""
    plain = advised(mine, boat)
    ride(mine, boat, 20, rating=5, settings={"speed": plain["setup"]["speed"] + 0.5})
    taught = advised(mine, boat)
    assert dict(of_log(taught, "speed"))["speed"] == pytest.approx(0.5, abs=0.1)
    sent = {"fleet": {}, "boats": {boat: {"speed.start": 17.7}}}
    assert mine.put("/v1/outfit/rules", json=sent, headers=ANY).status_code == 200
    local = advised(mine, boat)
    assert dict(of_log(local, "speed")).get("speed", 0.0) == pytest.approx(0.0, abs=0.1)
    assert local["setup"]["speed"] == pytest.approx(taught["setup"]["speed"], abs=0.15)
    mine.put("/v1/outfit/rules", json={}, headers=ANY)
    assert advised(mine, boat) == taught


def test_local_defaults_reach_the_model(mine: FlaskClient, boat: str) -> None:
    """Of the water that nobody told of, the outfit knows best how warm it is."""
    loading = {"fuel": 100, "freeboards": [{"x": 0, "side": "port", "height": 0.6}]}
    mine.post(f"/v1/boats/{boat}/calibrations", json={"loadings": [loading]})
    before = mine.get(f"/v1/boats/{boat}/model").get_json()
    sent = {"fleet": {"defaults.water_temperature": 35}}
    assert mine.put("/v1/outfit/rules", json=sent, headers=ANY).status_code == 200
    after = mine.get(f"/v1/boats/{boat}/model").get_json()
    assert after["known"][0]["after"]["value"] < before["known"][0]["after"]["value"]


def test_a_rider_who_is_erased_is_learned_from_no_longer(mine: FlaskClient, boat: str) -> None:
    plain = advised(mine, boat)
    rider = mine.post("/v1/riders", json={**GOOFY, "level": "beginner"}).get_json()["id"]
    sent = {"request": ask(boat, rider=rider), "rating": 5, "settings": {"speed": 18.0}}
    for _ in range(5):
        assert mine.post("/v1/runs", json=sent).status_code == 201
    assert list(of_log(advised(mine, boat), "speed"))
    assert mine.delete(f"/v1/riders/{rider}?erase=true").status_code == 204
    assert advised(mine, boat) == plain
