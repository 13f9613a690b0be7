"""The table for the dock: plain text of at most 100 columns, and the rows of the printed page.

Made from the answer that is already written in the request's units, so that table and JSON can
never say two things.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from schemas.card import VERDICTS, bow, lean, short
from schemas.outing_answer import ABOARD, OWN_PLACE, STANDS
from schemas.wrapping import wrapped
from schemas.written import figure, offset, on_day, plain

WIDTH = 100
RULE = "-" * WIDTH
SOURCES = {
    "rules": "",
    "saved": "saved before, corrected for today",
    "carried_over": "carried over from another boat",
    "compromise": "common set-up",
}
_QUANTITIES = {
    "mass": "mass", "temperature": "temperature", "fuel": "percentage", "ballast": "percentage",
    "fuel_use": "flow", "boarding": "time", "least_turn": "time", "way": "time",
    "minutes": "time", "total_time": "time",
}  # fmt: skip
"""What a default is a quantity of, by the last name of its pointer."""
MODES = {
    "each": "a set-up for each rider",
    "one_per_side": "one set-up for each side",
    "one_for_all": "one set-up for all",
}

Answer = Mapping[str, Any]


def card(answer: Answer) -> str:
    """The table for one answer of ``POST /v1/outing-plans``."""
    lines = [*_head(answer), RULE]
    for turn in answer["turns"]:
        lines += _block(turn, answer)
    lines += [*_home(answer), RULE, *_foot(answer)]
    return "\n".join(lines) + "\n"


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


def _head(answer: Answer) -> Iterator[str]:
    verdict = VERDICTS[answer["verdict"]]
    title = f"{answer['boat']['name']}: OUTING, {MODES[answer['mode']]}"
    yield f"{short(title, WIDTH - len(verdict) - 1):<{WIDTH - len(verdict) - 1}} {verdict}"
    if answer["start_time"] is not None:
        yield f"Sets out {clock_of_day(answer)}"
    tanks = [tank["tank"] for tank in answer["way_home"]["tanks"]]
    yield from _wrapped(f"Tanks in this order, %: {', '.join(tanks) or 'none fitted'}", "")


def _block(turn: Mapping[str, Any], answer: Answer) -> Iterator[str]:
    """The change-over before a turn, and the turn."""
    units, setup = answer["units"], turn["setup"]
    yield from _change(turn["change_over"], units)
    side = setup["surf_side"].upper()
    yield (
        f"{turn['turn']:>2} {clock(turn):>5}-{clock(turn, 'end'):<5} "
        f"{short(turn['rider'], 24):<24} "
        f"{side:<9} {figure(setup['speed'], units['speed'], 1):<10} "
        f"tanks {short(fills(setup['tanks']), 28)}"
    )
    about = [plates(setup["plates"]), *loads(setup, units), lies(turn["predicted"], units)]
    if turn["verdict"] != "go":
        about.insert(0, VERDICTS[turn["verdict"]])
    if SOURCES[turn["source"]]:
        about.append(came_from(turn))
    if turn is answer["turns"][0]:  # from here on every move is told
        about.append(seats(setup["seating"]))
    yield from _wrapped(" " * 15 + "; ".join(about), " " * 15)


def _change(change: Mapping[str, Any], units: Mapping[str, str]) -> Iterator[str]:
    text = "; ".join(changes(change, units)) or "nothing to change"
    yield from _wrapped(
        f"{clock(change):>8} change {plain(change['minutes'], 1)} min: {text}", "   "
    )


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
        who = "people and loads" if change.get("loads_shifted") else "people"
        yield f"{who} settle while pumps run"
    if change["breaks"]:
        yield "NOT SAFE ON THE WAY: " + ", ".join(each["limit"] for each in change["breaks"])


def _moved(step: Mapping[str, Any], units: Mapping[str, str]) -> str:
    if step["kind"] == "shift":
        left = "" if step["from"] == OWN_PLACE else f" from {step['from']}"
        return f"shift {_load(step, units)}{left} to {_beside(step['to'])}"
    if step["from"] == ABOARD:
        where = "" if step["to"] == STANDS else f" to {step['to']}"
        return f"{step['person']} comes aboard{where}"
    if step["to"] == STANDS:
        return f"{step['person']} gets up from {step['from']}"
    return f"{step['person']} {step['from']} to {step['to']}"


def _pumps(tanks: list[str]) -> str:
    return ("pump " if len(tanks) == 1 else "pump at once ") + ", ".join(tanks)


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
        return f"DOES NOT LIE SAFELY: {rest['status']}"
    board = f"lowest edge {plain(rest['least_freeboard'], 2)} {units['length']}"
    return ", ".join((lean(rest["heel"]), bow(rest["trim"]), board))


def _home(answer: Answer) -> Iterator[str]:
    home, units = answer["way_home"], answer["units"]
    yield from _change(home["change_over"], units)
    yield from _wrapped(
        f"   {clock(home):>5}-{clock(home, 'end'):<5} WAY HOME: plates up, "
        f"{lies(home['predicted'], units)}; "
        + "; ".join((seats(home["seating"]), *loads(home, units))),
        " " * 15,
    )


def seats(seating: list[Mapping[str, Any]]) -> str:
    return "; ".join(f"{group['seat']}: {', '.join(group['people'])}" for group in seating)


def _foot(answer: Answer) -> Iterator[str]:
    totals, units = answer["totals"], answer["units"]
    yield from _wrapped(
        f"Riding {plain(totals['riding_minutes'], 0)} min, change-overs "
        f"{plain(totals['change_over_minutes'], 0)} min, pumps {plain(totals['pump_minutes'], 0)} "
        f"min, water in {plain(totals['water_in'], 0)} and out {plain(totals['water_out'], 0)} "
        f"{units['volume']}, side changes {totals['side_changes']}. {optimal(answer)}",
        "",
    )
    for text in [*unfit(answer), *(loss(entry, units) for entry in answer["losses"])]:
        yield from _wrapped(f"- {text}", "  ")
    for remark in answer["remarks"]:
        turn = f"Turn {remark['turn']}: " if remark["turn"] else ""
        yield from _wrapped(f"{_mark(remark)} {turn}{remark['text']}", "   ")
    for caution in answer["cautions"]:
        if caution["severity"] != "note" or caution["rule"].startswith("law."):
            text = f"{_mark(caution)} {where(caution, answer)}{caution['text']} {caution['action']}"
            yield from _wrapped(text, "   ")


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


def _with_unit(gap: Mapping[str, Any], units: Mapping[str, str]) -> dict[str, Any]:
    """The default as people read it."""
    value = gap["value"]
    quantity = _QUANTITIES.get(gap["pointer"].rsplit("/", 1)[-1])
    if isinstance(value, str) or quantity is None:
        return dict(gap)
    return {**gap, "value": figure(value, units[quantity], 1)}


def _assumed(answer: Answer) -> Iterator[Mapping[str, Any]]:
    """Each default; one that is the same for every rider once, under ``*``."""
    alike: dict[str, list[Mapping[str, Any]]] = {}
    for gap in answer["assumed"]:
        pointer = re.sub(r"^/riders/\d+/", "/riders/*/", gap["pointer"])
        alike.setdefault(pointer, []).append(gap)
    for pointer, gaps in alike.items():
        same = all({**gap, "pointer": ""} == {**gaps[0], "pointer": ""} for gap in gaps)
        if same and len(gaps) == len(answer["totals"]["riders"]):
            yield {**gaps[0], "pointer": pointer}
        else:
            yield from gaps


def optimal(answer: Answer) -> str:
    order = answer["order"]
    if order["exact"]:
        return "Proved: no order that keeps the wishes takes less."
    return (
        f"Proved: no order is better by more than {plain(order['gap'], 1)} min, "
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


def _mark(entry: Mapping[str, Any]) -> str:
    return {"danger": "!!", "warning": "! "}.get(entry["severity"], "- ")


def _wrapped(text: str, indent: str) -> list[str]:
    return wrapped(text, WIDTH, further=indent)


def context(answer: Answer) -> dict[str, Any]:
    """What the template of the printed page shows."""
    units, home = answer["units"], answer["way_home"]
    return {
        "answer": answer,
        "units": units,
        "mode": MODES[answer["mode"]],
        "rows": [
            {
                "turn": turn,
                "speed": figure(turn["setup"]["speed"], units["speed"], 1),
                "plates": plates(turn["setup"]["plates"]),
                "seats": "; ".join((seats(turn["setup"]["seating"]), *loads(turn["setup"], units))),
                "source": came_from(turn),
                **_row(turn, answer),
            }
            for turn in answer["turns"]
        ],
        "home": {
            "seats": "; ".join((seats(home["seating"]), *loads(home, units))),
            **_row(home, answer),
        },
        "losses": [loss(entry, units) for entry in answer["losses"]],
        "unfit": list(unfit(answer)),
        "assumed": [_with_unit(gap, units) for gap in _assumed(answer)],
        "where": where,
        "sets_out": clock_of_day(answer),
        "optimal": optimal(answer),
    }


def _row(part: Mapping[str, Any], answer: Answer) -> dict[str, Any]:
    return {
        "change": list(changes(part["change_over"], answer["units"])),
        "changes_at": clock(part["change_over"]),
        "starts": clock(part),
        "ends": clock(part, "end"),
        "lies": lies(part["predicted"], answer["units"]),
    }
