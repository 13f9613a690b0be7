"""A store that someone else has locked: an answer of its own, in less than a request's time."""

from __future__ import annotations

import time

from flask.testing import FlaskClient
from sqlalchemy import select

from service.api import budget, errors
from service.storage import Store
from service.storage.engine import PATIENCE
from service.storage.tables import Outfit, Rider


def test_a_locked_store_is_a_503_of_its_own_and_costs_no_worker(
    mine: FlaskClient, store: Store
) -> None:
    outfit = mine.get("/v1/outfit").get_json()["id"]
    assert 3 * PATIENCE < budget.SECONDS
    key = {"Idempotency-Key": "locked"}
    with store.writing() as session:
        session.execute(select(Outfit).where(Outfit.id == outfit).with_for_update())
        begun = time.monotonic()
        refused = mine.post("/v1/riders", json={"mass": 70}, headers=key)
        taken = time.monotonic() - begun
        assert mine.get("/v1/riders").status_code == 200  # whoever reads waits for nobody
    assert (refused.status_code, refused.mimetype) == (503, "application/problem+json")
    assert refused.get_json(force=True)["type"] == errors.STORE_LOCKED
    assert int(refused.headers["Retry-After"]) > 0
    assert PATIENCE * 0.9 < taken < budget.SECONDS
    assert budget.SPENT not in refused.request.environ
    with store.reading() as session:
        assert session.scalars(select(Rider).where(Rider.outfit_id == outfit)).all() == []
    assert mine.post("/v1/riders", json={"mass": 70}, headers=key).status_code == 201
