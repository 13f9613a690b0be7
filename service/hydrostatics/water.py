"""Density of water at atmospheric pressure."""

from __future__ import annotations

from numpy.polynomial.polynomial import polyval

# G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, equation for 0–150 °C. From memory; the tests hold
# it against IAPWS-95.
_KELL = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_DIVISOR = (1.0, 16.879850e-3)

# International one-atmosphere equation of state of sea water, UNESCO Technical Papers in Marine
# Science 36 (1981), "EOS-80". From memory; the tests hold it against TEOS-10.
_PURE = (999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9)
_SALT = (0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
_SALT_3_2 = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
_SALT_2 = 4.8314e-4
# 35.165 g/kg absolute salinity is 35 on the practical scale of EOS-80.
_SALINITY = 35.0


def density(kind: str, celsius: float) -> float:
    """kg/m³ of ``"fresh"`` or ``"salt"`` water (35.165 g/kg) at −2 to 40 °C.

    Raises ValueError for another kind or temperature.
    """
    if not -2.0 <= celsius <= 40.0:
        raise ValueError("The water temperature must be between -2 and 40 °C.")
    if kind == "fresh":
        return float(polyval(celsius, _KELL) / polyval(celsius, _KELL_DIVISOR))
    if kind == "salt":
        t = 1.00024 * celsius  # on the scale of 1968, which EOS-80 is written in
        s = _SALINITY
        return float(
            polyval(t, _PURE)
            + s * polyval(t, _SALT)
            + s**1.5 * polyval(t, _SALT_3_2)
            + s * s * _SALT_2
        )
    raise ValueError("The kind of water must be 'fresh' or 'salt'.")
