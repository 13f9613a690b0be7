"""The try-out page without a script, the rules, the reference and the tutorial."""

from __future__ import annotations

import json
import shlex
from html import unescape
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.datastructures import MultiDict

import rules
from rules import tuning as on_the_water
from rules.model import Rule
from schemas.units import System
from service import create_app
from service.pages import page_texts, texts
from service.pages.rule_pages import all_rules
from service.pages.tryout import request_of
from service.pages.tutorial import BASE, steps
from tests.pages.test_sheet import Reader

BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


def post(client: FlaskClient, fields: list[tuple[str, str]]) -> Any:
    return client.post("/", data=MultiDict(fields), headers=BROWSER)


FILLED = [
    ("units", "metric"), ("boat", "demo-7m"), ("crew", "8"), ("rider.mass", "82"),
    ("rider.stance", "goofy"), ("rider.board", "skim"), ("rider.level", "intermediate"),
    ("rider.wants", "steeper"), ("rider.wants", "longer"), ("water.kind", "fresh"),
    ("water.depth", ""),
]  # fmt: skip


def test_a_form_becomes_the_request_that_it_shows() -> None:
    assert request_of(dict(MultiDict(FILLED).lists())) == {
        "units": "metric",
        "boat": "demo-7m",
        "crew": 8,
        "rider": {
            "mass": "82 kg",
            "stance": "goofy",
            "board": "skim",
            "level": "intermediate",
            "wants": ["steeper", "longer"],
        },
        "water": {"kind": "fresh"},
    }


def test_plain_numbers_are_read_in_the_units_of_the_page_and_others_as_written() -> None:
    form = {"units": ["us"], "rider.mass": ["180"], "water.depth": ["6 m"], "crew": ["many"]}
    assert request_of(form) == {
        "units": "us", "rider": {"mass": "180 lb"}, "water": {"depth": "6 m"}, "crew": "many",
    }  # fmt: skip


def test_a_posted_form_yields_the_same_sheet_as_the_api(client: FlaskClient) -> None:
    response = post(client, FILLED)
    assert response.status_code == 200
    answer = client.post("/v1/advice", json=request_of(dict(MultiDict(FILLED).lists()))).json
    assert answer is not None
    text = Reader(response.text).text
    for caution in answer["cautions"]:
        assert caution["text"] in text
    assert f"{answer['setup']['plates']['centre']:g} % down" in text


def test_the_form_keeps_what_was_filled_in(client: FlaskClient) -> None:
    reader = Reader(post(client, FILLED).text)
    chosen = [a["value"] for a in reader.all("option") if "selected" in a]
    assert chosen == ["demo-7m", "goofy", "skim", "intermediate", "fresh"]
    assert [a["value"] for a in reader.all("input") if "checked" in a] == ["steeper", "longer"]


def test_faults_stand_beside_their_fields(client: FlaskClient) -> None:
    """WCAG 2.2, 3.3.1: the field in error is identified and the error described in text."""
    response = post(client, [*FILLED[:2], ("crew", "many"), ("rider.mass", "5000"),
                             ("rider.stance", "goofy")])  # fmt: skip
    assert response.status_code == 422
    reader = Reader(response.text)
    invalid = {a["name"] for tag in ("input", "select") for a in reader.all(tag)
               if a.get("aria-invalid") == "true"}  # fmt: skip
    assert invalid == {"crew", "rider.mass"}
    assert "from 15 to 200 kg" in reader.text
    assert page_texts.TRY_FAULTS in reader.text


def test_a_boat_that_is_not_there(client: FlaskClient) -> None:
    response = post(client, [("boat", "no-such-boat"), *FILLED[2:]])
    assert response.status_code == 404
    assert "demo-7m" in response.text


def test_hostile_input_comes_back_as_text(client: FlaskClient) -> None:
    hostile = '"><script>alert(1)</script>'
    for name in ("boat", "crew", "rider.mass", "units", "rider.wants", "water.depth"):
        assert "<script>alert" not in post(client, [*FILLED[1:3], (name, hostile)]).text


@pytest.mark.parametrize("system", System)
def test_the_page_speaks_the_units_that_are_asked_for(client: FlaskClient, system: System) -> None:
    reader = Reader(client.get(f"/?units={system.value}", headers=BROWSER).text)
    units = [a["data-unit"] for a in reader.all("input") if "data-unit" in a]
    assert units == (["kg", "m", "m"] if system is System.METRIC else ["lb", "ft", "ft"])


