"""The pages in a real browser: Chromium, driven by Playwright.

Every page of these tests fails on a request to another machine and on a breach of the policy;
see the ``page`` fixture.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.pages.conftest import HOPELESS, MOVING, PLAIN

FIND = """tags => axe
    .run({ runOnly: { type: 'tag', values: tags }, resultTypes: ['violations'] })
    .then(found => found.violations)"""
"""Only the faults leave the page: what is in order is most of the answer, and most of the time."""
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
US = MOVING | {"units": "us", "crew": 12}
SAVED: dict[str, Any] = {
    "setup": {
        "surf_side": "starboard", "speed": "18.3 km/h",
        "plates": {"centre": 41, "port": 77, "starboard": 0},
        "tanks": [{"tank": "aft-port", "fill": 40}, {"tank": "aft-starboard", "fill": 90}],
    },
    "displacement": "3600 kg", "heel": 1.5, "trim": 2,
}  # fmt: skip
BESIDE = MOVING | {"saved": SAVED}


def api(served: str, request: dict[str, Any], accept: str = "application/json") -> str:
    """``POST /v1/advice`` from outside the browser."""
    asked = Request(  # noqa: S310 — the address is that of our own server
        f"{served}/v1/advice",
        json.dumps(request).encode(),
        {"Content-Type": "application/json", "Accept": accept},
    )
    with urlopen(asked, timeout=30) as answer:  # noqa: S310
        return str(answer.read().decode())


def show_sheet(page: Page, served: str, request: dict[str, Any]) -> None:
    """The sheet as its own page, with its own headers."""
    page.route(
        "**/shown-sheet",
        lambda route: route.fulfill(
            response=page.request.post(
                f"{served}/v1/advice", data=request, headers={"Accept": "text/html"}
            )
        ),
    )
    page.goto("/shown-sheet")
    expect(page.get_by_role("article")).to_be_visible()


def faults(page: Page) -> list[str]:
    """What axe-core finds, of any gravity."""
    page.evaluate(AXE)
    return [
        f"{fault['impact']} {fault['id']}: {fault['nodes'][0]['html'][:120]}"
        for fault in page.evaluate(FIND, WCAG)
    ]


def fill(page: Page) -> None:
    page.goto("/")
    page.get_by_label("Boat", exact=True).select_option("demo-7m")
    page.get_by_role("textbox", name="People aboard").fill("8")
    page.get_by_role("textbox", name="Rider's mass").fill("82")
    page.get_by_label("Stance", exact=True).select_option("goofy")
    page.get_by_label("Board", exact=True).select_option("skim")
    page.get_by_label("Experience", exact=True).select_option("intermediate")


def test_the_form_yields_a_sheet(page: Page, served: str) -> None:
    fill(page)
    page.get_by_role("button", name="Work it out").click()
    sheet = page.get_by_role("article")
    expect(sheet.get_by_role("heading", level=2).first).to_have_text(
        "Brindle Cove 7: starboard wave"
    )
    setup = json.loads(api(served, PLAIN))["setup"]
    expect(sheet.locator(".settings")).to_contain_text(f"{setup['plates']['centre']:g} % down")
    expect(page.locator("#answer")).to_be_focused()
    expect(page.get_by_role("heading", level=1)).to_have_count(1)
    assert faults(page) == []


def test_the_form_works_without_a_script(browser: Browser, served: str) -> None:
    context = browser.new_context(base_url=served, java_script_enabled=False)
    page = context.new_page()
    fill(page)
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("article")).to_contain_text("Brindle Cove 7: starboard wave")
    assert page.get_by_label("Stance", exact=True).input_value() == "goofy"
    context.close()


def test_the_form_works_with_the_keyboard_alone(page: Page) -> None:
    page.goto("/")
    page.locator("#preview svg").wait_for()
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Go to the answer")).to_be_focused()
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        name = page.evaluate("document.activeElement.name || document.activeElement.type")
        reached.append(name)
        if name == "submit":
            break
    assert reached[-1] == "submit"
    for name in ("boat", "crew", "rider.mass", "rider.stance", "rider.wants", "water.depth"):
        assert name in reached
    page.keyboard.press("Enter")
    expect(page.get_by_role("article")).to_be_visible()


@pytest.mark.parametrize("label", ["People aboard while riding", "Rider's mass"])
def test_a_slider_moves_the_picture(page: Page, label: str) -> None:
    page.goto("/")
    page.get_by_label("Boat", exact=True).select_option("demo-7m")
    expect(page.locator("#preview svg desc")).to_contain_text("mid-port")
    before = page.locator("#preview svg desc").text_content()
    slider = page.get_by_role("slider", name=label)
    slider.focus()
    page.keyboard.press("End")
    assert slider.input_value() == page.get_by_role("textbox", name=label).input_value()
    expect(page.locator("#preview svg desc")).not_to_have_text(before or "")
    said = (page.locator("#preview svg desc").text_content() or "").split(" At rest: ")[1]
    expect(page.get_by_role("status")).to_have_text(said)


def heel_on_screen(page: Page) -> float:
    """The slope of the deck line in the page's own coordinates, starboard down positive."""
    return float(
        page.evaluate("""() => {
        const deck = document.querySelector('#plan-deck');
        const at = (x, y) => {
            const point = deck.ownerSVGElement.createSVGPoint();
            point.x = deck[x].baseVal.value; point.y = deck[y].baseVal.value;
            return point.matrixTransform(deck.getScreenCTM());
        };
        const a = at('x1', 'y1'), b = at('x2', 'y2');
        return Math.atan2(b.y - a.y, b.x - a.x) * 180 / Math.PI;
    }""")
    )


