"""A client written by a public generator (openapi-python-client) out of ``/openapi.json`` works."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
import urllib.request
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.clients.conftest import Running

METHODS = {"get", "put", "post", "patch", "delete"}
OFFSET = datetime(2025, 7, 20, 9, tzinfo=UTC)


class Generated:
    """The package that was generated, by the names of its modules."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __call__(self, path: str) -> Any:
        module: ModuleType = importlib.import_module(f"{self._name}.{path}" if path else self._name)
        return module

    def model(self, name: str) -> Any:
        return getattr(self("models"), name)


@pytest.fixture(scope="module")
def specification(service: Running) -> dict[str, Any]:
    with urllib.request.urlopen(f"{service.url}/openapi.json") as answer:  # noqa: S310
        found: dict[str, Any] = json.load(answer)
    return found


@pytest.fixture(scope="module")
def folder(specification: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("generated")
    (folder / "spec.json").write_text(json.dumps(specification), "utf-8")
    subprocess.run(
        [sys.executable, "-m", "openapi_python_client", "generate", "--meta", "none",
         "--path", folder / "spec.json", "--output-path", folder / "generated_client"],
        check=True, capture_output=True,
    )  # fmt: skip
    return folder


@pytest.fixture
def generated(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Generated:
    monkeypatch.syspath_prepend(str(folder))
    return Generated("generated_client")


@pytest.fixture
def client(generated: Generated, service: Running) -> Any:
    return generated("").AuthenticatedClient(
        base_url=service.url, token=service.key, httpx_args={"trust_env": False}
    )


def test_every_operation_is_in_the_client(specification: dict[str, Any], folder: Path) -> None:
    operations = [
        (path, method)
        for path, item in specification["paths"].items()
        for method in METHODS & item.keys()
    ]
    written = [
        path
        for path in (folder / "generated_client" / "api").glob("*/*.py")
        if path.name != "__init__.py"
    ]
    assert len(written) == len(operations)


def test_advice_by_the_client(generated: Generated, client: Any) -> None:
    rider = generated.model("Rider").from_dict({"mass": "82 kg", "stance": "goofy"})
    body = generated.model("AdviceRequest")(boat="demo-7m", crew=8, rider=rider)
    answer = generated("api.advice.post_v1_advice").sync(client=client, body=body)
    assert answer.setup.surf_side == "starboard"
    assert answer.verdict == "go"
    assert answer.predicted.at_rest.displacement > 2200


def test_a_rider_is_kept_changed_and_deleted_by_the_client(
    generated: Generated, client: Any
) -> None:
    body = generated.model("StoredRider").from_dict({"mass": 180, "units": "us"})
    made = generated("api.riders.post_v1_riders").sync_detailed(
        client=client, body=body, idempotency_key="generated-1"
    )
    assert made.status_code == 201
    rider = made.parsed.id
    read = generated("api.riders.get_v1_riders_row_id").sync(rider, client=client)
    assert read.mass == pytest.approx(81.6466266)
    body.mass = 190
    put = generated("api.riders.put_v1_riders_row_id")
    stale = put.sync_detailed(rider, client=client, body=body, if_match='"9"')
    assert stale.status_code == 412
    put.sync(rider, client=client, body=body, if_match=made.headers["ETag"].replace("-us", ""))
    page = generated("api.riders.get_v1_riders").sync(client=client, limit=200)
    assert [item.version for item in page.items if item.id == rider] == [2]
    gone = generated("api.riders.delete_v1_riders_row_id").sync_detailed(
        rider, client=client, erase=True
    )
    assert gone.status_code == 204


def test_a_booking_by_the_client(generated: Generated, client: Any) -> None:
    body = generated.model("Booking")(start=OFFSET, duration="2 h", party=6)
    booking = generated("api.bookings.put_v1_bookings_reference").sync(
        "G-1", client=client, body=body
    )
    assert booking.answer.fits
    assert booking.answer.summary == "Fits on Brindle Cove 6."
    sheet = generated("api.bookings.get_v1_bookings_reference_sheet").sync("G-1", client=client)
    assert sheet.people == 6


def test_problems_reach_the_client(generated: Generated, client: Any) -> None:
    body = generated.model("Booking")(start=OFFSET, duration="2 h", party=99)
    refused = generated("api.bookings.put_v1_bookings_reference").sync(
        "G-2", client=client, body=body
    )
    assert refused.errors[0].pointer == "/party"
