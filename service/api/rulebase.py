"""The rule base that a boat is advised by: the shipped one, with the outfit's own values."""

from __future__ import annotations

from flask import Flask, current_app

from rules.base import RuleBase
from rules.local import read_local
from service.boats.model import Boat


def init_app(app: Flask) -> None:
    """``LOCAL_RULES`` names the file. A mistake in it shows now, not at the first request."""
    app.config.setdefault("LOCAL_RULES", "")
    read_local(app.config["LOCAL_RULES"])


def rules_for(boat: Boat) -> RuleBase:
    """The rule base for this boat."""
    return read_local(current_app.config["LOCAL_RULES"]).of(boat.id)


def rules_for_fleet() -> RuleBase:
    """The rule base for a boat without values of its own."""
    return read_local(current_app.config["LOCAL_RULES"]).of("")
