"""What the README shows is what the service answers."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def test_the_card_in_the_readme_is_the_card_of_its_request(client: FlaskClient) -> None:
    body = re.search(r"-d '(\{.*?\})'", README, re.DOTALL)
    card = re.search(r"<!-- card -->\n```text\n(.*?)```", README, re.DOTALL)
    assert body
    assert card
    answer = client.post(
        "/v1/advice", json=json.loads(body.group(1)), headers={"Accept": "text/plain"}
    )
    assert answer.get_data(as_text=True) == card.group(1)


def test_the_two_commands_stand_in_the_first_screen() -> None:
    first_screen = "\n".join(README.splitlines()[:24])
    assert "sh deploy/run.sh" in first_screen
    assert "sh deploy/test.sh" in first_screen


def test_every_address_in_the_readme_is_served(client: FlaskClient) -> None:
    specification: Any = client.get("/openapi.json").json
    # A name in braces is a place to fill in, whatever it is called.
    served = {re.sub(r"\{\w+\}", "{}", path) for path in specification["paths"]}
    served |= {"/openapi.json", "/", "/docs"}
    cells = re.findall(r"^\| (`[^|]*`) \|", README, re.MULTILINE)
    named = {
        re.sub(r"\{\w+\}", "{}", path)
        for cell in cells
        for path in re.findall(r"(?:`|`[A-Z]+ )(/[^`?]*)`", cell)
    }
    assert len(named) >= 15
    assert named <= served
