"""Boats, riders, set-ups and runs: create, read, replace, patch, delete, list."""

from __future__ import annotations

import base64
from datetime import datetime
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from flask.testing import FlaskClient

from schemas.stored import merge_patch
from tests.resources.conftest import Caller

ANY = {"If-Match": "*"}


def test_a_boat_comes_back_as_it_was_sent(mine: FlaskClient, particulars: dict[str, Any]) -> None:
    made = mine.post("/v1/boats", json={**particulars, "id": "brindle-1"})
    assert (made.status_code, made.headers["Location"]) == (201, "/v1/boats/brindle-1")
    got = mine.get("/v1/boats/brindle-1").get_json()
    assert got == made.get_json()
    assert {name: got[name] for name in particulars} == particulars
    assert (got["version"], got["units"]) == (1, "metric")


def test_an_id_is_taken_once(mine: FlaskClient, particulars: dict[str, Any]) -> None:
    assert mine.post("/v1/boats", json={**particulars, "id": "a"}).status_code == 201
    again = mine.post("/v1/boats", json={**particulars, "id": "a"})
    assert again.status_code == 409
    assert again.get_json(force=True)["title"] == "Id taken"


def test_what_was_sent_in_one_system_reads_the_same_after_the_other(
    mine: FlaskClient, boat: str, particulars: dict[str, Any]
) -> None:
    """180 lb are 180 lb again, and 2.55 m are 2.55 m after someone put them back as feet."""
    sent = {"mass": 180, "units": "us"}
    rider = mine.post("/v1/riders", json=sent).get_json()
    assert rider["mass"] == 180
    # 0.45359237 kg by definition (NIST SP 811, B.8)
    assert mine.get(f"/v1/riders/{rider['id']}").get_json()["mass"] == 81.6466266
    assert mine.get(f"/v1/riders/{rider['id']}?units=us").get_json()["mass"] == 180

    in_feet = mine.get(f"/v1/boats/{boat}?units=us")
    assert in_feet.get_json()["beam"] == pytest.approx(2.55 / 0.3048)
    put = mine.put(
        f"/v1/boats/{boat}", json=in_feet.get_json(), headers={"If-Match": in_feet.headers["ETag"]}
    )
    assert put.status_code == 200
    after = mine.get(f"/v1/boats/{boat}").get_json()
    assert {name: after[name] for name in particulars} == particulars


def test_advice_is_of_the_boat_as_it_is_now(mine: FlaskClient, boat: str) -> None:
    asked = {"boat": boat, "crew": 4, "rider": {"stance": "goofy"}}
    before = mine.post("/v1/advice", json=asked).get_json()
    change = {"light": {"mass": 2400}}
    assert mine.patch(f"/v1/boats/{boat}", json=change, headers=ANY).status_code == 200
    after = mine.post("/v1/advice", json=asked).get_json()
    heavier = (
        after["predicted"]["at_rest"]["displacement"]
        - before["predicted"]["at_rest"]["displacement"]
    )
    tanks = sum(tank["mass"] for tank in after["setup"]["tanks"]) - sum(
        tank["mass"] for tank in before["setup"]["tanks"]
    )
    assert heavier - tanks == pytest.approx(200.0, abs=0.6)


def test_a_rider_by_id_gets_the_advice_of_the_rider_inline(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    inline = {"mass": "82 kg", "stance": "goofy", "level": "intermediate"}
    for units in ("metric", "us"):
        asked = {"boat": boat, "crew": 4, "units": units}
        by_id = mine.post("/v1/advice", json={**asked, "rider": rider})
        assert by_id.status_code == 200
        assert by_id.get_json() == mine.post("/v1/advice", json={**asked, "rider": inline}).json


def test_a_rider_without_a_stance_needs_a_side(mine: FlaskClient, boat: str) -> None:
    rider = mine.post("/v1/riders", json={"mass": 70}).get_json()["id"]
    asked: dict[str, Any] = {"boat": boat, "crew": 4, "rider": rider}
    (fault,) = mine.post("/v1/advice", json=asked).get_json(force=True)["errors"]
    assert fault["pointer"] == "/rider"
    assert mine.post("/v1/advice", json={**asked, "surf_side": "port"}).status_code == 200


# RFC 7396, appendix A: original, patch, result.
MERGE_PATCHES = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"a": "b"}, ["c"], ["c"]),
    ({"a": "foo"}, None, None),
    ({"a": "foo"}, "bar", "bar"),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.mark.parametrize(("original", "patch", "result"), MERGE_PATCHES)
def test_merge_patches_are_those_of_rfc_7396(original: Any, patch: Any, result: Any) -> None:
    assert merge_patch(original, patch) == result


