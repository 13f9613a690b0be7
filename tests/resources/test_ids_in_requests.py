"""Ids in the place of inline data: set-ups, riders and boats that are kept, in every request."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import update

import rules
from service.storage import Store
from service.storage.tables import BoatVersion
from tests.resources.conftest import Caller

CREW = [{"mass": 80, "seat": "helm"}, {"mass": 70, "seat": "bench-port"}]
SETTINGS = {
    "surf_side": "starboard",
    "speed": 18.3,
    "plates": {"centre": 41, "port": 77, "starboard": 0},
    "tanks": {"aft-port": 40, "aft-starboard": 90, "bow": 70},
}


@pytest.fixture
def setup(mine: FlaskClient, boat: str, rider: str) -> str:
    """The id of a set-up of that rider on that boat, with everything told."""
    return keep(mine, boat, rider)


def keep(client: FlaskClient, boat: str, rider: str | None, **changes: Any) -> str:
    sent = {"boat": boat, "rider": rider, "crew": CREW, "settings": SETTINGS} | changes
    made = client.post("/v1/setups", json={k: v for k, v in sent.items() if v is not None})
    assert made.status_code == 201, made.text
    return str(made.get_json()["id"])


def advised(client: FlaskClient, boat: Any, rider: Any, **more: Any) -> dict[str, Any]:
    body = {"boat": boat, "crew": CREW, "rider": rider} | more
    response = client.post("/v1/advice", json=body)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.get_json()
    return answer


def turn(client: FlaskClient, boat: Any, rider: Any, **of_rider: Any) -> dict[str, Any]:
    body = {"boat": boat, "crew": CREW, "riders": [{"rider": rider} | of_rider]}
    response = client.post("/v1/outing-plans", json=body)
    assert response.status_code == 200, response.text
    found: dict[str, Any] = response.get_json()["turns"][0]
    return found


def test_the_rider_s_own_set_up_on_this_boat_wins_in_an_outing(
    mine: FlaskClient, boat: str, rider: str, setup: str
) -> None:
    found = turn(mine, boat, rider)
    assert (found["source"], found["saved"]) == ("saved", setup)
    assert found["setup"]["speed"] == 18.3
    assert found["setup"]["plates"] == {"centre": 41.0, "port": 77.0, "starboard": 0.0}
    again = turn(mine, boat, rider, saved=setup)
    assert again["setup"] == found["setup"]
    by_rules = turn(mine, boat, rider, saved=None)
    assert (by_rules["source"], by_rules["saved"]) == ("rules", None)
    assert by_rules["setup"]["speed"] != 18.3


def test_in_advice_it_stands_beside_what_the_rules_say(
    mine: FlaskClient, boat: str, rider: str, setup: str
) -> None:
    answer, plain = advised(mine, boat, rider), advised(mine, boat, rider, saved=None)
    saved = answer.pop("saved")
    assert plain.pop("saved") is None
    assert answer == plain
    assert (saved["id"], saved["found"], saved["source"]) == (setup, True, "saved")
    assert saved["boat"] == answer["boat"]
    assert saved["setup"]["speed"] == 18.3
    told = advised(mine, boat, rider, saved=setup)["saved"]
    assert told == saved | {"found": False}


def test_the_outing_and_the_advice_say_the_same_of_it(
    mine: FlaskClient, boat: str, rider: str, setup: str
) -> None:
    found = turn(mine, boat, rider)
    saved = mine.post("/v1/advice", json=found["advice_request"]).get_json()["saved"]
    for name in ("surf_side", "speed", "plates"):
        assert saved["setup"][name] == found["setup"][name]
    fills = {tank["tank"]: tank["fill"] for tank in saved["setup"]["tanks"]}
    assert fills == {tank["tank"]: tank["fill"] for tank in found["setup"]["tanks"]}
    assert saved["verdict"] == found["verdict"]
    assert [caution["rule"] for caution in saved["cautions"]] == found["cautions"]


def test_with_the_same_people_aboard_it_lies_as_it_lay(
    mine: FlaskClient, boat: str, rider: str, setup: str
) -> None:
    """By ``/v1/loading``, which knows nothing of set-ups; pumps are set in whole percent."""
    lay = mine.post(
        "/v1/loading", json={"boat": boat, "crew": CREW, "ballast": SETTINGS["tanks"]}
    ).get_json()
    rest = advised(mine, boat, rider)["saved"]["at_rest"]
    assert rest["displacement"] == pytest.approx(lay["displacement"], rel=0.01)
    # Within the rules' bands about heel and trim.
    assert rest["heel"] == pytest.approx(lay["heel"], abs=0.6)
    assert rest["trim"] == pytest.approx(lay["trim"], abs=0.6)


def test_with_more_people_aboard_there_is_less_water(
    mine: FlaskClient, boat: str, rider: str, setup: str
) -> None:
    def water(crew: Any) -> float:
        saved = advised(mine, boat, rider, crew=crew)["saved"]
        return float(sum(tank["mass"] for tank in saved["setup"]["tanks"]))

    more = [*CREW, {"mass": 90, "seat": "bench-starboard"}, {"mass": 60, "seat": "stern"}]
    assert water(CREW) - water(more) == pytest.approx(150, abs=15)


def test_from_another_boat_it_is_carried_over_and_marked(
    mine: FlaskClient, boat: str, rider: str, particulars: dict[str, Any]
) -> None:
    other = mine.post("/v1/boats", json={**particulars, "name": "Other"}).get_json()["id"]
    kept = keep(mine, other, rider)
    found = turn(mine, boat, rider)
    assert (found["source"], found["saved"]) == ("carried_over", kept)
    saved = advised(mine, boat, rider)["saved"]
    assert (saved["source"], saved["boat"]) == ("carried_over", {"id": other, "name": "Other"})
    # The same boat under another name: the same speed.
    assert saved["setup"]["speed"] == pytest.approx(18.3, abs=0.05)
    here = keep(mine, boat, rider, rating=3)
    assert turn(mine, boat, rider)["saved"] == here  # though the other may have been better


def test_the_best_counts_then_the_latest_and_what_did_not_work_never(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    assert advised(mine, boat, rider)["saved"] is None
    keep(mine, boat, rider, rating=2)
    assert advised(mine, boat, rider)["saved"] is None
    first = keep(mine, boat, rider)
    assert advised(mine, boat, rider)["saved"]["id"] == first
    second = keep(mine, boat, rider, rating=3)
    assert advised(mine, boat, rider)["saved"]["id"] == second
    best = keep(mine, boat, rider, rating=5)
    keep(mine, boat, rider, rating=4)
    assert advised(mine, boat, rider)["saved"]["id"] == best
    # What was told explicitly is used, however it rode.
    poor = keep(mine, boat, rider, rating=1)
    assert advised(mine, boat, rider, saved=poor)["saved"]["id"] == poor
    mine.delete(f"/v1/setups/{best}", headers={"If-Match": "*"})
    assert advised(mine, boat, rider)["saved"]["id"] != best


def test_from_which_rating_it_counts_is_the_outfit_s_to_say(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    """Three of five stars by the rule base (common practice); unrated counts as that many."""
    local = {"If-Match": "*"}
    assert rules.load().number("saved.worked") == 3
    two, three = keep(mine, boat, rider, rating=2), keep(mine, boat, rider, rating=3)
    assert turn(mine, boat, rider)["saved"] == three
    for own, others in (({"saved.worked": 4}, {}), ({}, {"saved.worked": 4})):
        values = {"fleet": others, "boats": {boat: own}}
        assert mine.put("/v1/outfit/rules", json=values, headers=local).status_code == 200
        assert turn(mine, boat, rider)["saved"] is None
        assert advised(mine, boat, rider)["saved"] is None
    mine.delete(f"/v1/setups/{three}", headers=local)
    mine.put("/v1/outfit/rules", json={"fleet": {"saved.worked": 2}}, headers=local)
    assert turn(mine, boat, rider)["saved"] == two
    mine.delete(f"/v1/setups/{two}", headers=local)
    unrated = keep(mine, boat, rider)
    mine.put("/v1/outfit/rules", json={"fleet": {"saved.worked": 5}}, headers=local)
    assert turn(mine, boat, rider)["saved"] == unrated


def test_one_s_own_never_changes_the_side(mine: FlaskClient, boat: str, rider: str) -> None:
    """A goofy rider rides the starboard wave; one kept for port is for another day."""
    port = SETTINGS | {"surf_side": "port", "plates": {"starboard": 60}}
    other = keep(mine, boat, rider, settings=port, rating=5)
    assert advised(mine, boat, rider)["saved"] is None
    assert turn(mine, boat, rider)["setup"]["surf_side"] == "starboard"
    own = keep(mine, boat, rider, rating=3)
    assert advised(mine, boat, rider)["saved"]["id"] == own
    assert advised(mine, boat, rider, surf_side="port")["saved"]["id"] == other
    # Told, it is for its own side; against a side that was told, too, it is a fault.
    assert turn(mine, boat, rider, saved=other)["setup"]["surf_side"] == "port"
    body = {"boat": boat, "crew": 2, "rider": rider, "saved": other, "surf_side": "starboard"}
    refused = mine.post("/v1/advice", json=body)
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["pointer"] == "/surf_side"


def test_what_was_not_told_of_it_is_as_the_rules_have_it_and_said(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    sent = {"boat": boat, "rider": rider, "settings": {"speed": 19}}
    mine.post("/v1/setups", json=sent)
    answer = advised(mine, boat, rider)
    saved = answer["saved"]
    assert saved["setup"]["speed"] == 19.0
    for name in ("plates", "tanks", "surf_side"):
        assert saved["setup"][name] == answer["setup"][name]
    pointers = {gap["pointer"] for gap in saved["assumed"]}
    assert pointers == {
        "/saved/crew", "/saved/tanks", "/saved/plates/centre", "/saved/plates/port",
        "/saved/plates/starboard",
    }  # fmt: skip


def test_where_nobody_told_who_sat_where_lean_and_trim_are_the_rules(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    keep(mine, boat, rider, crew=2)
    answer = advised(mine, boat, rider)
    saved = answer["saved"]
    assert {gap["pointer"] for gap in saved["assumed"]} >= {
        "/saved/crew/*/seat", "/saved/crew/*/mass", "/saved/fuel",
    }  # fmt: skip
    lean, band = answer["accounts"]["lean"]["value"], rules.load().number("balance.lean_band")
    # The wave is to starboard, where heel is positive.
    assert saved["at_rest"]["heel"] == pytest.approx(lean, abs=band + 0.01)
    # The two are anywhere in the same band.
    trim, band = answer["predicted"]["at_rest"]["trim"], rules.load().number("balance.bow_band")
    assert saved["at_rest"]["trim"] == pytest.approx(trim, abs=2 * band + 0.01)


def test_limits_hold_for_a_saved_set_up_too(mine: FlaskClient, boat: str, rider: str) -> None:
    keep(mine, boat, rider)
    saved = advised(mine, boat, rider, crew=20)["saved"]
    assert saved["verdict"] == "do_not_go"
    assert saved["cautions"][0]["rule"] == "people_and_load.too_many_people"


def test_a_set_up_is_what_is_set_now_in_tuning(
    mine: FlaskClient, boat: str, rider: str, setup: str, particulars: dict[str, Any]
) -> None:
    signs = [sign["sign"] for sign in mine.get("/v1/tuning/signs").get_json()["signs"]]
    asked = {"boat": boat, "crew": CREW, "rider": rider, "seen": [{"sign": signs[0]}]}
    by_id = mine.post("/v1/tuning", json=asked | {"settings": setup})
    inline = mine.post("/v1/tuning", json=asked | {"settings": SETTINGS})
    assert by_id.status_code == inline.status_code == 200, by_id.text
    assert by_id.get_json() == inline.get_json()
    for settings, text in ((setup, "the saved set-up is"), (SETTINGS, "what is set now is")):
        told = asked | {"settings": settings, "surf_side": "port"}
        refused = mine.post("/v1/tuning", json=told)
        assert refused.status_code == 422
        (fault,) = refused.get_json()["errors"]
        assert fault == {"pointer": "/surf_side", "detail": f"{text} for the other side."}
    other = mine.post("/v1/boats", json=particulars).get_json()["id"]
    refused = mine.post("/v1/tuning", json=asked | {"boat": other, "settings": setup})
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["pointer"] == "/settings"


def test_someone_aboard_may_be_a_kept_rider(mine: FlaskClient, boat: str, rider: str) -> None:
    """The fixture's rider weighs 82 kg."""
    by_id, inline = ({"rider": rider, "seat": "stern"}, {"mass": 82, "seat": "stern"})
    for path, more in (
        ("/v1/loading", {}),
        ("/v1/advice", {"rider": {"stance": "goofy"}}),
        ("/v1/tuning", {"rider": {"stance": "goofy"}}),
        ("/v1/outing-plans", {"riders": [{"rider": {"stance": "goofy"}}]}),
    ):
        answers = [
            mine.post(path, json={"boat": boat, "crew": [*CREW, each]} | more)
            for each in (by_id, inline)
        ]
        assert answers[0].status_code == 200, answers[0].text
        assert answers[0].get_json() == answers[1].get_json(), path
    kept = mine.post("/v1/setups", json={"boat": boat, "crew": [by_id], "settings": {}}).get_json()
    assert kept["crew"] == [by_id]


