"""The examples that are shipped run against the running service."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.clients.conftest import ROOT, Running

EXAMPLES = ROOT / "deploy" / "examples"


def run(service: Running, *command: str | Path, key: bool = True) -> str:
    """What an example prints; it ends well or the test fails with what it said."""
    env = {**os.environ, "WAVESETUP_URL": service.url, "NO_PROXY": "127.0.0.1"}
    env.pop("WAVESETUP_KEY", None)
    if key:
        env["WAVESETUP_KEY"] = service.key
    done = subprocess.run(
        [str(part) for part in command], capture_output=True, text=True, env=env, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_with_curl_without_a_key(service: Running) -> None:
    printed = run(service, "sh", EXAMPLES / "advice.sh", key=False)
    assert printed.startswith("Brindle Cove 7: STARBOARD WAVE")
    assert "Speed in the JSON: 17." in printed


def test_with_curl_and_a_key(service: Running) -> None:
    printed = run(service, "sh", EXAMPLES / "advice.sh")
    assert "kept once and erased" in printed


def test_with_requests(service: Running) -> None:
    printed = run(service, sys.executable, EXAMPLES / "advice.py")
    assert "port wave at" in printed
    assert printed.rstrip().endswith("rated 4.")


def test_a_day_s_bookings_out_of_csv_as_often_as_one_likes(service: Running) -> None:
    printed = run(service, sys.executable, EXAMPLES / "bookings.py")
    assert "L-1041: Fits on Brindle Cove 6." in printed
    assert "L-1044: 19 people are 2 more than Brindle Cove 8 takes (17)" in printed
    assert run(service, sys.executable, EXAMPLES / "bookings.py") == printed


@pytest.mark.parametrize("name", ["advice.py", "bookings.py"])
def test_nothing_but_requests_and_the_standard_library_is_needed(name: str) -> None:
    found = {
        line.split()[1].split(".")[0]
        for line in (EXAMPLES / name).read_text("utf-8").splitlines()
        if line.startswith(("import ", "from "))
    }
    assert found - set(sys.stdlib_module_names) == {"requests"}