def test_a_patch_changes_what_it_names(mine: FlaskClient, rider: str) -> None:
    patched = mine.patch(
        f"/v1/riders/{rider}",
        data=b'{"mass": "190 lb", "name": null}',
        content_type="application/merge-patch+json",
        headers={"If-Match": '"1"'},
    )
    assert (patched.status_code, patched.headers["ETag"]) == (200, '"2"')
    got = mine.get(f"/v1/riders/{rider}").get_json()
    assert (got["mass"], got["stance"], got["version"]) == (86.1825503, "goofy", 2)
    assert "name" not in got


@pytest.mark.parametrize(
    ("patch", "pointer"),
    [
        ({"mass": 1000}, "/mass"),
        ({"mass": "82 km"}, "/mass"),
        ({"colour": "red"}, "/colour"),
        ({"id": "other"}, "/id"),
        ({"units": "stone"}, "/units"),
        ([], ""),
    ],
)
def test_a_patch_to_something_invalid_changes_nothing(
    mine: FlaskClient, rider: str, patch: Any, pointer: str
) -> None:
    refused = mine.patch(f"/v1/riders/{rider}", json=patch, headers=ANY)
    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.get_json(force=True)["errors"]] == [pointer]
    assert mine.get(f"/v1/riders/{rider}").get_json()["version"] == 1


def test_a_change_needs_the_version_that_was_seen(mine: FlaskClient, rider: str) -> None:
    """RFC 9110, 13.1.1, and RFC 6585, 3."""
    address, body = f"/v1/riders/{rider}", {"mass": 80}
    for method in ("PUT", "PATCH", "DELETE"):
        for tag, status in ((None, 428), ('"2"', 412), ('W/"1"', 412), ("1x", 412)):
            headers = {} if tag is None else {"If-Match": tag}
            answer = mine.open(address, method=method, json=body, headers=headers)
            assert (answer.status_code, answer.mimetype) == (status, "application/problem+json")
    assert mine.get(address).get_json()["version"] == 1
    assert mine.put(address, json=body, headers={"If-Match": '"7", "1"'}).status_code == 200
    assert mine.delete(address, headers={"If-Match": '"2"'}).status_code == 204
    assert mine.get(address).status_code == 404
    assert mine.delete(address, headers=ANY).status_code == 404


@pytest.mark.parametrize("tag", ["*", '"1"', 'W/"1"', '"7", "1-us"'])
@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE"])
def test_what_if_none_match_names_is_not_changed(
    mine: FlaskClient, rider: str, method: str, tag: str
) -> None:
    """RFC 9110, 13.1.2, compared weakly, and after If-Match (13.2.2)."""
    address, body = f"/v1/riders/{rider}", {"mass": 80}
    for headers in ({}, ANY):
        named = {**headers, "If-None-Match": tag}
        refused = mine.open(address, method=method, json=body, headers=named)
        assert (refused.status_code, refused.mimetype) == (412, "application/problem+json")
        assert "If-None-Match" in refused.get_json(force=True)["detail"]
    assert mine.get(address).get_json()["version"] == 1
    other = {**ANY, "If-None-Match": '"7"'}
    assert mine.open(address, method=method, json=body, headers=other).status_code in (200, 204)


def test_what_has_not_changed_is_not_sent_again(mine: FlaskClient, rider: str) -> None:
    tag = mine.get(f"/v1/riders/{rider}").headers["ETag"]
    again = mine.get(f"/v1/riders/{rider}", headers={"If-None-Match": tag})
    assert (again.status_code, again.data) == (304, b"")
    in_pounds = mine.get(f"/v1/riders/{rider}?units=us", headers={"If-None-Match": tag})
    assert in_pounds.status_code == 200


def test_pages_lead_from_one_to_the_next(mine: FlaskClient) -> None:
    made = [mine.post("/v1/riders", json={"name": f"R{n}"}).get_json()["id"] for n in range(5)]
    seen: list[str] = []
    address: str | None = "/v1/riders?limit=2&units=us"
    while address:
        page = mine.get(address)
        body = page.get_json()
        seen += [item["id"] for item in body["items"]]
        address = body["next"]
        # RFC 8288
        assert page.headers.get("Link") == (address and f'<{address}>; rel="next"')
    assert seen == made
    for query in ("limit=0", "limit=201", "limit=x", "after=x", "after=LTE=", "offset=3"):
        refused = mine.get(f"/v1/riders?{query}")
        assert refused.status_code == 422
        assert refused.get_json(force=True)["errors"][0]["parameter"] == query.split("=")[0]


