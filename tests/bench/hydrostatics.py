"""How long an equilibrium and a curve take, on one core, against other programs in the same run."""

from __future__ import annotations

import json
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from schemas.fleet import demo_fleet
from service.hydrostatics.equilibrium import equilibrium
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import righting_arms
from service.hydrostatics.weights import Loading
from tests.hydrostatics.reference import meshes_of, solve

DENSITY = 998.0
LOADED = Loading(2600.0, 2.6, 0.08, 0.75)
HEELS = tuple(range(0, 61, 5))
LIBRARY = Path(__file__).with_name("gz_of_a_library.py")

Row = tuple[str, str]


def median(work: Callable[[], object], repetitions: int) -> float:
    """Seconds."""
    taken = []
    for _ in range(repetitions):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def hull_of(stations: int) -> Hull:
    """The demo boat of seven metres, cut at this many stations."""
    known = demo_fleet().find("demo-7m").hull.stations
    at = np.array([x for x, _ in known])
    points = np.array([half for _, half in known])
    cut = np.linspace(at[0], at[-1], stations)
    halves = np.apply_along_axis(lambda along: np.interp(cut, at, along), 0, points)
    return Hull.from_stations(
        [(float(x), [(float(y), float(z)) for y, z in half])
         for x, half in zip(cut, halves, strict=True)]
    )  # fmt: skip


def rows(library: str | None) -> Iterator[Row]:
    """``library``: a Python that has navaltoolbox, ``None`` to leave it out."""
    hull = hull_of(41)
    one = median(lambda: equilibrium(hull, LOADED, DENSITY), 2000)
    yield "equilibrium, 41 stations, median (goal: under 1 ms)", f"{1e3 * one:.2f} ms"

    bodies = meshes_of(hull.stations, pieces=40)
    faces = sum(len(body.faces) for body in bodies)
    volume, centre = LOADED.mass / DENSITY, (LOADED.x, LOADED.y, LOADED.z)
    slow = median(lambda: solve(bodies, volume, centre), 3)
    yield f"the same by clipping a mesh of {faces} triangles with trimesh", f"{1e3 * slow:.0f} ms"
    yield "times faster (goal: 20)", f"{slow / one:.0f}"

    heels = np.radians(HEELS)
    amidships = Loading(LOADED.mass, LOADED.x, 0.0, LOADED.z)
    curve = median(lambda: righting_arms(hull, amidships, DENSITY, heels), 200)
    yield f"GZ curve of {len(HEELS)} angles, trim free, median", f"{1e3 * curve:.2f} ms"
    if library is None:
        yield "the same by navaltoolbox", "not installed"
        return
    found = by_library(library, bodies, amidships)
    ours = np.asarray(righting_arms(hull, amidships, DENSITY, heels))
    # Further over the library's free trim leaves ours, which the mesh solver of the tests confirms.
    apart = 1e3 * float(np.max(np.abs(ours - found["arms"])[heels < np.radians(46.0)]))
    yield (
        f"the same by navaltoolbox {found['version']} on a mesh of {faces} triangles",
        f"{1e3 * found['seconds']:.2f} ms (arms to 45° at most {apart:.2f} mm apart)",
    )
    yield "times faster (goal: 1)", f"{found['seconds'] / curve:.1f}"


def by_library(python: str, bodies: list[trimesh.Trimesh], load: Loading) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as folder:
        mesh = Path(folder) / "hull.stl"
        trimesh.util.concatenate(bodies).export(mesh)
        numbers = (load.mass, load.x, load.y, load.z, DENSITY, 50, *HEELS)
        done = subprocess.run(
            [python, str(LIBRARY), str(mesh), *map(str, numbers)],
            capture_output=True, text=True, check=True, timeout=120,
        )  # fmt: skip
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def growth() -> Iterator[Row]:
    """An equilibrium against the number of stations."""
    for stations in (11, 21, 41, 81, 161):
        hull = hull_of(stations)
        taken = median(lambda hull=hull: equilibrium(hull, LOADED, DENSITY), 300)  # type: ignore[misc]
        yield f"equilibrium, {stations} stations", f"{1e3 * taken:.2f} ms"