@pytest.mark.parametrize(
    ("crew", "pointer"),
    [
        ([{"rider": "RIDER", "mass": 80}], "/crew/0/rider"),
        ([{"rider": "RIDER"}], "/crew/0/rider"),  # who rides is not aboard
        ([{"rider": "OTHER"}, {"rider": "OTHER"}], "/crew/1/rider"),
    ],
)
def test_nobody_is_two_people(
    mine: FlaskClient, boat: str, rider: str, crew: list[dict[str, Any]], pointer: str
) -> None:
    other = mine.post("/v1/riders", json={"mass": 60}).get_json()["id"]
    ids = {"RIDER": rider, "OTHER": other}
    crew = [each | {"rider": ids[each["rider"]]} for each in crew]
    for path, more in (
        ("/v1/advice", {"rider": rider}), ("/v1/outing-plans", {"riders": [{"rider": rider}]}),
    ):  # fmt: skip
        refused = mine.post(path, json={"boat": boat, "crew": crew} | more)
        assert refused.status_code == 422
        assert pointer in [fault["pointer"] for fault in refused.get_json()["errors"]]


def test_another_outfit_s_ids_are_not_there(
    mine: FlaskClient, caller: Caller, app: Flask, boat: str, rider: str, setup: str,
    particulars: dict[str, Any],
) -> None:  # fmt: skip
    """Nor is anything without a key, also of the demo outfit."""
    theirs = caller()
    own = theirs.post("/v1/boats", json=particulars).get_json()["id"]
    goofy = {"stance": "goofy"}
    bodies: list[tuple[str, dict[str, Any]]] = [
        ("/v1/advice", {"rider": goofy, "saved": setup}),
        ("/v1/outing-plans", {"riders": [{"rider": goofy, "saved": setup}]}),
        ("/v1/tuning", {"rider": goofy, "settings": setup}),
        ("/v1/advice", {"rider": goofy, "crew": [{"rider": rider}]}),
        ("/v1/loading", {"crew": [{"rider": rider}]}),
    ]
    for path, more in bodies:
        refused = theirs.post(path, json={"boat": own, "crew": 2} | more)
        assert (refused.status_code, refused.mimetype) == (404, "application/problem+json"), path
        keyless = app.test_client().post(path, json={"boat": "demo-7m", "crew": 2} | more)
        assert keyless.status_code == 404
    assert advised(mine, boat, rider, saved=setup)["saved"]["id"] == setup


