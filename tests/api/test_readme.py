"""What the README shows is what the service answers."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service import create_app

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
    served = set(specification["paths"])
    served |= {"/openapi.json", "/", "/docs"}
    cells = re.findall(r"^\| (`[^|]*`) \|", README, re.MULTILINE)
    named = {path for cell in cells for path in re.findall(r"(?:`|`[A-Z]+ )(/[^`?]*)`", cell)}
    assert len(named) >= 15
    assert named <= served


@pytest.mark.keeps
def test_every_command_in_the_readme_runs(application: Flask) -> None:
    """With a name for what is written large."""
    commands = re.findall(r"`flask --app service ([^`]+)`", README)
    assert commands
    for command in commands:
        words = [word.lower() if word.isupper() else word for word in command.split()]
        done = application.test_cli_runner().invoke(args=words)
        assert done.exit_code == 0, done.output


@pytest.fixture
def application(tmp_path: Path) -> Flask:
    return create_app({"DATABASE_URL": f"sqlite:///{tmp_path}/readme.db"})