def test_page_goes_on_where_a_rider_was_erased(mine: FlaskClient) -> None:
    made = [mine.post("/v1/riders", json={"name": f"R{n}"}).get_json()["id"] for n in range(4)]
    address = mine.get("/v1/riders?limit=2").get_json()["next"]
    assert mine.delete(f"/v1/riders/{made[1]}?erase=true", headers=ANY).status_code == 204
    assert [item["id"] for item in mine.get(address).get_json()["items"]] == made[2:]


def test_cursor_tells_nothing_of_other_outfits(mine: FlaskClient, caller: Caller) -> None:
    """The rows of all outfits are numbered together; what a cursor holds, the answer shows too."""
    other = caller()
    first = mine.post("/v1/riders", json={"name": "A"}).get_json()
    cursors = []
    for _ in range(2):
        mine.post("/v1/riders", json={"name": "B"})
        other.post("/v1/riders", json={"name": "C"})
        address = mine.get("/v1/riders?limit=1").get_json()["next"]
        cursors.append(parse_qs(urlsplit(address).query)["after"][0])
    assert cursors[0] == cursors[1]
    created, moment, row_id = base64.urlsafe_b64decode(cursors[0]).decode().split(".")
    assert row_id == first["id"]
    assert moment == ""
    shown = datetime.fromisoformat(first["created"]).timestamp()
    assert int(created) == round(shown * 1e6)


def test_filters(mine: FlaskClient, boat: str, rider: str) -> None:
    mine.post("/v1/riders", json={"name": "Bea", "level": "expert"})

    def names(query: str) -> list[str]:
        return [item["name"] for item in mine.get(f"/v1/riders?{query}").get_json()["items"]]

    assert names("name=a") == ["Ada"]
    assert names("name=%25") == names("name=_") == []
    assert names("level=expert") == ["Bea"]
    for rating in (2, 5):
        sent: dict[str, Any] = {"boat": boat, "rider": rider, "rating": rating, "settings": {}}
        assert mine.post("/v1/setups", json=sent).status_code == 201
    for query, found in (
        ("rating=3", 1), (f"boat={boat}", 2), (f"rider={rider}&rating=1", 2), ("boat=other", 0),
    ):  # fmt: skip
        assert len(mine.get(f"/v1/setups?{query}").get_json()["items"]) == found


def test_a_setup_has_only_what_the_boat_has(mine: FlaskClient, boat: str) -> None:
    sent: dict[str, Any] = {
        "boat": boat,
        "crew": [{"seat": "roof"}],
        "settings": {"tanks": {"bow": 120, "attic": 1}, "plates": {"centre": 101}},
    }
    refused = mine.post("/v1/setups", json=sent)
    assert refused.status_code == 422
    sent["settings"] = {"tanks": {"bow": 120, "attic": 1}}
    also = mine.post("/v1/setups", json=sent)
    pointers = {
        fault["pointer"]
        for answer in (refused, also)
        for fault in answer.get_json(force=True)["errors"]
    }
    assert {"/crew/0/seat", "/settings/plates/centre"} <= pointers
    sent["crew"] = 3
    last = mine.post("/v1/setups", json=sent).get_json(force=True)["errors"]
    assert {fault["pointer"] for fault in last} == {"/settings/tanks/bow", "/settings/tanks/attic"}


def test_a_boat_that_was_deleted_stays_in_its_history(
    mine: FlaskClient, boat: str, rider: str
) -> None:
    run = mine.post("/v1/runs", json={"request": {"boat": boat, "crew": 2, "rider": rider}})
    assert mine.delete(f"/v1/boats/{boat}", headers=ANY).status_code == 204
    assert mine.get(f"/v1/boats/{boat}").status_code == 404
    asked = {"boat": boat, "crew": 2, "rider": rider}
    assert mine.post("/v1/advice", json=asked).status_code == 404
    address = f"/v1/runs/{run.get_json()['id']}"
    assert mine.get(address).get_json() == run.get_json()
    rated = mine.patch(address, json={"rating": 4, "settings": {"speed": 18}}, headers=ANY)
    assert rated.status_code == 200


def test_nul_finds_nothing(mine: FlaskClient, rider: str) -> None:
    assert mine.get("/v1/riders/a%00b").status_code == 400
    assert mine.get("/v1/riders?name=a%00b").status_code == 400
    assert mine.post("/v1/riders", json={"notes": "a\0b"}).status_code == 422
    assert mine.post("/v1/riders", json={"name": "a\0b"}).status_code == 422
    assert mine.post("/v1/advice", json={"boat": "a\0b", "rider": {}}).status_code == 404
