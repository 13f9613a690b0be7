"""The demo fleet: invented boats of an invented outfit, kept in the form a caller sends."""

from __future__ import annotations

import json
from importlib.resources import files

from schemas.boat import BoatSchema
from service.boats.fleet import Fleet


def demo_fleet() -> Fleet:
    """The boats in ``service/boats/demo``, in the order of their file names."""
    schema = BoatSchema()
    folder = files("service.boats") / "demo"
    return Fleet(
        schema.load(json.loads(path.read_text(encoding="utf-8")))
        for path in sorted(folder.iterdir(), key=lambda path: path.name)
        if path.name.endswith(".json")
    )
