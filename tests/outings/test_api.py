"""``POST /v1/outing-plans``: what comes in, and the forms of the answer."""

from __future__ import annotations

import copy
import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from typing import Any

import icalendar
import pytest
from flask.testing import FlaskClient

from schemas.outing_answer import UNSAFE_FIRST, of_turns
from schemas.outing_calendar import escaped, folded
from service import create_app
from tests.advice.requests_made import BOATS, OTHER, mirrored_boat, swapped
from tests.api.test_answers import Specification
from tests.outings.boats import body


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app({"TESTING": True}).test_client()


def ask(client: FlaskClient, told: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/outing-plans", json=told)
    assert response.status_code == 200, response.get_data(as_text=True)
    assert response.json is not None
    answer: dict[str, Any] = response.json
    return answer


def written(client: FlaskClient, told: dict[str, Any], media_type: str) -> str:
    response = client.post("/v1/outing-plans", json=told, headers={"Accept": media_type})
    assert response.status_code == 200
    assert response.mimetype == media_type
    return response.get_data(as_text=True)


def test_each_turn_says_in_full_what_its_advice_request_is_answered(client: FlaskClient) -> None:
    for turn in ask(client, body(4, crew=[{"mass": "91.3 kg", "seat": "helm"}]))["turns"]:
        advice = client.post("/v1/advice", json=turn["advice_request"]).json
        assert advice is not None
        for name in ("surf_side", "speed", "plates"):
            assert turn["setup"][name] == advice["setup"][name]
        fills = [(tank["tank"], tank["fill"]) for tank in advice["setup"]["tanks"]]
        assert [(tank["tank"], tank["fill"]) for tank in turn["setup"]["tanks"]] == fills
        assert turn["verdict"] == advice["verdict"]
        assert turn["cautions"] == [caution["rule"] for caution in advice["cautions"]]
        rest = advice["predicted"]["at_rest"]
        assert turn["predicted"]["heel"] == pytest.approx(rest["heel"], abs=0.05)
        assert turn["predicted"]["least_freeboard"] == pytest.approx(
            rest["freeboard"]["least"], abs=0.01
        )


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("mode", ["each", "one_per_side", "one_for_all"])
def test_the_answer_has_the_documented_shape(client: FlaskClient, units: str, mode: str) -> None:
    told = body(3, units=units, mode=mode, fuel_use="7 gal/h", total_time="40 min")
    for rider in told["riders"]:
        rider["rider"]["mass"] = "70 kg"
    Specification(client).hold("/v1/outing-plans", "post", ask(client, told))


def test_while_the_verdict_is_not_to_go_all_forms_say_what_comes_first(client: FlaskClient) -> None:
    """The maker's plate of the invented boat says 11 people: 11 and two riders' are 13."""
    told = body(2, "demo-6m", crew=11)
    held = ask(client, told)["not_yet"]
    assert any("2 people" in step and "larger boat" in step for step in held["first"])
    assert held["text"].startswith("Do not use these settings or fill any tank. First:")
    for media_type, after in (("text/plain", " change "), ("text/html", ">Time</th>")):
        text = " ".join(written(client, told, media_type).split())
        assert text.index(held["text"]) < text.index(after)
    events = written(client, told, "text/calendar").replace("\r\n ", "")
    assert events.count("NOT YET: Do not use these settings") == events.count("BEGIN:VEVENT")


def test_what_makes_any_part_unsafe_comes_first_too(client: FlaskClient) -> None:
    told = body(
        2, "demo-6m", loads=[{"mass": 1900, "x": 1.0, "y": 0, "z": 0.8}], ballast={"aft-port": 100}
    )
    held = ask(client, told)["not_yet"]
    assert held["first"][-1] == UNSAFE_FIRST
    assert ask(client, body(2))["not_yet"] is None


def test_what_comes_first_for_some_turns_alone_names_them() -> None:
    caution = {"action": "Take weight off.", "turns": [1, 3]}
    assert of_turns(caution, 3) == "Turns 1, 3: Take weight off."
    assert of_turns(caution | {"turns": [2]}, 3) == "Turn 2: Take weight off."
    assert of_turns(caution, 2) == "Take weight off."


FACING = {
    "surf_side.regular_on_starboard": "surf_side.goofy_on_port",
    "surf_side.goofy_on_port": "surf_side.regular_on_starboard",
}


def mirrored(told: dict[str, Any]) -> dict[str, Any]:
    told = copy.deepcopy(told)
    told["boat"] = mirrored_boat(told["boat"])
    for rider in told["riders"]:
        rider["rider"]["stance"] = {"regular": "goofy", "goofy": "regular"}[
            rider["rider"]["stance"]
        ]
        if "seat" in rider:
            rider["seat"] = swapped(rider["seat"])
    told["ballast"] = {swapped(tank): fill for tank, fill in told["ballast"].items()}
    return told


def seen_in_a_mirror(value: Any, key: str = "") -> Any:
    """An answer with port and starboard swapped, and every heel turned."""
    if isinstance(value, dict):
        if key in ("plates", "plates_before"):
            return {OTHER.get(name, name): travel for name, travel in value.items()}
        return {name: seen_in_a_mirror(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        inner = [seen_in_a_mirror(each, key) for each in value]
        if key in ("tanks", "seating"):  # listed in the order of the boat
            inner.sort(key=lambda each: str(each.get("tank") or each.get("seat")))
        return inner
    if isinstance(value, str):
        if key == "cautions":
            return FACING.get(value, value)
        if key == "surf_side":
            return OTHER[value]
        return swapped(value) if key in ("tank", "seat", "from", "to") else value
    return -value + 0.0 if key == "heel" and value is not None else value


@pytest.mark.parametrize("boat", sorted(BOATS))
@pytest.mark.parametrize("mode", ["each", "one_for_all"])
def test_the_mirrored_request_gets_the_mirrored_plan(
    client: FlaskClient, boat: str, mode: str
) -> None:
    plain = copy.deepcopy(BOATS[boat])
    plain["light"]["y"] = 0.02
    told = body(5, mode=mode, ballast={"aft-port": 20})
    told["boat"] = plain
    told["riders"][0]["seat"] = "bench-port"
    one, other = ask(client, told), ask(client, mirrored(told))
    for name in ("turns", "way_home", "way_out"):
        for each in [*one["turns"], *other["turns"]]:
            each.pop("advice_request", None)
        left = seen_in_a_mirror(one[name], name)
        # Sorted in the same way, which the mirror of a mirror does.
        assert left == seen_in_a_mirror(seen_in_a_mirror(other[name], name), name)
    assert one["totals"] == other["totals"]
    assert one["verdict"] == other["verdict"]


def test_the_table_for_the_dock_is_narrow_and_says_everything(client: FlaskClient) -> None:
    told = body(12, "demo-8m", mode="each")
    told["riders"][0]["name"] = "A name that is 24 long.."
    text, answer = written(client, told, "text/plain"), ask(client, told)
    lines = text.splitlines()
    assert max(map(len, lines)) <= 100
    assert not re.search(r"(?<![\w-])-\d", text.replace("-" * 100, ""))  # never a bare sign
    for turn in answer["turns"]:
        row = next(line for line in lines if line.startswith(f"{turn['turn']:>2} "))
        assert turn["rider"] in row
        assert turn["setup"]["surf_side"].upper() in row
        assert "/".join(f"{tank['fill']:.0f}" for tank in turn["setup"]["tanks"]) in row
        assert datetime.fromisoformat(turn["start_time"]).strftime("%H:%M") in row
    assert "WAY HOME" in text
    assert text.count("SIDE CHANGES") == answer["totals"]["side_changes"] >= 1
    assert "less than wanted" in " ".join(text.split())


def test_the_first_turn_tells_where_everybody_sits(client: FlaskClient) -> None:
    told = body(4)
    text, answer = written(client, told, "text/plain"), ask(client, told)
    first = " ".join(text.partition("\n 1 ")[2].partition(" change ")[0].split())
    for group in answer["turns"][0]["setup"]["seating"]:
        assert f"{group['seat']}: {', '.join(group['people'])}" in first


@pytest.mark.parametrize("units", ["metric", "us"])
def test_defaults_stand_on_the_page_with_their_units(client: FlaskClient, units: str) -> None:
    told = {
        "boat": "demo-7m",
        "crew": 2,
        "units": units,
        "riders": [{"rider": {"stance": "goofy"}}],
    }
    page = written(client, told, "text/html").partition('class="assumed"')[2]
    shown = dict(re.findall(r"<code>(.*?)</code> <b>(.*?)</b>", page))
    # 84 kg is 185 lb (46 CFR 170.090); 0.4 L/min are 0.1 US gal/min.
    wanted = {
        "metric": ("84 kg", "20 °C", "0.4 L/min"), "us": ("185.2 lb", "68 °F", "0.1 US gal/min")
    }[units]  # fmt: skip
    names = ("/crew/*/mass", "/water/temperature", "/fuel_use")
    assert tuple(shown[name] for name in names) == wanted
    assert shown["/boarding"] == "1 min"
    assert shown["/fuel"] == "50 %"


def test_without_a_start_the_table_counts_from_setting_out(client: FlaskClient) -> None:
    told = body(2)
    del told["start"]
    text = written(client, told, "text/plain")
    assert re.search(r"^ 1  0:0\d-0:\d\d ", text, re.MULTILINE)
    assert ask(client, told)["turns"][0]["start_time"] is None


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "br", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_needs_no_script_and_escapes_names(client: FlaskClient) -> None:
    told = body(3, mode="one_for_all")
    told["riders"][0]["name"] = "<b>Alva</b> & co"
    response = client.post("/v1/outing-plans", json=told, headers={"Accept": "text/html"})
    page = response.get_data(as_text=True)
    assert "default-src 'none'" in response.headers["Content-Security-Policy"]
    assert response.text.count("<style>") == 1
    tags = _Tags()
    tags.feed(page)
    assert not tags.open
    names = [tag for tag, _ in tags.seen]
    assert "script" not in names
    assert not any(name.startswith("on") or name == "style" for _, a in tags.seen for name in a)
    assert "&lt;b&gt;Alva&lt;/b&gt; &amp; co" in page
    assert names.count("table") == 3
    assert "Way home" in page


def test_a_calendar_library_reads_the_calendar(client: FlaskClient) -> None:
    """icalendar, a general-purpose library for RFC 5545."""
    told = body(4)
    told["riders"][1]["name"] = "Ünal; Bøe, Ω\\n"
    text, answer = written(client, told, "text/calendar"), ask(client, told)
    found = icalendar.Calendar.from_ical(text)
    assert not found.errors
    assert str(found["VERSION"]) == "2.0"
    events = list(found.walk("VEVENT"))
    assert len(events) == 5
    assert len({str(event["UID"]) for event in events}) == 5
    for event, turn in zip(events, answer["turns"], strict=False):
        assert not event.errors
        assert event.decoded("DTSTART") == datetime.fromisoformat(turn["start_time"])
        assert event.decoded("DTEND") == datetime.fromisoformat(turn["end_time"])
        assert str(event["SUMMARY"]) == f"{turn['rider']}: {turn['setup']['surf_side']} wave"
        assert f"speed {turn['setup']['speed']:g}" in str(event["DESCRIPTION"]).replace(",", "")
        assert isinstance(event.decoded("DTSTAMP"), datetime)
    assert str(events[-1]["SUMMARY"]) == "Way home"
    start = datetime(2026, 7, 4, 8, tzinfo=UTC)
    assert timedelta(0) < events[0].decoded("DTSTART") - start < timedelta(minutes=15)
    for line in text.split("\r\n"):
        assert len(line.encode()) <= 75  # RFC 5545, 3.1
    assert "\n" not in text.replace("\r\n", "")


def test_lines_are_folded_between_characters() -> None:
    """RFC 5545, 3.1: no more than 75 octets, which a character may have several of."""
    line = "SUMMARY:" + escaped("Ω, " * 60)
    parts = list(folded(line))
    assert all(len(part.encode()) <= 75 for part in parts)
    assert parts[0] + "".join(part.removeprefix(" ") for part in parts[1:]) == line


def test_a_calendar_without_a_start_is_refused(client: FlaskClient) -> None:
    told = body(2)
    del told["start"]
    response = client.post("/v1/outing-plans", json=told, headers={"Accept": "text/calendar"})
    assert response.status_code == 422
    assert response.mimetype == "application/problem+json"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"crew": 0}, "/crew"),
        ({"riders": []}, "/riders"),
        ({"riders": [{"rider": {"mass": 70}}]}, "/riders/0/rider"),
        ({"riders": [{"rider": {"stance": "goofy"}, "seat": "mast"}]}, "/riders/0/seat"),
        ({"riders": [{"rider": {"stance": "goofy"}, "turns": 7}]}, "/riders/0/turns"),
        (
            {"riders": [{"rider": {"stance": "goofy"}, "wishes": ["last", "not_last"]}]},
            "/riders/0/wishes",
        ),
        ({"riders": [{"rider": {"stance": "goofy"}, "turns": 6}] * 7}, "/riders"),
        ({"riders": [{"rider": {"stance": "goofy"}}] * 30, "crew": 31}, "/riders"),
        ({"start": "2026-07-04T10:00:00"}, "/start"),
        ({"fuel_use": "25 L"}, "/fuel_use"),
        ({"total_time": "2 kg"}, "/total_time"),
        ({"mode": "other"}, "/mode"),
        ({"riders": [{"rider": {"stance": "goofy"}, "saved": {}}]}, "/riders/0/saved/setup"),
    ],
)
def test_a_fault_is_named_with_its_place(
    client: FlaskClient, change: dict[str, Any], pointer: str
) -> None:
    response = client.post("/v1/outing-plans", json=body(2) | change)
    assert response.status_code == 422
    assert response.json is not None
    assert pointer in [fault["pointer"] for fault in response.json["errors"]]


