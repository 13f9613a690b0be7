"""All looks together: against the closed form where there is one, and what a coach would say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from rules.tuning import PROPERTIES, TuningBase
from service.advice.tuning.evidence import Belief, Look, figures, imagine, told
from service.advice.tuning.requests import Did, Seen, Strength

ADVISED = np.zeros(6)


@pytest.fixture
def levers(base: TuningBase) -> list[str]:
    return list(base.levers)


def at(levers: list[str], **units: float) -> NDArray[np.float64]:
    return np.array([units.get(name, 0.0) for name in levers])


def look(position: NDArray[np.float64], base: TuningBase, **signs: str) -> Look:
    found = told([Seen(name, Strength(word)) for name, word in signs.items()], base)
    assert found is not None
    return Look(position, found)


def mean(belief: Belief) -> NDArray[np.float64]:
    found: NDArray[np.float64] = belief.likely @ belief.best
    return found


def test_one_look_agrees_with_the_closed_form_of_a_linear_observation(base: TuningBase) -> None:
    """Bayesian linear regression (e.g. Bishop, Pattern Recognition and Machine Learning, 3.49;
    from memory): prior N(0, I), one observation w·(x - b) = 2 with variance s²; the mean of b is
    -2 w / (w·w + s²).
    """
    w, number = np.array([1.0, -0.5, 0.5, 1.0, 0.0, 0.0]), 200_000
    draws = np.random.default_rng(7).standard_normal((number, 6))
    plain = replace(figures(base), wrong=0.0)
    belief = Belief(
        plain, ("a",), np.zeros(1), draws, np.broadcast_to(w, (number, 1, 6)),
        np.full(number, 1.0 / number),
    ).after([Look(np.zeros(6), {"a": 2.0})])  # fmt: skip
    expected = -2.0 * w / (w @ w + plain.scatter**2)
    assert mean(belief) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(
    ("signs", "lever", "way"),
    [
        # What each pair is a sign of, by the table of levers (common practice).
        ({"white_crest": "clear", "too_steep": "clear"}, "speed", 1),
        ({"white_crest": "clear", "too_little_push": "clear"}, "off_side_plate", 1),
        ({"too_steep": "clear", "catches_boat": "clear"}, "centre_plate", 1),
        ({"long_and_low": "clear", "too_little_push": "clear"}, "centre_plate", -1),
        ({"bow_diving": "clear"}, "fore_and_aft", 1),
        ({"bow_high": "clear"}, "fore_and_aft", -1),
    ],
)
def test_a_lever_is_believed_to_be_off_where_its_signs_are_seen(
    base: TuningBase, levers: list[str], signs: Mapping[str, str], lever: str, way: int
) -> None:
    belief = imagine(base, ADVISED).after([look(ADVISED, base, **signs)])
    assert way * mean(belief)[levers.index(lever)] > 0.2
    better, worse = belief.loss(
        np.array([at(levers, **{lever: step * way}) for step in (1.0, -1.0)])
    )
    assert better < belief.loss(ADVISED[None, :])[0] < worse


def test_one_look_that_contradicts_many_is_taken_for_wrong(
    base: TuningBase, levers: list[str]
) -> None:
    crest = look(ADVISED, base, white_crest="strong", too_steep="strong")
    flat = look(ADVISED, base, long_and_low="strong")
    belief = imagine(base, ADVISED).after([crest] * 3)
    after = belief.after([flat])
    assert after.contradicts(flat) > 0.9
    assert after.contradicts(crest) < 0.1
    moved = np.abs(mean(after) - mean(belief)).max()
    assert moved < 0.25 * np.abs(mean(belief)).max()


def test_a_judgement_counts_but_less_than_what_is_seen(base: TuningBase, levers: list[str]) -> None:
    slow, fast = at(levers, speed=-1.0), at(levers, speed=0.5)
    speed = levers.index("speed")
    belief = imagine(base, ADVISED).after([look(slow, base, white_crest="clear")])
    better, worse = (belief.judged(slow, fast, did) for did in (Did.BETTER, Did.WORSE))
    assert mean(better)[speed] > mean(belief)[speed] > mean(worse)[speed]
    seen = [look(fast, base)]
    assert mean(worse.after(seen))[speed] > mean(worse)[speed]


def test_what_hides_the_wave_or_has_other_causes_is_no_evidence(base: TuningBase) -> None:
    for sign in ("no_face", "wrong_side", "lumps", "washed_out", "falls_back", "pulled_over"):
        assert told([Seen(sign, Strength.CLEAR)], base) is None
    crest = Seen("white_crest", Strength.CLEAR)
    assert told([crest, Seen("lumps", Strength.SLIGHT)], base) is None
    assert told([crest, Seen("falls_back", Strength.SLIGHT)], base) == {"white_crest": 2.0}
    assert told([], base) == {}


def test_a_lever_that_is_not_fitted_is_at_nought(base: TuningBase, levers: list[str]) -> None:
    number = levers.index("centre_plate")
    advised = ADVISED.copy()
    advised[number] = np.nan
    assert not imagine(base, advised).best[:, number].any()


def test_the_table_of_levers_is_that_of_the_trade(base: TuningBase) -> None:
    """Directions, common practice: height, length, steepness, push, cleanness."""
    table = {
        "speed": "-+--+",
        "total": "++0++",
        "fore_and_aft": "+-++-",
        "side": "+-+++",
        "off_side_plate": "+-+++",
        "centre_plate": "-+--+",
    }
    for name, signs in table.items():
        does = [base.levers[name].does.get(each, 0.0) for each in PROPERTIES]
        assert "".join("+" if v > 0 else "-" if v < 0 else "0" for v in does) == signs
