"""A built wheel holds everything that the packages do, and serves from wherever it is installed."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("service", "rules", "schemas")

BUILD = "import sys; from setuptools import build_meta; build_meta.build_wheel(sys.argv[1])"

ASK = """
import json, service
from service import create_app
client = create_app({"TESTING": True}).test_client()
html = {"Accept": "text/html"}
rider = {"mass": 80, "stance": "goofy"}
print(json.dumps({
    "from": service.__file__,
    "advice": client.post("/v1/advice", json={"boat": "demo-7m", "rider": rider}).status_code,
    "rules": client.get("/v1/rules", headers=html).status_code,
    "cases": len(client.get("/v1/rules/speed.start").get_json()["cases"]),
    "page": client.get("/").status_code,
    "docs": client.get("/docs").status_code,
    "ready": client.get("/readyz").status_code,
}))
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from a copy, since a build leaves its traces beside the sources."""
    source, out = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheel")
    for name in PACKAGES:
        leave = shutil.ignore_patterns("__pycache__", "*.pyc")
        shutil.copytree(ROOT / name, source / name, ignore=leave)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source)
    subprocess.run(
        [sys.executable, "-c", BUILD, str(out)], cwd=source, check=True, capture_output=True
    )
    (built,) = out.glob("*.whl")
    return built


def test_the_wheel_holds_every_file_of_the_packages(wheel: Path) -> None:
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    files = {
        path.relative_to(ROOT).as_posix()
        for name in PACKAGES
        for path in (ROOT / name).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert held == files
    for some in (
        "rules/speed.yaml", "rules/tuning/", "rules/cases/", "service/pages/templates/",
        "service/pages/assets/", "service/storage/migrations/", "service/boats/demo/",
    ):  # fmt: skip
        assert any(name.startswith(some) for name in held), some


def test_what_the_wheel_holds_is_enough_to_serve(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path / "site")
    told = subprocess.run(
        [sys.executable, "-c", ASK], cwd=tmp_path, check=True, capture_output=True, text=True,
        env=os.environ | {
            "PYTHONPATH": str(tmp_path / "site"),
            "WAVESETUP_DATABASE_URL": f"sqlite:///{tmp_path / 'kept.db'}",
        },
    )  # fmt: skip
    found = json.loads(told.stdout.splitlines()[-1])
    assert Path(found.pop("from")).is_relative_to(tmp_path)
    assert found.pop("cases") > 0
    assert set(found.values()) == {200}, found
