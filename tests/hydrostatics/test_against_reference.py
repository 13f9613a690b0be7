"""The equilibrium against an independent program: trimesh clips, scipy finds the root.

`HYDROSTATICS_CASES` in the environment sets how many random hulls and loads are compared.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable

import numpy as np

from service.hydrostatics.equilibrium import Status, equilibrium
from tests.hydrostatics import reference
from tests.hydrostatics.hulls import FRESH, random_load, random_particulars, random_stations

CASES = int(os.environ.get("HYDROSTATICS_CASES", "40"))


def test_the_equilibrium_agrees_with_a_clipped_mesh(
    record_property: Callable[[str, object], None],
) -> None:
    worst_length, worst_angle = (0.0, -1), (0.0, -1)
    reached: Counter[str] = Counter()
    largest = np.zeros(2)
    from_upright = 0
    for case in range(CASES):
        rng = np.random.default_rng(case)
        hull = (random_particulars if case % 2 else random_stations)(rng)
        load = random_load(rng, hull)
        ours = equilibrium(hull, load, FRESH)
        reached[ours.status] += 1
        if ours.status in (Status.SINKS, Status.CAPSIZES):
            continue
        state = np.array([ours.sinkage, ours.trim, ours.heel])
        bodies = reference.meshes_of(hull.stations)
        weight = load.mass / FRESH, (load.x, load.y, load.z)
        theirs = reference.solve(bodies, *weight)
        if theirs is not None and np.allclose(theirs, state, atol=1e-3):
            from_upright += 1
        else:
            # A steep start can throw a root finder to another of the boat's equilibria: it is
            # started near, but not at, our answer. What it finds is still its own.
            theirs = reference.solve(bodies, *weight, state + np.array([0.02, 0.01, 0.02]))
        assert theirs is not None, f"case {case}: the reference found nothing"
        # The draft at both ends of the boat, so that trim counts as a length too.
        ends = np.array([hull.x_min, hull.x_max])
        ours_ends, their_ends = (s[0] - ends * np.sin(s[1]) for s in (state, theirs))
        lengths = np.abs(ours_ends - their_ends)
        angles = np.degrees(np.abs(state - theirs)[1:])
        worst_length = max(worst_length, (float(lengths.max()) * 1e3, case))
        worst_angle = max(worst_angle, (float(angles.max()), case))
        largest = np.maximum(largest, np.degrees(np.abs(state[1:])))
    record_property(
        "measured",
        f"{CASES} random hulls and loads ({', '.join(f'{n} {s}' for s, n in reached.items())}; "
        f"the reference came from upright in {from_upright}; "
        f"trim to {largest[0]:.1f}°, heel to {largest[1]:.1f}°): worst "
        f"{worst_length[0]:.5f} mm (case {worst_length[1]}), "
        f"{worst_angle[0]:.6f}° (case {worst_angle[1]})",
    )
    assert worst_length[0] < 0.5
    assert worst_angle[0] < 0.01
    assert reached.total() - reached[Status.SINKS] - reached[Status.CAPSIZES] > 0.8 * CASES
