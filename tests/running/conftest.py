"""The reference package for planing, loaded once."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest


@pytest.fixture(scope="session")
def planing_boat() -> Callable[..., Any]:
    """`openplaning.PlaningBoat` (MIT), which is by another hand and solves another way.

    It imports `pkg_resources` for the data files of a method that is not used here; new releases
    of setuptools no longer have that module, so an empty one stands in while it is imported.
    """
    with pytest.MonkeyPatch.context() as patch, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        patch.setitem(sys.modules, "pkg_resources", ModuleType("pkg_resources"))
        from openplaning import PlaningBoat

    return PlaningBoat  # type: ignore[no-any-return]
