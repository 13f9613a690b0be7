"""An outing in words, for the table, the printed page and the calendar.

Made from the answer that is already written in the request's units, so that none of them can say
another thing than the JSON.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from schemas.card import above_water, bow, lean
from schemas.outing_parts import STANDS
from schemas.outing_turns import ABOARD
from schemas.written import figure, offset, on_day, plain
from service.advice.answer import OWN_PLACE

SOURCES = {
    "rules": "",
    "saved": "saved before, corrected for today",
    "carried_over": "carried over from another boat",
    "compromise": "common set-up",
}
MODES = {
    "each": "a set-up for each rider",
    "one_per_side": "one set-up for each side",
    "one_for_all": "one set-up for all",
}

SETTLE = "seat people while pumps run"
SETTLE_BOTH = "seat people and shift loads while pumps run"
NO_SEAT = "no seat"

Answer = Mapping[str, Any]


def clock(moment: Mapping[str, Any], end: str = "start") -> str:
    """``14:05`` where the start was told, else hours and minutes from setting out."""
    told = moment[f"{end}_time"]
    if told is not None:
        return datetime.fromisoformat(told).strftime("%H:%M")
    minutes = int(moment[f"{end}s"])
    return f"{minutes // 60}:{minutes % 60:02}"


def clock_of_day(answer: Answer) -> str:
    """When the boat sets out, empty where it was not told."""
    if answer["start_time"] is None:
        return ""
    starts = datetime.fromisoformat(answer["start_time"])
    return f"{on_day(starts)}, {starts:%H:%M} {offset(starts)}"


def changes(change: Mapping[str, Any], units: Mapping[str, str]) -> Iterator[str]:
    """What to do, in order; pumps that may run together stand in one sentence."""
    together: list[str] = []
    batch: int | None = None
    if change["side_changes"]:
        yield f"SIDE CHANGES to {change['surf_side'].upper()}"
    for step in change["steps"]:
        pump = step["kind"] == "pump"
        if together and not (pump and batch is not None and step["together"] == batch):
            yield _pumps(together)
            together = []
        if pump:
            batch = step["together"]
            together.append(
                f"{step['tank']} {plain(step['from_fill'], 0)} to {plain(step['to_fill'], 0)} %"
            )
        else:
            yield _moved(step, units)
    if together:
        yield _pumps(together)
    if change["people_settle_while_pumping"]:
        yield SETTLE_BOTH if change.get("loads_shifted") else SETTLE
    if change["breaks"]:
        yield "NOT SAFE ON THE WAY: " + ", ".join(each["limit"] for each in change["breaks"])


def _moved(step: Mapping[str, Any], units: Mapping[str, str]) -> str:
    if step["kind"] == "shift":
        left = "" if step["from"] == OWN_PLACE else f" from {step['from']}"
        return f"shift {_load(step, units)}{left} to {_beside(step['to'])}"
    if step["from"] == ABOARD:
        where = "" if step["to"] == STANDS else f": {step['to']}"
        return f"{step['person']} back aboard{where}"
    if step["to"] == STANDS:
        return f"{step['person']} gets up from {step['from']}"
    return f"{step['person']} {step['from']} to {step['to']}"


def _pumps(tanks: list[str]) -> str:
    return ("pump " if len(tanks) == 1 else "run together: ") + ", ".join(tanks)


def loads(part: Mapping[str, Any], units: Mapping[str, str]) -> Iterator[str]:
    """Movable loads that lie elsewhere than told; nothing where there are none."""
    if "loads" in part:
        away = [
            f"{_load(load, units)} {_beside(load['at'])}"
            for load in part["loads"] if load["at"] != OWN_PLACE
        ]  # fmt: skip
        yield f"loads: {', '.join(away)}" if away else "loads in their own places"


def _load(load: Mapping[str, Any], units: Mapping[str, str]) -> str:
    return f"{load['load']} ({figure(load['mass'], units['mass'], 0)})"


def _beside(place: str) -> str:
    return place if place == OWN_PLACE else f"beside {place}"


def came_from(turn: Mapping[str, Any]) -> str:
    """Where a turn's numbers come from, a kept set-up with its id; empty for the rules."""
    source = SOURCES[turn["source"]]
    return f"set-up {turn['saved']}: {source}" if turn["saved"] else source


def fills(tanks: list[Mapping[str, Any]]) -> str:
    return "/".join(plain(tank["fill"], 0) for tank in tanks) or "none"


def plates(travels: Mapping[str, float | None]) -> str:
    """Each plate in words."""
    told = [
        f"{name} {'not fitted' if travel is None else 'up' if travel == 0 else f'{travel:.0f} %'}"
        for name, travel in travels.items()
    ]
    return "plates " + ", ".join(told)


def lies(rest: Mapping[str, Any], units: Mapping[str, str]) -> str:
    """How the boat lies, never with a bare sign."""
    if rest["heel"] is None or rest["least_freeboard"] is None:
        return f"DOES NOT FLOAT SAFELY: {rest['status']}"
    board = f"lowest freeboard {above_water(rest['least_freeboard'], units['length'])}"
    return ", ".join((lean(rest["heel"]), bow(rest["trim"]), board))


def seats(seating: list[Mapping[str, Any]]) -> str:
    return "; ".join(
        f"{NO_SEAT if group['seat'] == STANDS else group['seat']}: {', '.join(group['people'])}"
        for group in seating
    )


def roles(setup: Mapping[str, Any]) -> str:
    """Who drives and who watches the rider."""
    driver, observer = (setup[role] or "nobody" for role in ("driver", "observer"))
    return f"{driver} drives, {observer} watches"


def where(caution: Mapping[str, Any], answer: Answer) -> str:
    """The turns that a caution is about; nothing where it is about all."""
    turns = caution["turns"]
    if len(turns) == len(answer["turns"]):
        return ""
    return f"Turn{'s' if len(turns) > 1 else ''} {', '.join(map(str, turns))}: "


def unfit(answer: Answer) -> Iterator[str]:
    """What did not fit; the same for several riders in one sentence."""
    same: dict[str, list[str]] = {}
    for entry in answer["did_not_fit"]:
        same.setdefault(entry["text"].removeprefix(entry["rider"]), []).append(entry["rider"])
    for text, names in same.items():
        if len(names) == 1:
            yield names[0] + text
        elif len(names) == len(answer["totals"]["riders"]):
            yield "Everybody" + text
        else:
            yield f"Each of {', '.join(names)}{text}"


def optimal(answer: Answer) -> str:
    order = answer["order"]
    if order["exact"]:
        return "No faster order exists."
    return (
        f"No order is faster by more than {plain(order['gap'], 1)} min, "
        f"{plain(order['gap_percent'], 1)} %."
    )


def loss(entry: Mapping[str, Any], units: Mapping[str, str]) -> str:
    """What one rider gives up, in words."""
    parts = []
    for name, unit, digits in (("speed", units["speed"], 1), ("water", units["volume"], 0)):
        if abs(entry[name]) >= 0.05:
            parts.append(f"{name} off by {figure(abs(entry[name]), unit, digits)}")
    parts += [
        f"{name.replace('_', ' ')} off by {plain(abs(entry[name]), 1)}{unit}"
        for name, unit in (
            ("centre_plate", " %"), ("off_side_plate", " %"), ("lean", "°"), ("trim", "°"),
        )
        if entry[name] is not None and abs(entry[name]) >= 0.05
    ]  # fmt: skip
    if entry["other_side"]:
        parts.insert(0, "rides the other side")
    return f"{entry['rider']}: {', '.join(parts) or 'loses nothing'}"
