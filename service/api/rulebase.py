"""The rule base that a boat is advised by: the shipped one, with the outfit's own values."""

from __future__ import annotations

from flask import Flask, current_app, g
from sqlalchemy import bindparam, select

from rules.base import RuleBase
from rules.local import LocalRules, read_local
from service.api.auth import outfit, outfit_of_key
from service.api.stored import the_store, unless_away
from service.boats.model import Boat
from service.caches import MB, SizedCache
from service.storage import tables

# Asked with every request: put together once.
_VERSION = select(tables.LocalRules.version).where(
    tables.LocalRules.outfit_id == bindparam("outfit")
)

MOST_CACHED = 32 * MB
ONE_BASE = 210_000
"""Bytes that the rule base with one boat's own values takes beside the others, as measured."""


def init_app(app: Flask) -> None:
    """``LOCAL_RULES`` names the file. A mistake in it shows now, not at the first request."""
    app.config.setdefault("LOCAL_RULES", "")
    read_local(app.config["LOCAL_RULES"])
    app.extensions["local_rules"] = SizedCache(
        MOST_CACHED, lambda local: ONE_BASE * (1 + len(local.boats))
    )

    def forget() -> None:
        g.pop("local_rules", None)

    app.before_request(forget)


def rules_for(boat: Boat) -> RuleBase:
    """The rule base for this boat."""
    return rules_of(boat.id)


def rules_of(boat_id: str) -> RuleBase:
    """The rule base for the boat with this id, kept or not."""
    return _of_outfit().of(boat_id)


def rules_for_fleet() -> RuleBase:
    """The rule base for a boat without values of its own."""
    return _of_outfit().of("")


def from_file() -> LocalRules:
    """The values of the file, which are those of every outfit that has no others."""
    return read_local(current_app.config["LOCAL_RULES"])


def _of_outfit() -> LocalRules:
    """The file's values, and over them those that the outfit keeps here; looked up once a request.

    So all of one request is advised by the same rules.
    """
    if "local_rules" not in g:
        g.local_rules = _kept() if outfit_of_key() else _of_demo()
    found: LocalRules = g.local_rules
    return found


def _of_demo() -> LocalRules:
    """Those for whoever asks without a key: as they were last, while the store does not answer."""
    at = current_app.extensions

    def ask() -> LocalRules:
        at["demo_rules"] = _kept()
        found: LocalRules = at["demo_rules"]
        return found

    return unless_away(ask, lambda: at.get("demo_rules") or from_file())


def _kept() -> LocalRules:
    """Made once a version and process."""
    row = tables.LocalRules
    with the_store().connected() as connection:
        version = connection.scalar(_VERSION, {"outfit": outfit()})
        if version is None:
            return from_file()

        def make() -> LocalRules:
            found = connection.execute(
                select(row.document).where(row.outfit_id == outfit(), row.version == version)
            ).scalar_one()
            return LocalRules(found["fleet"], found["boats"], from_file())

        cache: SizedCache[tuple[str, str, int], LocalRules] = current_app.extensions["local_rules"]
        return cache.get((outfit(), "", version), make)
