"""The HTML sheet: says what the JSON says, cautions first, nothing of it needs a script."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

import rules
import service.pages
from schemas.not_yet import SET_NOTHING, THEN
from service.pages import texts
from service.pages.sheet import HELD
from service.pages.wake import DEPTHS, DISTANCES, wake
from tests.pages.conftest import HOPELESS, MOVING, PLAIN, SINKING, Ask
from tests.pages.test_loading_plan import HOSTILE, own_boat

Html = Callable[[dict[str, Any]], str]


class Reader(HTMLParser):
    """Elements with their attributes, and the text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str) -> Iterator[dict[str, str | None]]:
        return (attributes for found, attributes in self.elements if found == tag)


@pytest.mark.parametrize("request_", [PLAIN, MOVING, HOPELESS, SINKING])
def test_it_says_what_the_json_says(
    html: Html, client: FlaskClient, request_: dict[str, Any]
) -> None:
    answer = client.post("/v1/advice", json=request_).json
    assert answer is not None
    text = Reader(html(request_)).text
    assert texts.VERDICTS[answer["verdict"]] in text
    for caution in answer["cautions"]:
        assert caution["text"] in text
    for reason in answer["reasons"]:
        assert reason["title"] in text
    for tank in answer["setup"]["tanks"]:
        assert tank["tank"] in text
    for seen in answer["watch_for"]:
        assert seen["look"] in text


def test_cautions_stand_before_the_settings_and_the_gravest_first(html: Html) -> None:
    page = html(HOPELESS)
    order = [page.index(part) for part in ('class="danger"', 'class="warning"', 'class="notes"',
                                           'class="settings"', 'class="reasons"')]  # fmt: skip
    assert order == sorted(order)


def test_a_set_up_that_is_not_to_be_used_says_so_where_it_stands(
    html: Html, client: FlaskClient
) -> None:
    answer: Any = client.post("/v1/advice", json=HOPELESS).json
    before, _, after = html(HOPELESS).partition('class="settings"')
    settings = after.partition("</section>")[0]
    assert HELD in Reader(settings).text
    assert all(sentence in answer["not_yet"]["text"] for sentence in (SET_NOTHING, THEN))
    assert answer["not_yet"]["first"]
    assert all(action in Reader(before).text for action in answer["not_yet"]["first"])
    assert "fill any tank" in settings
    assert "Set up none of these numbers" not in html(PLAIN)


NUMBER = re.compile(r"([+−]?)\s*(−?[\d.]+)\s")


@pytest.mark.parametrize("request_", [PLAIN, MOVING, HOPELESS, PLAIN | {"units": "us"}])
def test_every_sum_that_a_reader_adds_up_comes_out(html: Html, request_: dict[str, Any]) -> None:
    sums = re.findall(r'<span class="steps">(.*?)= <b>(.*?)</b>', html(request_), re.DOTALL)
    assert len(sums) >= 9
    for steps, total in sums:
        plain = re.sub(r"<a .*?</a>", "", steps) + " "
        added = 0.0
        for sign, size in NUMBER.findall(plain):
            added += float(size.replace("−", "-")) * (-1 if sign == "−" else 1)
        number = re.match(r"−?[\d.]+", total)
        assert number is not None
        assert added == pytest.approx(float(number[0].replace("−", "-")), abs=0.005), steps


def test_every_link_leads_somewhere(html: Html, client: FlaskClient) -> None:
    reader = Reader(html(MOVING))
    links = {a["href"] for a in reader.all("a")} | {a["href"] for a in reader.all("link")}
    assert len(links) > 20
    for link in links:
        assert link is not None
        found = client.get(link, headers={"Accept": "text/html, text/css, image/svg+xml"})
        assert found.status_code == 200, link
        found.close()


def test_it_needs_no_script_and_one_style(html: Html) -> None:
    """The style goes along, so that a saved sheet prints; no element has one of its own."""
    for request in (PLAIN, HOPELESS):
        page = html(request)
        reader = Reader(page)
        assert not list(reader.all("script"))
        assert len(list(reader.all("style"))) == 1
        assert not [a for _, a in reader.elements if "style" in a]
        assert not [a for _, a in reader.elements if any(name.startswith("on") for name in a)]


def test_ids_are_unique_and_what_refers_to_them_finds_them(html: Html) -> None:
    reader = Reader(html(MOVING))
    ids = [a["id"] for _, a in reader.elements if "id" in a]
    assert len(ids) == len(set(ids))
    for _, attributes in reader.elements:
        for name in ("aria-labelledby", "aria-describedby"):
            for wanted in (attributes.get(name) or "").split():
                assert wanted in ids