@pytest.mark.parametrize("request_", [PLAIN, MOVING, US], ids=["plain", "moving", "us"])
def test_the_picture_s_heel_is_the_json_s(
    page: Page, served: str, request_: dict[str, Any]
) -> None:
    rest = json.loads(api(served, request_))["predicted"]["at_rest"]
    show_sheet(page, served, request_)
    # cos(trim) of a few degrees is within a thousandth of 1.
    assert heel_on_screen(page) == pytest.approx(rest["heel"], abs=0.02)
    side = "starboard" if rest["heel"] > 0 else "port"
    words = f"{abs(rest['heel']):.1f}".removesuffix(".0")
    expect(page.locator(".plan svg")).to_contain_text(f"{words}° to {side}")


@pytest.mark.parametrize("form", ["A4", "Letter"])
@pytest.mark.parametrize(
    "request_",
    [PLAIN, MOVING, US, HOPELESS, BESIDE, HOPELESS | {"saved": SAVED}],
    ids=["plain", "moving", "us", "hopeless", "saved", "hopeless-saved"],
)
def test_a_sheet_prints_on_one_page(
    page: Page, served: str, request_: dict[str, Any], form: str, tmp_path: Path
) -> None:
    show_sheet(page, served, request_)
    pdf = page.pdf(path=tmp_path / "sheet.pdf", format=form)
    # ISO 32000: one /Type /Page object for each page.
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1


def test_a_saved_sheet_looks_and_prints_as_the_served_one(
    page: Page, browser: Browser, served: str, tmp_path: Path
) -> None:
    show_sheet(page, served, PLAIN)
    saved = tmp_path / "sheet.html"
    saved.write_text(api(served, PLAIN, "text/html"), encoding="utf-8")
    alone = browser.new_context(offline=True).new_page()
    wanted: list[str] = []
    alone.on("request", lambda request: wanted.append(request.url))
    alone.goto(saved.as_uri())
    assert wanted == [saved.as_uri()]
    for width in (390, 1280):
        for each in (page, alone):
            each.set_viewport_size({"width": width, "height": 900})
            assert each.evaluate("document.documentElement.scrollWidth") <= width
        assert alone.screenshot(full_page=True) == page.screenshot(full_page=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", alone.pdf(format="A4"))) == 1
    alone.context.close()


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/v1/rules",
        "/v1/rules/centre_plate.rider_mass",
        "/v1/rules/tuning_session.washed_out",
        "/docs",
        "/docs/tutorial",
    ],
)
def test_axe_finds_no_fault_and_nothing_spills_sideways(
    page: Page, address: str, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(address)
    if address == "/":
        page.locator("#preview svg").wait_for()
    assert faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(
    "request_", [MOVING, HOPELESS, BESIDE], ids=["moving", "hopeless", "saved"]
)
def test_axe_finds_no_fault_on_a_sheet(
    page: Page, served: str, request_: dict[str, Any], width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    show_sheet(page, served, request_)
    page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
    assert faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_fault_is_told_beside_its_field(page: Page) -> None:
    page.goto("/")
    mass = page.get_by_role("textbox", name="Rider's mass")
    mass.fill("5000")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("[id='rider.mass-fault']")).to_contain_text("from 15 to 200 kg")
    expect(mass).to_be_focused()
    expect(mass).to_have_attribute("aria-invalid", "true")
    assert faults(page) == []
    mass.fill("80")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("article")).to_be_visible()
    expect(mass).not_to_have_attribute("aria-invalid", "true")


def test_script_and_server_make_the_same_request(page: Page, served: str) -> None:
    fill(page)
    page.get_by_label("steeper", exact=True).check()
    page.get_by_role("textbox", name="Least depth").fill("20 ft")
    with page.expect_request("**/v1/advice") as sent:
        page.get_by_role("button", name="Work it out").click()
    body = sent.value.post_data_json
    assert body == {
        "units": "metric", "boat": "demo-7m", "crew": 8,
        "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate",
                  "wants": ["steeper"]},
        "water": {"kind": "fresh", "depth": "20 ft"},
    }  # fmt: skip


def test_a_reason_opens_to_its_rule(page: Page, served: str) -> None:
    show_sheet(page, served, PLAIN)
    page.get_by_text("Further down for light riders").first.click()
    page.get_by_role("link", name="centre_plate.rider_mass").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "Further down for light riders, up for heavy ones"
    )
    expect(page.get_by_role("img")).to_be_visible()