def test_every_field_has_a_label(client: FlaskClient) -> None:
    """WCAG 2.2, 1.3.1 and 4.1.2. Axe looks at the same in the browser."""
    reader = Reader(client.get("/", headers=BROWSER).text)
    labelled = {a["for"] for a in reader.all("label") if "for" in a}
    fields = [
        a for tag in ("input", "select") for a in reader.all(tag)
        if a.get("type") not in ("hidden", "checkbox")
    ]  # fmt: skip
    assert len(fields) == 9
    assert {a["id"] for a in fields} == labelled


@pytest.mark.parametrize("address", ["/", "/docs", "/docs/tutorial", "/v1/rules"])
def test_pages_come_with_the_policy_and_load_only_from_here(
    client: FlaskClient, address: str
) -> None:
    response = client.get(address, headers=BROWSER)
    assert response.status_code == 200
    policy = response.headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    reader = Reader(response.text)
    for tag, name in (("link", "href"), ("script", "src"), ("img", "src"), ("form", "action")):
        for attributes in reader.all(tag):
            assert (attributes[name] or "").startswith("/")
    assert not [a for _, a in reader.elements if "style" in a]
    (title,) = reader.all("html")
    assert title["lang"] == "en"


def test_assets_are_the_project_s_own_and_nothing_else(client: FlaskClient) -> None:
    for name, kind in (("site.css", "text/css"), ("tryout.js", "text/javascript"),
                       ("icon.svg", "image/svg+xml")):  # fmt: skip
        response = client.get(f"/assets/{name}")
        assert (response.status_code, response.mimetype) == (200, kind)
        response.close()
    for name in ("../sheet.py", "..%2fsheet.py", "none.css"):
        assert client.get(f"/assets/{name}").status_code == 404


# Rules


def page_of(client: FlaskClient, rule: Rule) -> str:
    """The words on a rule's own page, which has its title, source and confidence."""
    response = client.get(f"/v1/rules/{rule.id}", headers=BROWSER)
    assert response.status_code == 200
    text = Reader(response.text).text
    assert rule.title in text
    assert rule.source in text
    assert texts.CONFIDENCES[rule.confidence.value] in text
    return text


def test_every_rule_is_on_the_page_and_has_its_own(client: FlaskClient) -> None:
    base = rules.load()
    listed = client.get("/v1/rules", headers=BROWSER).text
    for rule in base.rules.values():
        assert f'id="{rule.id}"' in listed
        text = page_of(client, rule)
        assert "{" not in text, "no placeholder is left"


def test_a_rule_with_a_curve_draws_it(client: FlaskClient) -> None:
    for rule, drawn in (("centre_plate.rider_mass", True), ("centre_plate.board", True),
                        ("lake_care.drain", False)):  # fmt: skip
        page = client.get(f"/v1/rules/{rule}", headers=BROWSER).text
        assert ("<svg" in page) is drawn


def test_rules_stay_json_for_programs(client: FlaskClient) -> None:
    for headers in ({}, {"Accept": "*/*"}, {"Accept": "application/json"}):
        assert client.get("/v1/rules", headers=headers).mimetype == "application/json"
    assert client.get("/v1/rules/none", headers=BROWSER).status_code == 404


def test_searching_needs_no_script(client: FlaskClient) -> None:
    found = client.get("/v1/rules?q=Carbon+MONOXIDE", headers=BROWSER).text
    assert 'id="carbon_monoxide.exhaust"' in found
    assert 'id="centre_plate.board"' not in found
    nothing = client.get("/v1/rules?q=zebra", headers=BROWSER).text
    assert "0 of" in nothing
    hostile = client.get("/v1/rules?q=<script>x</script>", headers=BROWSER).text
    assert "<script>x" not in hostile


def test_search_finds_a_rule_by_any_of_its_words() -> None:
    base, tuning = rules.load(), on_the_water.load()
    for rule in (*base.rules.values(), *tuning.rules.rules.values()):
        assert f'id="{rule.id}"' in all_rules(base, tuning, rule.title)


def test_the_rules_of_the_tuning_are_on_the_page_and_have_their_own(client: FlaskClient) -> None:
    tuning = on_the_water.load()
    listed = client.get("/v1/rules", headers=BROWSER).text
    for rule in tuning.rules.rules.values():
        assert f'id="{rule.id}"' in listed
        text = page_of(client, rule)
        assert all(proposal.move.replace("_", " ") in text for proposal in rule.proposals)
        assert rule.asks in " ".join(text.split())
        assert "{" not in text, "no placeholder is left"
    assert "{" not in Reader(listed).text
    for lever in tuning.levers.values():
        assert f'id="levers.{lever.name}"' in listed
        assert lever.title in Reader(listed).text


