"""The pictures of a boat's model, measured against the numbers they are drawn from."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from service.pages.boat_model import offset, page, residuals

SVG = "{http://www.w3.org/2000/svg}"

OFFSET = {
    "target": "off_side_plate", "unit": "%", "runs": 14, "changes": 3, "doubted": 1, "sure": True,
    "riders": [{"rider": "ana", "runs": 6, "offset": -1.25, "band": 2.0}],
    "usual": {"people": 6.0, "offset": 4.0, "band": 2.0},
    "by_people": [
        {"people": float(n), "offset": 4.0 + 0.25 * n, "band": 2.0 + 0.5 * abs(n - 6)}
        for n in range(1, 15)
    ],
}  # fmt: skip


def reading(kind: str, residual: float, x: float | None = None) -> dict[str, Any]:
    return {
        "kind": kind, "loading": 0, "x": x, "side": "port" if x is not None else None,
        "residual": residual,
    }  # fmt: skip


def answer(**changes: Any) -> dict[str, Any]:
    return {
        "boat": {"id": "hers", "name": "Her & <hers>"},
        "says": ["The light boat is 2200 kg ± 100 kg, from 3 readings."],
        "known": [],
        "readings": [
            reading("freeboard", 0.004, 0.0),
            reading("freeboard", -0.008, 3.5),
            reading("heel", 0.2),
        ],
        "does_not_fit": None,
        "widened": 1.0,
        "measure_next": [],
        "running_trim": None,
        "log": {"used": True, "half_life_days": None, "offsets": [OFFSET]},
        "units": {"length": "m", "speed": "km/h"},
    } | changes


def numbers(path: ET.Element) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.array(re.findall(r"-?[\d.]+", path.get("d") or ""), float).reshape(-1, 2)


def test_offset_stands_in_the_middle_of_its_band() -> None:
    root = ET.fromstring(offset(OFFSET).picture)  # noqa: S314  # our own
    band, line = (numbers(path) for path in root.iter(f"{SVG}path"))
    low, high = band[:14], band[14:][::-1]
    assert line[:, 0] == pytest.approx(low[:, 0])
    assert line[:, 1] == pytest.approx((low[:, 1] + high[:, 1]) / 2.0, abs=0.1)
    widths = low[:, 1] - high[:, 1]
    bands = np.array([row["band"] for row in OFFSET["by_people"]])  # type: ignore[attr-defined]
    assert widths / widths[5] == pytest.approx(bands / bands[5], abs=0.02)
    assert np.all(np.diff(line[:, 1]) < 0)  # more, further up


def test_residual_bars_are_as_long_as_the_residuals() -> None:
    boards, heels = residuals(answer())
    root = ET.fromstring(boards.picture)  # noqa: S314  # our own
    widths = [float(bar.get("width", "0")) for bar in root.iter(f"{SVG}rect") if bar.get("x")]
    assert widths[1] == pytest.approx(2.0 * widths[0], rel=1e-3)
    words = " ".join(element.text or "" for element in root.iter(f"{SVG}text"))
    assert "4 mm" in words
    assert "−8 mm" in words
    assert "0.2 °" in heels.picture


def test_in_us_units_they_are_inches() -> None:
    boards, _ = residuals(answer(units={"length": "ft", "speed": "mph"}))
    assert "0.05 in" in boards.picture


def test_nothing_read_nothing_drawn() -> None:
    assert residuals(answer(readings=[])) == []
    assert "<svg" not in page(answer(readings=[], log={"used": True, "offsets": []}))


def test_the_log_is_told_in_a_row_with_where_it_comes_from_and_how_sure() -> None:
    water = {**OFFSET, "target": "ballast", "sure": False, "by_people": [], "riders": []}
    shown = page(answer(log={"used": True, "half_life_days": 90, "offsets": [OFFSET, water]}))
    rows = [
        re.sub(r"<[^>]+>", "|", row)
        for row in re.findall(r"<tr>.*?</tr>", shown.replace("\N{NO-BREAK SPACE}", " "))
    ]
    assert (
        "||off-side plate||+4 ± 2 %||yes||14 runs; 3 changes among them; 1 hardly counted||" in rows
    )
    assert any("water in every tank" in row and "may be nothing" in row for row in rows)
    assert "||ana||6 runs||−1.2 ± 2 %||–||" in rows
    assert "half after 90 days" in shown
    assert shown.count("<svg") == 3  # water does not go by people: nothing to draw


def test_a_log_that_is_off_says_so() -> None:
    assert "switched off" in page(answer(log={"used": False, "offsets": []}))


def test_the_page_escapes_a_name() -> None:
    shown = page(answer())
    assert "Her &amp; &lt;hers&gt;" in shown
    assert shown.count("<svg") == 3
