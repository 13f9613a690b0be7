"""What is known of a boat, to read: her numbers with their bands, residuals, and the log.

Works on the answer of ``GET /v1/boats/{id}/model``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from schemas.written import plain
from service.pages import page_texts as pt
from service.pages.charts import Axes, bars, curve, signed
from service.pages.plots import Plot
from service.pages.rendering import render

_SMALL = {"m": (1000.0, "mm"), "ft": (12.0, "in")}


def page(answer: Mapping[str, Any]) -> str:
    """The page of a boat's model."""
    offsets = answer["log"]["offsets"]
    return render(
        "boat_model.html",
        answer=answer,
        numbers=[_number(entry, answer["units"]) for entry in answer["known"]],
        residuals=residuals(answer),
        offsets=[_row(found) for found in offsets],
        plots=[offset(found) for found in offsets if found["by_people"]],
        riders=_riders(offsets),
        rider_heads=[pt.MODEL_TARGETS[found["target"]] for found in offsets],
    )


def _number(entry: Mapping[str, Any], units: Mapping[str, str]) -> list[str]:
    """A row of the boat's numbers; no digits that the band does not carry."""
    unit = units[entry["unit"]]
    digits = 0 if entry["unit"] == "mass" else 1 if entry["unit"] == "percentage" else 3

    def pair(which: str) -> str:
        value, band = entry[which]["value"], entry[which]["band"]
        return _together(f"{value:.{digits}f} ± {band:.{digits}f} {unit}").replace("-", "−")

    return [pt.MODEL_NAMES[entry["name"]], pair("before"), pair("after"), entry["source"]]


def _row(found: Mapping[str, Any]) -> list[str]:
    """A row of what the log says of one number."""
    usual = found["usual"]
    source = [_counted(found["runs"])]
    if found["changes"]:
        source.append(pt.MODEL_LOG_TUNED.format(changes=found["changes"]))
    if found["doubted"]:
        source.append(pt.MODEL_LOG_DOUBTED.format(doubted=found["doubted"]))
    return [
        pt.MODEL_TARGETS[found["target"]],
        _off(usual, found["unit"]),
        pt.MODEL_SURE if found["sure"] else pt.MODEL_UNSURE,
        "; ".join(source),
    ]


def _riders(offsets: Sequence[Mapping[str, Any]]) -> list[list[str]]:
    """A row a rider, with a cell for each number; empty where nothing is known."""
    by_number = [{each["rider"]: each for each in found["riders"]} for found in offsets]
    names = sorted({name for riders in by_number for name in riders})
    return [
        [
            name,
            _counted(max(riders[name]["runs"] for riders in by_number if name in riders)),
            *(
                _off(riders[name], found["unit"]) if name in riders else "–"
                for riders, found in zip(by_number, offsets, strict=True)
            ),
        ]
        for name in names
    ]


def _counted(runs: int) -> str:
    return pt.MODEL_LOG_RUN if runs == 1 else pt.MODEL_LOG_RUNS.format(runs=runs)


def _off(found: Mapping[str, Any], unit: str) -> str:
    value = round(found["offset"], 1)
    sign = "+" if value > 0 else "−" if value < 0 else ""
    return _together(f"{sign}{plain(abs(value), 1)} ± {plain(found['band'], 1)} {unit}")


def _together(text: str) -> str:
    """The same on one line."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def residuals(answer: Mapping[str, Any]) -> list[Plot]:
    """Read less fitted, a picture for each kind of reading; none where nothing was read."""
    length = answer["units"]["length"]
    scale, small = _SMALL[length]
    plots = []
    for kind, title, factor, unit in (
        ("freeboard", pt.MODEL_FREEBOARDS, scale, small),
        ("heel", pt.MODEL_HEELS, 1.0, "°"),
    ):
        values = {
            f"{number}: {_place(reading, length)}": round(reading["residual"] * factor, 2)
            for number, reading in enumerate(answer["readings"], start=1)
            if reading["kind"] == kind
        }
        if values:
            worst = max(values, key=lambda name: abs(values[name]))
            says = pt.MODEL_WORST.format(
                count=len(values), worst=worst, value=signed(values[worst]), unit=unit
            )
            plots.append(Plot(title, says, bars(f"residual-{kind}", title, says, values, unit)))
    return plots


def offset(found: Mapping[str, Any]) -> Plot:
    """How far this boat likes a number off the rule base, by the people aboard, with its band."""
    name = pt.MODEL_TARGETS[found["target"]]
    title = pt.MODEL_OFFSET.format(name=name.capitalize())
    rows = [(row["people"], row["offset"], row["band"]) for row in found["by_people"]]
    usual = found["usual"]
    reach = max(abs(value) + band for _, value, band in rows)
    axes = Axes(
        pt.MODEL_OFFSET_X, found["unit"], (rows[0][0], rows[-1][0]), (-1.1 * reach, 1.1 * reach)
    )
    says = pt.MODEL_OFFSET_SAYS.format(
        people=plain(usual["people"], 0), offset=_off(usual, found["unit"])
    )
    picture = curve(
        f"offset-{found['target']}", title, says, axes,
        [[(people, value) for people, value, _ in rows]],
        band=[(people, value - band, value + band) for people, value, band in rows],
    )  # fmt: skip
    return Plot(title, says, picture)


def _place(reading: Mapping[str, Any], length: str) -> str:
    where = pt.MODEL_LOADING.format(number=reading["loading"] + 1)
    return where if reading["x"] is None else f"{reading['x']:.1f} {length}, {reading['side']}"