def test_every_number_can_be_read_somewhere(client: FlaskClient) -> None:
    """On the page of all rules, or on that of a rule that uses it."""
    pages = [client.get("/v1/rules", headers=BROWSER).text]
    for base in (rules.load(), on_the_water.load().rules):
        pages += [client.get(f"/v1/rules/{rule}", headers=BROWSER).text for rule in base.rules]
        for name in base.parameters:
            assert any(f"<code>{name}</code>" in page for page in pages), name


def test_a_share_is_written_as_it_is(client: FlaskClient) -> None:
    listed = client.get("/v1/rules", headers=BROWSER).text
    assert "<b>0.75</b> a lever earlier in the order of attack" in listed
    chance = on_the_water.load().rules.parameters["tuning_evidence.chance"].value
    assert isinstance(chance, dict)
    words = ", ".join(f"{word} {share:g}" for word, share in chance.items())
    assert f"<b>{words}</b> how likely a wrong look" in listed
    assert "<b>30 s</b> how long to look" in listed
    assert "<b>3 stars</b> rating from which" in listed


def test_a_number_and_a_lever_are_found_by_their_words(client: FlaskClient) -> None:
    found = client.get("/v1/rules?q=imagined+boats", headers=BROWSER).text
    assert "<code>tuning_evidence.imagined</code>" in found
    assert 'id="levers' not in found
    assert 'id="levers.total"' in client.get("/v1/rules?q=more+water", headers=BROWSER).text


def test_the_counts_are_of_both_rule_bases(client: FlaskClient) -> None:
    every = len(rules.load().rules) + len(on_the_water.load().rules.rules)
    found = client.get("/v1/rules?q=e", headers=BROWSER).text
    assert f"{every} of {every} rules contain" in found


# Documentation


def test_reference_has_every_operation_and_every_form(client: FlaskClient) -> None:
    specification = client.get("/openapi.json").json
    assert specification is not None
    reader = Reader(client.get("/docs", headers=BROWSER).text)
    ids = {a["id"] for _, a in reader.elements if "id" in a}
    for path, item in specification["paths"].items():
        assert path in reader.text
        for method in set(item) & {"get", "post", "put", "patch", "delete"}:
            assert item[method].get("summary", "") in reader.text
    for name, schema in specification["components"]["schemas"].items():
        assert f"form-{name}" in ids
        for member in schema.get("properties", {}):
            assert member in reader.text
    anchors = [a["href"] for a in reader.all("a") if (a["href"] or "").startswith("#")]
    assert {a.removeprefix("#") for a in anchors if a} <= ids


def commands(client: FlaskClient) -> list[str]:
    """The tutorial's commands as a reader copies them off the page."""
    page = client.get("/docs/tutorial", headers=BROWSER).text
    blocks = page.split('<pre class="command" tabindex="0"><code>')[1:]
    return [unescape(block.split("</code>")[0]) for block in blocks]


def run(app: Flask, command: str) -> Any:
    """What the shell and curl would do with the command."""
    words = shlex.split(command.replace("\\\n", " "))
    assert words[:2] == ["curl", "-s"]
    address = words[2]
    assert address.startswith(BASE)
    headers, body = {}, None
    for option, value in zip(words[3::2], words[4::2], strict=True):
        if option == "-H":
            name, _, content = value.partition(": ")
            headers[name] = content
        else:
            assert option == "-d"
            body = value
    client = app.test_client()
    method = client.get if body is None else client.post
    return method(address.removeprefix(BASE), data=body, headers=headers)


def pointed(document: Any, pointer: str) -> Any:
    """RFC 6901."""
    for step in pointer.split("/")[1:]:
        name = step.replace("~1", "/").replace("~0", "~")
        document = document[int(name)] if isinstance(document, list) else document[name]
    return document


@pytest.mark.parametrize("number", range(len(steps())))
def test_every_command_of_the_tutorial_answers_what_it_shows(app: Flask, number: int) -> None:
    step = steps()[number]
    shown = commands(app.test_client())
    assert len(shown) == len(steps())
    response = run(app, shown[number])
    assert response.status_code == step.status
    assert step.shows or step.lines
    for pointer, value in step.shows:
        assert pointed(json.loads(response.text), pointer) == value, pointer
    for line in step.lines:
        assert line in response.text


def test_documentation_can_be_read_and_looks_right_before_anybody_has_a_key() -> None:
    client = create_app({"OPEN": False}).test_client()
    for address in ("/docs", "/docs/tutorial", "/assets/site.css", "/assets/icon.svg"):
        response = client.get(address)
        assert response.status_code == 200, address
        response.close()
    assert client.get("/", headers=BROWSER).status_code == 401
    assert client.post("/", data=MultiDict(FILLED), headers=BROWSER).status_code == 401
