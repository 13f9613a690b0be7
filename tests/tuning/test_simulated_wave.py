"""The tuning driven on the simulated wave: no endless loops, never outside limits."""

from __future__ import annotations

import math
import os
import random
from dataclasses import replace

import pytest
from flask.testing import FlaskClient

from schemas.fleet import demo_fleet
from tests.tuning.drive import CHANGES, Session, endpoint, figures, sessions
from tests.tuning.simulated_wave import OWN_KIND, SLIGHT, SPOILED, State, Wave, setups

COUNT = int(os.environ.get("WAVESETUP_TEST_TUNING_SESSIONS", "30"))
"""How many bad set-ups are driven; 500 take minutes."""
FLOOR, FLOOR_LEFT = 0.90, 0.88
"""Share clean at some moment within eight changes, and left alone there. Wanted is 0.95; of 500
set-ups 0.97 and 0.96 were measured, of a small sample it may be less."""
ANYWHERE, OWN = (1.0, 0.0, 0.88), (SPOILED, OWN_KIND, 0.77)
"""Harder: the chance that a lever is anywhere, how differently boats answer, and the share of 100
set-ups that was measured clean. A smaller sample may be two standard errors below it."""


@pytest.fixture(scope="module")
def driven() -> list[Session]:
    return sessions(COUNT)


def test_no_session_ever_leaves_the_limits(driven: list[Session]) -> None:
    assert all(session.inside for session in driven)


def test_no_session_moves_driver_or_observer(driven: list[Session]) -> None:
    assert all(session.stayed for session in driven)


def test_no_session_meets_a_state_three_times(driven: list[Session]) -> None:
    assert max(session.most_alike for session in driven) <= 2


def test_most_are_clean_within_eight_changes(driven: list[Session]) -> None:
    print(figures(driven))  # noqa: T201  # the figures are what one runs this for
    clean = [s.clean_at is not None and s.clean_at <= CHANGES for s in driven]
    assert sum(clean) >= FLOOR * len(clean), figures(driven)
    assert sum(s.good for s in driven) >= FLOOR_LEFT * len(driven), figures(driven)


@pytest.mark.parametrize(("anywhere", "own_kind", "share"), [ANYWHERE, OWN])
def test_harder_waves_are_mostly_clean_too(anywhere: float, own_kind: float, share: float) -> None:
    harder = sessions(COUNT // 2, anywhere=anywhere, own_kind=own_kind)
    print(figures(harder))  # noqa: T201
    assert all(session.inside for session in harder)
    assert max(session.most_alike for session in harder) <= 2
    clean = [s.clean_at is not None and s.clean_at <= CHANGES for s in harder]
    floor = share - 2 * math.sqrt(share * (1 - share) / len(clean))
    assert sum(clean) >= floor * len(clean), figures(harder)


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