def test_without_a_key_no_set_up_is_found(caller: Caller, app: Flask) -> None:
    """Riders of the demo outfit can be named by everybody; what worked for them stays theirs."""
    demo = caller("demo")
    rider = demo.post("/v1/riders", json={"stance": "goofy"}).get_json()["id"]
    setup = keep(demo, "demo-7m", rider)
    assert advised(demo, "demo-7m", rider)["saved"]["id"] == setup
    client = app.test_client()
    assert advised(client, "demo-7m", rider)["saved"] is None
    assert turn(client, "demo-7m", rider)["source"] == "rules"
    body = {"boat": "demo-7m", "crew": 2, "rider": rider, "saved": setup}
    assert client.post("/v1/advice", json=body).status_code == 404


def test_a_set_up_that_no_longer_fits_its_boat_is_passed_over(
    mine: FlaskClient, boat: str, rider: str, setup: str, particulars: dict[str, Any]
) -> None:
    fewer = particulars | {"tanks": [t for t in particulars["tanks"] if t["id"] != "bow"]}
    mine.put(f"/v1/boats/{boat}", json=fewer, headers={"If-Match": "*"})
    assert advised(mine, boat, rider)["saved"] is None
    body = {"boat": boat, "crew": 2, "rider": rider, "saved": setup}
    refused = mine.post("/v1/advice", json=body)
    assert refused.status_code == 422
    assert "no longer fits its boat" in refused.text


