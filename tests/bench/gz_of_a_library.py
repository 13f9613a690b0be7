"""A GZ curve by the general-purpose library navaltoolbox, timed. Run by another interpreter.

The library is AGPL-3.0: it is in an environment of its own that ``deploy/bench.sh`` throws away,
it runs in this process alone, and no part of the service or its tests imports it.

Arguments: STL file, mass (kg), x, y, z of its centre (m), density (kg/m³), repetitions, heels (°).
Prints JSON: median seconds, the arms, the version.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from importlib.metadata import version

import navaltoolbox  # type: ignore[import-not-found]


def main() -> None:
    mesh, *numbers = sys.argv[1:]
    mass, x, y, z, density, repetitions, *heels = map(float, numbers)
    vessel = navaltoolbox.Vessel(navaltoolbox.Hull(mesh))
    calculator = navaltoolbox.StabilityCalculator(vessel, density)
    taken = []
    for _ in range(int(repetitions)):
        begun = time.perf_counter()
        curve = calculator.gz_curve(mass, (x, y, z), heels)
        taken.append(time.perf_counter() - begun)
    seconds, arms = (
        statistics.median(taken),
        list(curve.values() if callable(curve.values) else curve.values),
    )
    sys.stdout.write(
        json.dumps({"seconds": seconds, "arms": arms, "version": version("navaltoolbox")})
    )


if __name__ == "__main__":
    main()
