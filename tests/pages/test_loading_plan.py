"""The loading plan against the numbers that it is drawn from."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from importlib.resources import files
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from flask.testing import FlaskClient

from service.hydrostatics.equilibrium import sheer_heights
from service.pages import svg
from service.pages.labels import Label, rows_of
from service.pages.loading_plan import loading_plan
from service.pages.scene import Attitude, scene_of
from tests.advice.requests_made import mirrored_boat
from tests.pages.conftest import HOPELESS, MOVING, PLAIN, SINKING, Ask

SVG = "{http://www.w3.org/2000/svg}"
BOATS = ["demo-6m", "demo-7m", "demo-8m"]


def read(text: str) -> ET.Element:
    """The picture as a tree."""
    return ET.fromstring(text)  # noqa: S314 — written by this project


def drawn(ask: Ask, request: dict[str, Any], **more: Any) -> ET.Element:
    advice, system = ask(request, **more)
    return read(loading_plan(scene_of(advice), system))


def words(root: ET.Element) -> list[str]:
    return [found.text or "" for found in root.iter(f"{SVG}text")]


def heel_of(root: ET.Element) -> float:
    """The slope of the deck at half length, starboard down positive (degrees)."""
    deck = next(line for line in root.iter(f"{SVG}line") if line.get("id") == "plan-deck")
    x1, y1, x2, y2 = (float(deck.get(name, "nan")) for name in ("x1", "y1", "x2", "y2"))
    assert x1 < x2, "seen from astern port is on the left"
    return math.degrees(math.atan2(y2 - y1, x2 - x1))


@pytest.mark.parametrize("boat", BOATS)
@pytest.mark.parametrize("stance", ["regular", "goofy"])
def test_the_drawn_heel_is_the_computed_one(ask: Ask, boat: str, stance: str) -> None:
    request = PLAIN | {"boat": boat, "rider": {"stance": stance}}
    advice, system = ask(request)
    heel, trim = advice.at_rest.heel, advice.at_rest.trim
    assert heel is not None
    assert trim is not None
    root = read(loading_plan(scene_of(advice), system))
    # Seen along the water a deck line square to the keel has the slope tan φ cos θ.
    expected = math.degrees(math.atan(math.tan(heel) * math.cos(trim)))
    assert heel_of(root) == pytest.approx(expected, abs=0.01)
    assert heel_of(root) * (1 if stance == "goofy" else -1) > 0.5, "the surf side is down"


def test_heights_above_the_water_are_those_of_the_hydrostatics(ask: Ask) -> None:
    advice, _ = ask(PLAIN)
    rest, hull = advice.at_rest, advice.boat.hull
    assert rest.draft_origin is not None
    assert rest.trim is not None
    assert rest.heel is not None
    attitude = Attitude(rest.draft_origin, rest.trim, rest.heel)
    port, starboard = sheer_heights(hull, rest.draft_origin, rest.trim, rest.heel)
    np.testing.assert_allclose(attitude.above_water(hull.sheer), port, atol=1e-12)
    mirrored = hull.sheer * np.array([1.0, -1.0, 1.0])
    np.testing.assert_allclose(attitude.above_water(mirrored), starboard, atol=1e-12)


def test_turning_keeps_lengths() -> None:
    """Forward, to port and up are square to each other and of length 1: nothing is distorted."""
    attitude = Attitude(sinkage=0.0, trim=0.3, heel=-0.4)
    axes = np.eye(3)
    turned = np.stack([attitude.forward(axes), attitude.to_port(axes), attitude.above_water(axes)])
    np.testing.assert_allclose(turned @ turned.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(turned) == pytest.approx(1.0)


@pytest.mark.parametrize("boat", BOATS)
def test_plan_view_is_to_scale(ask: Ask, boat: str) -> None:
    """Length and breadth of the outline and of a tank have one scale."""
    advice, system = ask(PLAIN | {"boat": boat})
    root = read(loading_plan(scene_of(advice), system))
    outline = next(p for p in root.iter(f"{SVG}path") if p.get("fill") == svg.HULL)
    points = _points(outline.get("d") or "")
    length, breadth = np.ptp(points, axis=0)
    hull = advice.boat.hull
    scale = length / hull.length
    assert breadth / scale == pytest.approx(hull.beam, rel=2e-3)
    tank = advice.boat.tanks[0]
    shown = next(r for r in root.iter(f"{SVG}rect") if r.get("stroke-width") == "1.4")
    assert float(shown.get("width", "nan")) / scale == pytest.approx(tank.length, rel=2e-3)
    assert float(shown.get("height", "nan")) / scale == pytest.approx(tank.width, rel=2e-3)


def _points(d: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    numbers = d.replace("M", " ").replace("L", " ").replace("Z", " ").split()
    return np.array(numbers, float).reshape(-1, 2)


def test_fills_are_drawn_before_and_after(ask: Ask) -> None:
    root = drawn(ask, MOVING)
    said = words(root)
    advice, _ = ask(MOVING)
    tank = next(t for t in advice.setup.tanks if t.tank == "aft-port")
    assert tank.now == 0.6
    assert f"60 → {tank.fill * 100:.0f} %" in said
    hatched = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == "url(#plan-water)"]
    frames = [r for r in root.iter(f"{SVG}rect") if r.get("stroke-width") == "1.4"]
    for fill, frame, setting in zip(hatched, frames, advice.setup.tanks, strict=True):
        share = float(fill.get("width", "nan")) / float(frame.get("width", "nan"))
        assert share == pytest.approx(min(setting.fill, 1.0), abs=2e-3)


def test_everybody_is_in_the_picture(ask: Ask) -> None:
    advice, system = ask(MOVING)
    scene = scene_of(advice)
    assert sum(len(place.seated) for place in scene.places) == 8
    moved = sum(each.moves for each in advice.setup.seating)
    assert sum(len(move.moving) for move in scene.moves) == moved
    root = read(loading_plan(scene, system))
    heads = [t for t in root.iter(f"{SVG}text") if t.get("fill") == svg.PAPER]
    assert sum(int(t.text or "0") for t in heads) == 8


def test_units_are_those_of_the_request(ask: Ask) -> None:
    metric, us = (" ".join(words(drawn(ask, PLAIN, units=u))) for u in ("metric", "us"))
    assert " kg" in metric
    assert " lb" not in metric
    assert " lb" in us
    assert " kg" not in us
    assert "US gal" in us


def test_mirrored_request_gives_the_mirrored_heel(ask: Ask) -> None:
    boat = own_boat("Mirror")
    goofy = drawn(ask, PLAIN, boat=boat, rider={"stance": "goofy", "mass": 80})
    # The driver's seat is to starboard: the mirrored boat has it to port.
    regular = drawn(ask, PLAIN, boat=mirrored_boat(boat), rider={"stance": "regular", "mass": 80})
    assert heel_of(regular) == pytest.approx(-heel_of(goofy), abs=0.01)


def test_a_boat_that_finds_no_rest_is_said_to_find_none(ask: Ask) -> None:
    root = drawn(ask, SINKING)
    assert any("No safe floating position" in said for said in words(root))
    assert not [line for line in root.iter(f"{SVG}line") if line.get("id") == "plan-deck"]


def test_what_is_not_to_be_used_says_so(ask: Ask) -> None:
    assert "Do not go. For reference only" in words(drawn(ask, HOPELESS))
    assert "At rest, as advised" in words(drawn(ask, PLAIN))


def test_no_height_under_water_is_shown_by_a_bare_sign(ask: Ask) -> None:
    said = words(drawn(ask, HOPELESS))
    assert any(word.endswith(" under") for word in said)
    assert not any(
        "-" in word and word.lstrip("-")[:1].isdigit() for word in said if word[:1] == "-"
    )


HOSTILE = "<script>alert(1)</script>\"'&amp; ]]> </svg>"


def own_boat(name: str) -> dict[str, Any]:
    document = json.loads(files("service.boats").joinpath("demo/demo-7m.json").read_text("utf-8"))
    return {**document, "name": name}


def test_a_boat_s_name_is_text_and_never_markup(ask: Ask) -> None:
    advice, system = ask(PLAIN | {"boat": own_boat(HOSTILE)})
    text = loading_plan(scene_of(advice), system)
    root = read(text)
    assert "<script" not in text
    assert not list(root.iter(f"{SVG}script"))
    title = root.find(f"{SVG}title")
    assert title is not None
    assert HOSTILE in (title.text or "")


def test_characters_that_xml_cannot_hold_are_replaced(ask: Ask) -> None:
    advice, system = ask(PLAIN)
    boat = replace(advice.boat, name="a\x00b\x0bc\ud800d\ufffee")
    text = loading_plan(scene_of(replace(advice, boat=boat)), system)
    text.encode()
    read(text)


def test_it_says_what_it_shows(ask: Ask) -> None:
    """WAI-ARIA 1.2: an image has a name; here also a description with every number."""
    root = drawn(ask, PLAIN)
    assert root.get("role") == "img"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    advice, _ = ask(PLAIN)
    board = advice.at_rest.freeboard
    assert board is not None
    assert f"least {100 * board.least:.0f} cm" in (desc.text or "")
    assert "to starboard" in (desc.text or "")


def test_nothing_is_fetched_and_nothing_needs_an_exception_from_the_policy(ask: Ask) -> None:
    for request in (PLAIN, MOVING, HOPELESS, SINKING):
        advice, system = ask(request)
        text = loading_plan(scene_of(advice), system)
        for forbidden in ("style=", "<style", "href=", "@font-face", "<image", "onload="):
            assert forbidden not in text
        assert text.count("http") == 1, "only the name space"


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("ground", [svg.PAPER, svg.HULL, svg.PALE_WATER])
def test_readable_in_sunlight_and_in_grey(ground: str) -> None:
    """WCAG 2.2: text 4.5:1 (1.4.3), graphics 3:1 (1.4.11). Luminance is what grey print keeps."""
    assert contrast(svg.INK, ground) >= 7.0
    if ground != svg.PALE_WATER:
        assert contrast(svg.QUIET, ground) >= 4.5
        assert contrast(svg.SURF, ground) >= 3.0
    assert contrast(svg.WATER, ground) >= 3.0


def test_labels_do_not_cover_each_other() -> None:
    labels = [Label(60.0 + 7 * k, 0.0, (f"tank-number-{k}", "0 → 100 %")) for k in range(14)]
    rows = rows_of(labels, 50, 394)
    assert sum(len(row) for row in rows) == len(labels)
    for row in rows:
        for (left, at), (right, then) in pairwise(row):
            assert then - at >= (left.width + right.width) / 2 - 1e-9
        for label, at in row:
            assert at + label.width / 2 <= 394 + 1e-9
            assert at - label.width / 2 >= 50 - 1e-9


def test_as_svg_and_as_pixels_over_http(client: FlaskClient) -> None:
    svg_ = client.post("/v1/advice", json=PLAIN, headers={"Accept": "image/svg+xml"})
    assert svg_.mimetype == "image/svg+xml"
    read(svg_.text)
    png = client.post("/v1/advice", json=PLAIN, headers={"Accept": "image/png"})
    assert png.mimetype == "image/png"
    # PNG (ISO/IEC 15948): signature, then IHDR with width and height.
    assert png.data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = (int.from_bytes(png.data[k : k + 4], "big") for k in (16, 20))
    assert width == 800
    assert height == pytest.approx(2 * float(read(svg_.text).get("height", "nan")), abs=2)
    assert len(png.data) > 30_000, "text is drawn, on a machine without fonts too"
