"""The locks fit each other and the project, and name no registry."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
LOCKS = ("runtime.lock", "dev.lock")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
NEEDS = {
    "runtime.lock": PROJECT["project"]["dependencies"],
    "dev.lock": PROJECT["project"]["dependencies"] + PROJECT["dependency-groups"]["dev"],
}


def pins(lock: str) -> dict[str, list[Requirement]]:
    """Name → its pins; more than one where they differ by Python version."""
    text = (ROOT / lock).read_text("utf-8")
    found: dict[str, list[Requirement]] = {}
    for line in re.findall(r"^(\S.*?)\s*\\$", text, re.MULTILINE):
        pin = Requirement(line)
        found.setdefault(canonicalize_name(pin.name), []).append(pin)
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_what_the_project_needs_is_pinned_within_its_bounds(lock: str) -> None:
    pinned = pins(lock)
    for need in map(Requirement, NEEDS[lock]):
        for pin in pinned[canonicalize_name(need.name)]:
            (specifier,) = pin.specifier
            assert specifier.operator == "=="
            assert need.specifier.contains(specifier.version)


def test_what_is_installed_for_development_is_enough_to_run() -> None:
    """``deploy/setup.sh`` relies on it."""
    runtime, dev = (pins(lock) for lock in LOCKS)
    # The marker may name more circumstances in one than in the other; the versions may not.
    for name, wanted in runtime.items():
        assert {str(pin.specifier) for pin in wanted} <= {str(pin.specifier) for pin in dev[name]}


@pytest.mark.parametrize("lock", LOCKS)
def test_every_pin_has_hashes_and_no_address(lock: str) -> None:
    text = (ROOT / lock).read_text("utf-8")
    assert "://" not in text
    assert "index-url" not in text
    blocks = re.split(r"^(?=\S)", text, flags=re.MULTILINE)[1:]
    assert len(blocks) == sum(map(len, pins(lock).values()))
    assert all("--hash=sha256:" in block for block in blocks)
