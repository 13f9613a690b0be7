"""What is known of a boat, to read: her numbers with their bands, residuals, and the log.

Works on the answer of ``GET /v1/boats/{id}/model``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.pages import texts as t
from service.pages.charts import Axes, bars, curve
from service.pages.plots import Plot
from service.pages.rendering import render

_SMALL = {"m": (1000.0, "mm"), "ft": (12.0, "in")}


def page(answer: Mapping[str, Any]) -> str:
    """The page of a boat's model."""
    offsets = answer["log"]["offsets"]
    return render(
        "boat_model.html",
        answer=answer,
        names=t.MODEL_NAMES,
        residuals=residuals(answer),
        offsets=[offset(each) for each in offsets],
    )


def residuals(answer: Mapping[str, Any]) -> list[Plot]:
    """Read less fitted, a picture for each kind of reading; none where nothing was read."""
    length = answer["units"]["length"]
    scale, small = _SMALL[length]
    plots = []
    for kind, title, factor, unit in (
        ("freeboard", t.MODEL_FREEBOARDS, scale, small),
        ("heel", t.MODEL_HEELS, 1.0, "°"),
    ):
        values = {
            f"{number}. {_place(reading, length)}": round(reading["residual"] * factor, 2)
            for number, reading in enumerate(answer["readings"], start=1)
            if reading["kind"] == kind
        }
        if values:
            worst = max(values, key=lambda name: abs(values[name]))
            says = t.MODEL_WORST.format(
                count=len(values), worst=worst, value=values[worst], unit=unit
            )
            plots.append(Plot(title, says, bars(f"residual-{kind}", title, says, values, unit)))
    return plots


def offset(found: Mapping[str, Any]) -> Plot:
    """How far this boat likes a number off the rule base, by the people aboard, with its band."""
    name = t.MODEL_TARGETS[found["target"]]
    title = t.MODEL_OFFSET.format(name=name.capitalize(), runs=found["runs"])
    rows = [(row["people"], row["offset"], row["band"]) for row in found["by_people"]]
    usual = found["usual"]
    reach = max(abs(value) + band for _, value, band in rows)
    axes = Axes(
        t.MODEL_OFFSET_X, found["unit"], (rows[0][0], rows[-1][0]), (-1.1 * reach, 1.1 * reach)
    )
    says = t.MODEL_OFFSET_SAYS.format(
        people=usual["people"], offset=usual["offset"], unit=found["unit"], band=usual["band"]
    )
    picture = curve(
        f"offset-{found['target']}", title, says, axes,
        [[(people, value) for people, value, _ in rows]],
        band=[(people, value - band, value + band) for people, value, band in rows],
    )  # fmt: skip
    return Plot(title, says, picture)


def _place(reading: Mapping[str, Any], length: str) -> str:
    where = t.MODEL_LOADING.format(number=reading["loading"] + 1)
    return where if reading["x"] is None else f"{reading['x']:.1f} {length}, {reading['side']}"
