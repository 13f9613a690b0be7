"""``POST /v1/tuning`` as a caller meets it: shape, faults, units, mirror, card."""

from __future__ import annotations

import copy
from typing import Any

import jsonschema
import pytest
from flask.testing import FlaskClient

from schemas.tuning_card import WIDTH
from tests.advice.requests_made import BOATS, OTHER, mirrored, swapped
from tests.tuning.conftest import RIDER, Ask, seen

SIGNS = (
    "white_crest", "wash_on_top", "no_face", "too_steep", "too_short", "long_and_low",
    "too_little_push", "rolls_over", "lumps", "one_side_only", "wrong_side", "faded",
    "washed_out", "falls_back", "catches_boat", "pulled_over", "loose_board", "bow_diving",
    "porpoising", "wandering", "spray_over_bow", "bow_high", "leans_far", "water_over_bow",
    "water_over_side", "exhaust_symptoms",
)  # fmt: skip


def case(**members: Any) -> dict[str, Any]:
    crew = [
        {"mass": f"{60 + 7 * n} kg", "seat": seat}
        for n, seat in enumerate(["helm", "bow-port", "bench-starboard", "stern", "bench-port"])
    ]
    tanks = {"aft-port": 90, "aft-starboard": 70, "mid-port": 60, "mid-starboard": 100, "bow": 40}
    return {
        "boat": copy.deepcopy(BOATS["demo-7m"]),
        "crew": crew,
        "rider": dict(RIDER),
        "loads": [],
        "settings": {
            "surf_side": "port",
            "speed": "17.6 km/h",
            "plates": {"centre": 62, "port": 0, "starboard": 60},
            "tanks": tanks,
        },
    } | members


@pytest.mark.parametrize("sign", SIGNS)
def test_every_answer_is_of_its_documented_shape(client: FlaskClient, sign: str) -> None:
    document: Any = client.get("/openapi.json").json
    answer = client.post("/v1/tuning", json=case(seen=seen(sign))).json
    documented = document["paths"]["/v1/tuning"]["post"]["responses"]["200"]
    schema = documented["content"]["application/json"]["schema"]
    jsonschema.Draft202012Validator(schema | {"components": document["components"]}).validate(
        answer
    )


def test_no_water_under_the_boat_is_answered(client: FlaskClient) -> None:
    sent = case(seen=seen(SIGNS[0]), water={"depth": 0})
    assert client.post("/v1/tuning", json=sent).status_code == 200


def test_the_signs_are_listed_with_their_look_alikes(client: FlaskClient) -> None:
    listed: Any = client.get("/v1/tuning/signs").json
    assert tuple(sign["sign"] for sign in listed["signs"]) == SIGNS
    ranks = [move["rank"] for move in listed["moves"]]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize("sign", SIGNS)
def test_the_same_request_gets_the_same_answer(client: FlaskClient, sign: str) -> None:
    first, second = (client.post("/v1/tuning", json=case(seen=seen(sign))).data for _ in "ab")
    assert first == second


def mirrored_case(body: dict[str, Any]) -> dict[str, Any]:
    body = mirrored(body)
    settings = body["settings"]
    settings["surf_side"] = OTHER[settings["surf_side"]]
    plates = settings["plates"]
    plates["port"], plates["starboard"] = plates["starboard"], plates["port"]
    settings["tanks"] = {swapped(tank): fill for tank, fill in settings["tanks"].items()}
    return body


def lever_mirrored(change: dict[str, Any]) -> dict[str, Any]:
    """Names of sides swapped, heel turned over; the words are left out."""
    kind, dot, name = change["lever"].partition(".")
    ends = {key: swapped(v) if isinstance(v := change[key], str) else v for key in ("from", "to")}
    heel = {key: -value + 0.0 for key, value in change["predicted"]["heel"].items()}
    return {
        "lever": kind + dot + OTHER.get(name, swapped(name)),
        "tanks": {swapped(tank["tank"]): tank["to"] for tank in change["tanks"]},
        "heel": heel,
        "trim": change["predicted"]["trim"],
        "move": change["move"],
        **ends,
    }


