from __future__ import annotations

import gsw
import numpy as np
import pytest
from iapws import IAPWS95

from service.hydrostatics.water import density


@pytest.mark.parametrize("celsius", np.arange(1.0, 41.0, 3.0).tolist())
def test_fresh_water_against_iapws_95(celsius: float) -> None:
    reference = IAPWS95(T=273.15 + celsius, P=0.101325).rho
    assert density("fresh", celsius) == pytest.approx(reference, abs=0.005)


@pytest.mark.parametrize("celsius", np.arange(-1.5, 41.0, 2.5).tolist())
def test_sea_water_against_teos_10(celsius: float) -> None:
    conservative = gsw.CT_from_t(35.165, celsius, 0.0)
    reference = gsw.rho(35.165, conservative, 0.0)
    assert density("salt", celsius) == pytest.approx(reference, abs=0.03)


# IAPWS-95 and TEOS-10 (35.165 g/kg) at 5, 15, 25 °C.
@pytest.mark.parametrize(
    ("kind", "celsius", "expected"),
    [
        ("fresh", 5.0, 999.967),
        ("fresh", 15.0, 999.103),
        ("fresh", 25.0, 997.048),
        ("salt", 5.0, 1027.676),
        ("salt", 15.0, 1025.976),
        ("salt", 25.0, 1023.344),
    ],
)
def test_tabulated_values(kind: str, celsius: float, expected: float) -> None:
    assert density(kind, celsius) == pytest.approx(expected, abs=0.03)


@pytest.mark.parametrize("celsius", [-2.1, 40.1, float("nan")])
def test_temperatures_outside_the_formulas_are_refused(celsius: float) -> None:
    with pytest.raises(ValueError, match="between -2 and 40"):
        density("fresh", celsius)


def test_another_kind_of_water_is_refused() -> None:
    with pytest.raises(ValueError, match="'fresh' or 'salt'"):
        density("heavy", 20.0)
