"""Runs kept before there was a log beside them are read by the migration."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from service import create_app
from service.api.stored import the_store
from service.outfits import keys
from service.outfits.keys import Scope
from service.storage import schema
from service.storage.tables import Outfit, Run

pytestmark = pytest.mark.keeps


@pytest.mark.parametrize("units", ["metric", "us"])
def test_they_are_learned_from_as_they_were(tmp_path: Path, units: str) -> None:
    app = create_app({"DATABASE_URL": f"sqlite:///{tmp_path}/a.sqlite", "TESTING": True})
    with app.app_context(), the_store().writing() as session:
        session.add(Outfit(id="mine", name="An invented outfit"))
        session.flush()
        _, token = keys.issue(session, "mine", "test", Scope)
    client = app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    boat = json.loads((files("service.boats") / "demo" / "demo-7m.json").read_text("utf-8"))
    assert client.post("/v1/boats", json={**boat, "id": "hers"}).status_code == 201
    ask = {"boat": "hers", "crew": 6, "rider": {"mass": 80 if units == "metric" else 176,
           "stance": "goofy"}, "units": units}  # fmt: skip
    for _ in range(6):
        sent = {"request": ask, "rating": 5, "settings": {"speed": "17.9 km/h"}}
        assert client.post("/v1/runs", json=sent).status_code == 201
    before = _speed(client.get("/v1/boats/hers/model").get_json())
    with app.app_context():
        store = the_store()
        with store.reading() as session:
            as_made = [run.log for run in session.scalars(select(Run).order_by(Run.number))]
        schema.downgrade(store, "0003")
        schema.upgrade(store)
        with store.reading() as session:
            as_read = [run.log for run in session.scalars(select(Run).order_by(Run.number))]
        store.close()
    for made, read in zip(as_made, as_read, strict=True):
        assert made is not None
        assert read is not None
        assert read["side"] == made["side"]
        assert read["context"][0] == made["context"][0]
        assert read["context"][2] == pytest.approx(made["context"][2], abs=0.1)
        assert read["alone"] == pytest.approx(made["alone"], abs=0.6)
        assert read["advised"] == pytest.approx(made["advised"], abs=0.05)
    again = create_app({"DATABASE_URL": f"sqlite:///{tmp_path}/a.sqlite", "TESTING": True})
    client = again.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    assert _speed(client.get("/v1/boats/hers/model").get_json()) == pytest.approx(before, abs=0.1)
    again.extensions["store"].close()


def _speed(model: dict[str, Any]) -> float:
    found = {each["target"]: each for each in model["log"]["offsets"]}
    return float(found["speed"]["usual"]["offset"])