def lever_plain(change: dict[str, Any]) -> dict[str, Any]:
    return {
        "lever": change["lever"],
        "tanks": {tank["tank"]: tank["to"] for tank in change["tanks"]},
        "heel": {key: value + 0.0 for key, value in change["predicted"]["heel"].items()},
        "trim": change["predicted"]["trim"],
        "move": change["move"],
        "from": change["from"],
        "to": change["to"],
    }


@pytest.mark.parametrize("sign", SIGNS)
@pytest.mark.parametrize("strength", ["slight", "strong"])
def test_a_mirrored_request_gets_the_mirrored_answer(
    client: FlaskClient, sign: str, strength: str
) -> None:
    body = case(seen=seen(sign, strength=strength))
    one: Any = client.post("/v1/tuning", json=body).get_json()
    other: Any = client.post("/v1/tuning", json=mirrored_case(copy.deepcopy(body))).get_json()
    assert one["action"] == other["action"]
    assert OTHER[one["surf_side"]] == other["surf_side"]
    for here, there in zip(
        [one["change"], *one["alternatives"]], [other["change"], *other["alternatives"]],
        strict=True,
    ):  # fmt: skip
        assert (here is None) == (there is None)
        if here:
            assert lever_mirrored(here) == lever_plain(there)


def test_what_is_not_told_is_as_advised_and_listed(ask: Ask, client: FlaskClient) -> None:
    answer = ask(seen=seen("too_steep"))
    body = {"boat": "demo-7m", "crew": 6, "rider": RIDER}
    setup: Any = client.post("/v1/advice", json=body).get_json()["setup"]
    assumed = {gap["pointer"]: gap["value"] for gap in answer["assumed"]}
    assert assumed["/settings/speed"] == setup["speed"]
    for name, travel in setup["plates"].items():
        assert assumed[f"/settings/plates/{name}"] == travel
    for tank in setup["tanks"]:
        assert assumed[f"/settings/tanks/{tank['tank']}"] == tank["fill"]


def test_a_tank_left_out_among_others_is_empty_and_listed(ask: Ask) -> None:
    whole = {"aft-port": 90, "aft-starboard": 0, "mid-port": 60, "mid-starboard": 0, "bow": 0}
    some = {tank: fill for tank, fill in whole.items() if fill}
    for member, place in (("settings", "/settings/tanks"), ("ballast", "/ballast")):
        told, left = (
            ask(
                **({member: {"tanks": tanks} if member == "settings" else tanks}),
                seen=seen("too_steep"),
            )
            for tanks in (whole, some)
        )
        assert left["change"] == told["change"]
        listed = [gap for gap in left["assumed"] if gap not in told["assumed"]]
        assert {gap["pointer"]: gap["value"] for gap in listed} == {
            f"{place}/{tank}": 0.0 for tank in whole if tank not in some
        }
        assert {gap["source"] for gap in listed} == {"not told, so taken as empty"}


def test_what_the_answer_wrote_of_a_sign_comes_back_as_it_is(ask: Ask) -> None:
    """In ``seen`` of the next look and of the history; the words in it are ignored."""
    first = ask(seen=seen("too_steep", strength="slight"))
    (told,) = first["seen"]
    assert {"says", "look_alike", "gone"} < set(told)
    past = first["change"] | {"did": "same"}
    plain = seen("too_steep", strength="slight")
    assert ask(seen=first["seen"], history=[past | {"seen": first["seen"]}]) == ask(
        seen=plain, history=[past | {"seen": plain}]
    )
    assert ask(seen=first["seen"])["seen"] == first["seen"]
    changed = [told | {"says": 5, "look_alike": None, "gone": []}]
    assert ask(seen=changed) == first


def test_us_units(ask: Ask) -> None:
    answer = ask(units="us", settings={"speed": "10.5 mph"}, seen=seen("too_steep"))
    change = answer["change"]
    assert (change["lever"], change["unit"], change["from"]) == ("speed", "mph", 10.5)
    assert change["to"] == pytest.approx(10.5 + 0.6 / 1.609344, abs=0.05)
    assert "mph" in change["text"]
    assert "km/h" not in str(change)