def test_a_run_keeps_what_its_ids_stood_for(
    mine: FlaskClient, boat: str, rider: str, particulars: dict[str, Any]
) -> None:
    mate = mine.post("/v1/riders", json={"name": "Mo", "mass": 66}).get_json()["id"]
    setup = keep(mine, boat, rider, crew=[{"rider": mate, "seat": "helm"}], notes="of Ada")
    asked = {"boat": boat, "crew": [{"rider": mate, "seat": "helm"}], "rider": rider}
    run = mine.post("/v1/runs", json={"request": asked}).get_json()
    assert run["request"] == asked
    assert run["answer"]["saved"]["id"] == setup
    assert run["stood_for"] == {
        "boats": {boat: {"version": 1, **particulars}},
        "riders": {
            rider: {"version": 1, "mass": 82, "stance": "goofy", "level": "intermediate"},
            mate: {"version": 1, "mass": 66},
        },
        "setups": {
            setup: {
                "version": 1, "boat": boat, "rider": rider, "settings": SETTINGS,
                "crew": [{"rider": mate, "seat": "helm"}],
            },
        },
    }  # fmt: skip
    address = f"/v1/runs/{run['id']}"
    match = {"If-Match": "*"}
    mine.patch(f"/v1/riders/{mate}", json={"mass": 90}, headers=match)
    mine.delete(f"/v1/setups/{setup}", headers=match)
    mine.put(address, json={"rating": 4, "stood_for": {}}, headers=match)
    assert mine.get(address).get_json()["stood_for"] == run["stood_for"]