def test_a_boat_s_name_is_text_and_never_markup(html: Html) -> None:
    page = html(PLAIN | {"boat": own_boat(HOSTILE)})
    assert "<script" not in page
    assert HOSTILE in " ".join(Reader(page).words)


def test_the_policy_forbids_what_is_not_from_here(client: FlaskClient) -> None:
    """Content Security Policy Level 3."""
    for form in ("text/html", "image/svg+xml"):
        response = client.post("/v1/advice", json=PLAIN, headers={"Accept": form})
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy
        assert response.headers["X-Content-Type-Options"] == "nosniff"


# Wake responsibility


def test_published_figures_stand_side_by_side_with_their_sources(html: Html) -> None:
    text = Reader(html(MOVING)).text
    base = rules.load()
    for name in (*DEPTHS, *DISTANCES):
        assert base.parameters[name].source in text
    for value in ("61 m", "152 m", "300 m", "4.6 m", "6.1 m"):
        assert value in text


def test_which_figures_the_outfit_s_rules_use(ask: Ask) -> None:
    """What a rule does below a figure, read off the rule base."""
    advice, system = ask(MOVING)
    found = wake(advice, system)
    assert [row.met for row in found.distances] == ["met", "not met", "not met"]
    assert [row.met for row in found.depths] == ["met", "not met"]
    nearest, middle, _ = found.distances
    assert nearest.policy == texts.WAKE_USES["go_with_care"]
    assert nearest.rules == ("shore.too_near",)
    assert middle.policy == texts.WAKE_USES["caution"]


def test_a_local_figure_is_marked_and_shown(ask: Ask) -> None:
    from dataclasses import replace

    advice, system = ask(PLAIN)
    local = rules.load().with_values({"shore.nearest": 90.0})
    found = wake(replace(advice, base=local), system)
    assert found.distances[0].value == "90 m"
    assert texts.WAKE_LOCAL in found.distances[0].policy
    assert texts.WAKE_LOCAL not in found.distances[1].policy


def test_depth_not_told_is_said_not_to_be_known(ask: Ask) -> None:
    advice, system = ask(PLAIN)
    found = wake(advice, system)
    assert found.froude == texts.WAKE_FROUDE_UNKNOWN
    assert {row.met for row in (*found.depths, *found.distances)} == {texts.WAKE_UNKNOWN}


@pytest.mark.parametrize(("depth", "words"), [(30, "deep water"), (3.5, "felt"), (2, "no steady")])
def test_depth_froude_number_is_told_with_its_meaning(ask: Ask, depth: float, words: str) -> None:
    """EM 1110-2-1100 as quoted: below 0.7 deep, up to 1 transcritical, then supercritical."""
    advice, system = ask(PLAIN | {"water": {"depth": depth}})
    found = wake(advice, system)
    assert float(found.froude) == pytest.approx(advice.wave.depth_froude or -1, abs=0.005)
    assert words in found.meaning


# The catalogue


def test_every_text_of_the_templates_stands_in_the_catalogue() -> None:
    """Between tags of a template stand expressions and punctuation, no words."""
    folder = Path(service.pages.__file__).parent / "templates"
    allowed = {"html", "id"}  # the doctype; the word that is the same in every language
    for template in folder.glob("*.html"):
        bare = re.sub(r"\{[{%#].*?[}%#]\}", " ", template.read_text("utf-8"), flags=re.DOTALL)
        words = re.findall(r"[A-Za-z]{2,}", re.sub(r"<[^>]*>", " ", bare))
        words = [w for w in words if w not in allowed and not w.startswith("openapi")]
        assert set(words) <= {"json"}, template.name


@pytest.mark.parametrize(("catalogue", "called"), [("texts.py", "t"), ("page_texts.py", "pt")])
def test_every_text_of_the_catalogue_is_used(catalogue: str, called: str) -> None:
    folder = Path(service.pages.__file__).parent
    source = "".join(p.read_text("utf-8") for p in folder.rglob("*")
                     if p.suffix in (".py", ".html") and p.name != catalogue)  # fmt: skip
    names = [
        node.targets[0].id
        for node in ast.parse((folder / catalogue).read_text("utf-8")).body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
    ]
    assert len(names) > 100
    assert [name for name in names if not re.search(rf"\b{called}\.{name}\b", source)] == []
