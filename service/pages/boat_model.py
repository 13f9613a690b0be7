"""What is known of a boat, to read: her numbers with their bands, residuals, and the log.

Works on the answer of ``GET /v1/boats/{id}/model``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.pages.charts import Axes, bars, curve
from service.pages.plots import Plot
from service.pages.rendering import render

NAMES = {
    "light.mass": "light boat, mass",
    "light.x": "her centre, forward of the transom",
    "light.y": "her centre, to port",
    "light.z": "her centre, above the keel line",
    "hull.depth": "sheer higher than the form says",
    "hull.breadth": "breadths wider than the form says",
}
TARGETS = {
    "speed": "speed", "centre_plate": "centre plate", "off_side_plate": "off-side plate",
}  # fmt: skip
_SMALL = {"m": (1000.0, "mm"), "ft": (12.0, "in")}


def page(answer: Mapping[str, Any]) -> str:
    """The page of a boat's model."""
    offsets = answer["log"]["offsets"]
    return render(
        "boat_model.html",
        answer=answer,
        names=NAMES,
        targets=TARGETS,
        residuals=residuals(answer),
        offsets=[offset(each) for each in offsets],
    )


def residuals(answer: Mapping[str, Any]) -> list[Plot]:
    """Read less fitted, a picture for each kind of reading; none where nothing was read."""
    length = answer["units"]["length"]
    scale, small = _SMALL[length]
    plots = []
    for kind, title, factor, unit in (
        ("freeboard", "Freeboards, read less fitted", scale, small),
        ("heel", "Heels, read less fitted", 1.0, "°"),
    ):
        values = {
            f"{number}. {_place(reading, length)}": round(reading["residual"] * factor, 2)
            for number, reading in enumerate(answer["readings"], start=1)
            if reading["kind"] == kind
        }
        if values:
            worst = max(values, key=lambda name: abs(values[name]))
            says = f"{len(values)} readings; the furthest off is {worst}: {values[worst]} {unit}."
            plots.append(Plot(title, says, bars(f"residual-{kind}", title, says, values, unit)))
    return plots


def offset(found: Mapping[str, Any]) -> Plot:
    """How far this boat likes a number off the rule base, by the people aboard, with its band."""
    name = TARGETS[found["target"]]
    title = f"{name.capitalize()}: off the rule base, from {found['runs']} runs"
    rows = [(row["people"], row["offset"], row["band"]) for row in found["by_people"]]
    usual = found["usual"]
    reach = max(abs(value) + band for _, value, band in rows)
    axes = Axes(
        "people aboard", found["unit"], (rows[0][0], rows[-1][0]), (-1.1 * reach, 1.1 * reach)
    )
    says = (
        f"With {usual['people']:.0f} people {usual['offset']:+.1f} {found['unit']}, "
        f"give or take {usual['band']:.1f} (95 %)."
    )
    picture = curve(
        f"offset-{found['target']}", title, says, axes,
        [[(people, value) for people, value, _ in rows]],
        band=[(people, value - band, value + band) for people, value, band in rows],
    )  # fmt: skip
    return Plot(title, says, picture)


def _place(reading: Mapping[str, Any], length: str) -> str:
    where = f"loading {reading['loading'] + 1}"
    return where if reading["x"] is None else f"{reading['x']:.1f} {length}, {reading['side']}"