def test_one_of_the_crew_can_be_erased(mine: FlaskClient, boat: str, rider: str) -> None:
    mate = mine.post("/v1/riders", json={"name": "Mo", "mass": 66.6}).get_json()["id"]
    crew = [{"rider": mate, "seat": "helm"}, {"mass": 71}]
    setup = keep(mine, boat, rider, crew=crew, notes="as ever")
    asked = {"boat": boat, "crew": crew, "rider": rider}
    run = mine.post("/v1/runs", json={"request": asked, "notes": "good"}).get_json()["id"]
    export = mine.get(f"/v1/riders/{mate}/export").get_json()
    assert [row["id"] for row in export["setups"] + export["runs"]] == [setup, run]
    assert mine.delete(f"/v1/riders/{mate}?erase=true").status_code == 204
    left = mine.get(f"/v1/setups/{setup}").get_json()
    assert left["crew"] == [{"seat": "helm"}, {"mass": 71}]
    assert (left["rider"], left["notes"]) == (rider, "as ever")
    shown = mine.get(f"/v1/runs/{run}")
    assert mate not in shown.text
    assert "66.6" not in shown.text
    after = shown.get_json()
    assert after["request"] == asked | {"crew": left["crew"]}
    assert (after["notes"], list(after["stood_for"]["riders"])) == ("good", [rider])
    assert "reasons" not in after["answer"]
    assert mine.get(f"/v1/runs/{run}/card").status_code == 410
    # What is left of the set-up still serves.
    assert advised(mine, boat, rider)["saved"]["id"] == setup


def test_a_boat_that_was_kept_with_too_large_a_hull_is_found_as_before(
    mine: FlaskClient, store: Store, boat: str, particulars: dict[str, Any]
) -> None:
    """Shorter than her hull she is refused today, which takes nothing from whoever has her."""
    short = particulars | {"length_overall": 6.9}
    assert mine.post("/v1/boats", json=short).status_code == 422
    with store.writing() as session:
        session.execute(
            update(BoatVersion).where(BoatVersion.boat_id == boat).values(document=short)
        )
    rider = {"mass": 82, "stance": "goofy"}
    assert advised(mine, boat, rider)["boat"]["id"] == boat