@pytest.mark.parametrize("sign", SIGNS)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_card_is_three_lines(client: FlaskClient, sign: str, units: str) -> None:
    body = case(seen=seen(sign), units=units, boat="demo-7m")
    response = client.post("/v1/tuning", json=body, headers={"Accept": "text/plain"})
    assert response.mimetype == "text/plain"
    lines = response.text.splitlines()
    labelled = [line for line in lines if not line.startswith(" ")]
    assert len(labelled) == 3
    assert all(len(line) <= WIDTH for line in lines)
    action = client.post("/v1/tuning", json=body).get_json()["action"]
    assert labelled[0].split()[0] == {"change": "DO", "stop": "STOP", "ask": "WHICH"}[action]


FAULTS = [
    ({"seen": [{"sign": "nice"}]}, "/seen/0/sign"),
    ({"seen": [{"sign": "lumps", "strength": "huge"}]}, "/seen/0/strength"),
    ({"seen": seen("lumps", "lumps")}, "/seen"),
    ({"seen": "fine"}, "/seen"),
    ({"seen": ["nice"]}, "/seen/0"),
    ({"seen": ["lumps", 3]}, "/seen/1"),
    ({"seen": ["lumps", *seen("lumps", strength="slight")]}, "/seen"),
    ({"history": [{"lever": "look", "did": "same", "seen": ["nice"]}]}, "/history/0/seen/0"),
    ({"settings": {"speed": 2}}, "/settings/speed"),
    ({"settings": {"plates": {"centre": 101}}}, "/settings/plates/centre"),
    ({"settings": {"tanks": {"attic": 10}}}, "/settings/tanks/attic"),
    ({"settings": {"tanks": {"bow": 120}}}, "/settings/tanks/bow"),
    ({"settings": {"colour": 1}}, "/settings/colour"),
    ({"history": [{"lever": "speed", "from": 17, "to": 18}]}, "/history/0/did"),
    ({"history": [{"lever": "anchor", "did": "same"}]}, "/history/0/lever"),
    ({"history": [{"lever": "tanks.attic", "from": 1, "to": 2, "did": "same"}]},
     "/history/0/lever"),
    ({"history": [{"lever": "tanks", "did": "same", "tanks": [{"tank": "bow", "from": 90},
                                                            {"tank": "attic", "from": 90}]}]},
     "/history/0/tanks"),
    ({"surf_side": "port", "settings": {"surf_side": "starboard"}}, "/surf_side"),
    ({"history": [{"lever": "plates.top", "from": 1, "to": 2, "did": "same"}]}, "/history/0/lever"),
    ({"history": [{"lever": "people", "from": "roof", "to": "stern", "did": "same"}]},
     "/history/0/from"),
    ({"history": [{"lever": "people", "from": "stern", "did": "same"}]}, "/history/0/to"),
    ({"history": [{"lever": "speed", "from": "17 kg", "to": 18, "did": "same"}]},
     "/history/0/from"),
]  # fmt: skip


@pytest.mark.parametrize(("members", "pointer"), FAULTS)
def test_a_fault_is_named(client: FlaskClient, members: dict[str, Any], pointer: str) -> None:
    body = {"boat": "demo-7m", "rider": RIDER} | members
    response = client.post("/v1/tuning", json=body)
    assert response.status_code == 422
    assert pointer in [fault["pointer"] for fault in response.get_json()["errors"]]


def test_a_side_told_twice_alike_is_no_fault(client: FlaskClient) -> None:
    body = case(surf_side="port", settings={"surf_side": "port"})
    assert client.post("/v1/tuning", json=body).status_code == 200