def test_an_answer_of_advice_can_be_sent_as_a_saved_set_up(client: FlaskClient) -> None:
    told = body(2)
    turn = ask(client, told)["turns"][0]
    advice = client.post("/v1/advice", json=turn["advice_request"]).json
    assert advice is not None
    rest = advice["predicted"]["at_rest"]
    number = next(n for n, r in enumerate(told["riders"]) if r["name"] == turn["rider"])
    told["riders"][number]["saved"] = {
        "setup": {name: value for name, value in advice["setup"].items() if name != "seating"},
        "displacement": rest["displacement"], "heel": rest["heel"], "trim": rest["trim"],
    }  # fmt: skip
    again = next(t for t in ask(client, told)["turns"] if t["rider"] == turn["rider"])
    assert again["source"] == "saved"
    assert again["setup"]["speed"] == turn["setup"]["speed"]
    assert again["setup"]["plates"] == turn["setup"]["plates"]


def test_what_is_the_same_for_several_is_said_once(client: FlaskClient) -> None:
    told = body(3, total_time="40 min")
    text = written(client, told, "text/plain")
    assert text.count("less than wanted") == 1
    assert "- Everybody rides" in text
    told["riders"][1]["minutes"] = 4
    text = written(client, told, "text/plain")
    assert "- Each of Alva, Cleo rides" in text
    page = written(client, told, "text/html")
    assert "<li>Each of Alva, Cleo rides" in page
    assert "<code>/riders/0/minutes</code>" in page
    assert "<code>/riders/*/minutes</code>" in written(client, body(3), "text/html")
    assert '<time datetime="2026-07-04T10:00:00+02:00">04 Jul 2026, 10:00 UTC+02:00<' in page


def test_names_are_told_apart(client: FlaskClient) -> None:
    told = body(3)
    for rider in told["riders"]:
        rider["name"] = "Kim"
    del told["riders"][2]["name"]
    names = {turn["rider"] for turn in ask(client, told)["turns"]}
    assert names == {"Kim", "Kim (2)", "rider 3"}
