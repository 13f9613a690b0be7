"""The tuning driven on the simulated wave: no endless loops, never outside limits."""

from __future__ import annotations

import os
import random
from dataclasses import replace

import pytest
from flask.testing import FlaskClient

from schemas.fleet import demo_fleet
from tests.tuning.drive import CHANGES, Session, endpoint, figures, sessions
from tests.tuning.simulated_wave import SLIGHT, State, Wave, setups

COUNT = int(os.environ.get("WAVESETUP_TEST_TUNING_SESSIONS", "60"))
"""How many bad set-ups are driven; 500 take minutes."""
WANTED = 0.95
"""Share of bad set-ups that should be clean within eight changes."""
REACHED = 0.70
"""What is held here; below the measured figure by the scatter of a small sample. The rules do not
reach ``WANTED`` yet."""


@pytest.fixture(scope="module")
def driven() -> list[Session]:
    return sessions(COUNT)


def test_no_session_ever_leaves_the_limits(driven: list[Session]) -> None:
    assert all(session.inside for session in driven)


def test_no_session_meets_a_state_three_times(driven: list[Session]) -> None:
    assert max(session.most_alike for session in driven) <= 2


def test_most_are_clean_within_eight_changes(driven: list[Session]) -> None:
    print(figures(driven))  # noqa: T201  # the figures are what one runs this for
    clean = [s.clean_at is not None and s.clean_at <= CHANGES for s in driven]
    assert sum(clean) >= REACHED * len(clean), figures(driven)


def test_the_endpoint_drives_the_same_sessions_as_the_use_case(client: FlaskClient) -> None:
    over_http, directly = sessions(4, coach=endpoint(client)), sessions(4)
    for one, other in zip(over_http, directly, strict=True):
        assert one.inside
        assert one.most_alike <= 2
        assert (one.ended, one.changes, one.clean_at) == (
            other.ended, other.changes, other.clean_at,
        )  # fmt: skip


def a_wave() -> tuple[Wave, State]:
    """A wave at its best, as far as the levers go: what the lever table says is tried from here."""
    wave, state = next(setups(list(demo_fleet()), 1, 5))
    best = wave.best
    wave.chance = random.Random(1)  # noqa: S311
    good = replace(
        state, speed=best.speed, centre=best.centre, off=best.off, surf=0.0, depth=12.0,
        feet_right=True,
    )  # fmt: skip
    attitude = wave.attitude(good)
    lean, trim = attitude.lean or 0.0, (attitude.trim or 0.0) - wave.level
    wave.best = replace(best, lean=lean, trim=trim, water=wave.water(good))
    return wave, good


def test_at_its_best_the_simulated_wave_is_clean() -> None:
    wave, good = a_wave()
    assert wave.clean(good)


@pytest.mark.parametrize(
    ("change", "sign"),
    [
        # The lever table, common practice: what is seen once a lever is far off.
        ({"speed": 1.2}, "long_and_low"),
        ({"speed": -1.2}, "white_crest"),
        ({"speed": -1.2}, "too_steep"),
        ({"centre": 30}, "too_little_push"),
        ({"centre": -30}, "too_steep"),
        ({"off": -30}, "white_crest"),
        ({"off": 30}, "catches_boat"),
        ({"off": -70}, "no_face"),
        ({"surf": 30}, "wrong_side"),
        ({"depth": -10}, "too_little_push"),
    ],
)
def test_the_simulated_wave_follows_the_lever_table(change: dict[str, float], sign: str) -> None:
    wave, good = a_wave()
    off = replace(good, **{name: getattr(good, name) + by for name, by in change.items()})
    assert wave.truth(good)[sign] < SLIGHT <= wave.truth(off)[sign]


def test_the_same_numbers_give_the_same_sessions() -> None:
    assert sessions(2) == sessions(2)