def test_a_sign_alone_is_short_for_one_that_is_clearly_seen(client: FlaskClient) -> None:
    history = [{"lever": "speed", "from": 17.0, "to": 17.6, "did": "better"}]
    alone = case(
        seen=["too_steep", *seen("too_short", strength="slight")],
        history=[history[0] | {"seen": ["white_crest"]}],
    )
    told = case(
        seen=[*seen("too_steep"), *seen("too_short", strength="slight")],
        history=[history[0] | {"seen": seen("white_crest")}],
    )
    short, whole = (client.post("/v1/tuning", json=body) for body in (alone, told))
    assert (short.status_code, short.data) == (200, whole.data)
    strengths = [each["strength"] for each in short.get_json()["seen"]]
    assert strengths == ["clear", "slight"]


def test_the_specification_takes_a_sign_alone_and_says_what_it_is_short_for(
    client: FlaskClient,
) -> None:
    components: Any = client.get("/openapi.json").get_json()["components"]
    documented = components["schemas"]["TuningRequest"]["properties"]["seen"]
    validator = jsonschema.Draft202012Validator(documented | {"components": components})
    for good in (["too_steep"], ["too_steep", *seen("lumps")], "good", []):
        validator.validate(good)
    for bad in (["washy"], [3], "too_steep"):
        assert not validator.is_valid(bad)
    alone = documented["oneOf"][0]["items"]["oneOf"][1]
    assert "`sign`" in alone["description"]
    assert '"clear"' in alone["description"]


@pytest.mark.parametrize(
    ("sign", "told"),
    [
        ("washy", '"washy" is no sign; near it: washed_out, wash_on_top; see '),
        ("Too steep", '"Too steep" is no sign; near it: too_steep, '),
        ("push", '"push" is no sign; near it: too_little_push; see '),
        ("zzz", '"zzz" is no sign; see '),
    ],
)
def test_an_unknown_sign_is_told_with_those_near_it(
    client: FlaskClient, sign: str, told: str
) -> None:
    body = {"boat": "demo-7m", "rider": RIDER, "seen": [{"sign": sign}]}
    (fault,) = client.post("/v1/tuning", json=body).get_json()["errors"]
    assert fault["pointer"] == "/seen/0/sign"
    assert fault["detail"].startswith(told)
    assert fault["detail"].endswith("see GET /v1/tuning/signs.")


def test_an_unknown_move_is_told_with_those_near_it(client: FlaskClient) -> None:
    past = {"lever": "speed", "from": 17, "to": 18, "did": "same", "move": "fast"}
    body = {"boat": "demo-7m", "rider": RIDER, "history": [past]}
    (fault,) = client.post("/v1/tuning", json=body).get_json()["errors"]
    assert fault["pointer"] == "/history/0/move"
    assert fault["detail"] == '"fast" is no move; near it: faster, aft; see GET /v1/tuning/signs.'


def test_the_side_may_be_told_by_the_settings(client: FlaskClient) -> None:
    body = {"boat": "demo-7m", "rider": {"mass": 80}, "settings": {"surf_side": "starboard"}}
    response = client.post("/v1/tuning", json=body)
    assert response.status_code == 200
    assert response.get_json()["surf_side"] == "starboard"
    assert client.post("/v1/tuning", json=body | {"settings": {}}).status_code == 422


@pytest.mark.parametrize(
    ("signs", "gone", "once"),
    [
        (["leans_far"], "people sit without holding on", "back at speed"),
        (["wrong_side"], "the wave is on the ridden side", ""),
        (["faded"], "the wave is back as it was", "on the new line"),
        (["pulled_over", "lumps"], "the water ahead is flat", "on the new line"),
    ],
)
def test_what_to_look_for_belongs_to_what_was_seen(
    client: FlaskClient, signs: list[str], gone: str, once: str
) -> None:
    body = {"boat": "demo-7m", "crew": 6, "rider": RIDER, "seen": signs}
    card = client.post("/v1/tuning", json=body, headers={"Accept": "text/plain"}).text
    look = " ".join(card.partition("LOOK")[2].partition("UNDO IF")[0].split())
    assert look.startswith(gone)
    assert look.endswith(f"30 s {once})" if once else "30 s)")
