"""The card for the helm: one page of plain text, at most 40 lines of 80 columns.

Made from the answer that is already written in the request's units, so that card and JSON can
never say two things.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from schemas.written import plain

WIDTH = 78
LINES = 40
LABEL = 9
LAST_WORD = 3
"""Lines kept for the caution that always stands last, and for saying that there are more."""

VERDICTS = {"go": "GO", "go_with_care": "GO WITH CARE", "do_not_go": "DO NOT GO"}
MARKS = {"danger": "!!", "warning": "! ", "note": "- "}
STATES = {
    "floats": "floats",
    "lolls": "UNSTABLE: flops over to a lean",
    "swamps": "WATER OVER THE SIDE",
    "sinks": "SINKS",
    "capsizes": "TURNS OVER",
}
RULE = "-" * WIDTH

Answer = Mapping[str, Any]


def card(answer: Answer) -> str:
    """The card for one answer of ``POST /v1/advice``."""
    top = [*_head(answer), RULE, *_settings(answer), RULE, *_why(answer)]
    grave = [c for c in answer["cautions"] if c["severity"] != "note"]
    needed = sum(len(_caution(caution, action=True)) for caution in grave) + LAST_WORD
    look = _look(answer["watch_for"], LINES - len(top) - 1 - needed)
    cautions = _cautions(answer["cautions"], LINES - len(top) - len(look) - 1)
    return "\n".join([*top, *look, RULE, *cautions]) + "\n"


def _head(answer: Answer) -> Iterator[str]:
    side = answer["setup"]["surf_side"].upper()
    verdict = VERDICTS[answer["verdict"]]
    name = short(answer["boat"]["name"], WIDTH - len(verdict) - len(side) - 9)
    title = f"{name}: {side} WAVE"
    yield f"{title:<{WIDTH - len(verdict) - 1}} {verdict}"
    rider = answer["rider"]
    units = answer["units"]
    about = [
        f"{plain(rider['mass'], 0)} {units['mass']}",
        rider["stance"] or "stance not told",
        f"{rider['board']}-style board",
        rider["level"].replace("_", " "),
    ]
    aboard = sum(group["people"] for group in answer["setup"]["seating"])
    yield f"Rider {', '.join(about)}; {aboard} aboard while riding"


def _settings(answer: Answer) -> Iterator[str]:
    setup, units = answer["setup"], answer["units"]
    yield from _row("SPEED", [f"{plain(setup['speed'], 1)} {units['speed']} by GPS"])
    yield from _row("PLATES", [_plate(name, setup["plates"]) for name in setup["plates"]])
    tanks = [
        f"{tank['tank']} {plain(tank['fill'], 0)} % ({plain(tank['volume'], 0)} {units['volume']})"
        for tank in setup["tanks"]
    ]
    yield from _row("TANKS", tanks or ["none fitted"])
    yield from _row("PEOPLE", _people(setup["seating"]) or ["nobody aboard"])
    yield from _row("LIES", _attitude(answer["predicted"]["at_rest"], units))


def _row(label: str, parts: Sequence[str], most: int = 4) -> list[str]:
    """A labelled row, broken between parts and never within one."""
    lines, line = [], ""
    for part in parts:
        joined = f"{line}, {part}" if line else part
        if line and len(joined) > WIDTH - LABEL:
            lines.append(line + ",")
            joined = part
        line = short(joined, WIDTH - LABEL)
    lines.append(line)
    if len(lines) > most:
        lines = [*lines[: most - 1], "… more in the full answer"]
    return [f"{label if not number else '':<{LABEL}}{line}" for number, line in enumerate(lines)]


def _plate(name: str, plates: Mapping[str, float | None]) -> str:
    travel = plates[name]
    if travel is None:
        return f"{name} not fitted"
    return f"{name} up" if travel == 0 else f"{name} {plain(travel, 0)} % down"


def _people(seating: Sequence[Mapping[str, Any]]) -> list[str]:
    return [
        f"{group['people']} {'stay' if group['from'] == group['to'] else 'to'} "
        f"{group['to'] or 'no seat left'}"
        + (f" from {group['from']}" if group["from"] not in (None, group["to"]) else "")
        for group in seating
    ]


def _attitude(rest: Mapping[str, Any], units: Mapping[str, str]) -> list[str]:
    if rest["heel"] is None or rest["freeboard"] is None:
        return [STATES[rest["status"]]]
    board, length = rest["freeboard"], units["length"]
    state = [] if rest["status"] == "floats" else [STATES[rest["status"]]]
    return [
        *state,
        lean(rest["heel"]),
        bow(rest["trim"]),
        f"lowest side {plain(board['least'], 2)} {length}",
        f"bow {plain(board['bow'], 2)} {length} above the water",
    ]


def lean(heel: float) -> str:
    """Heel in words: never a bare sign."""
    size = plain(abs(heel), 1)
    return "upright" if size == "0" else f"{size}° to {'starboard' if heel > 0 else 'port'}"


def bow(trim: float) -> str:
    """Trim in words: never a bare sign."""
    size = plain(abs(trim), 1)
    return "level fore and aft" if size == "0" else f"{size}° bow {'up' if trim > 0 else 'down'}"


def _why(answer: Answer) -> Iterator[str]:
    """At most five lines: the side, and the sums of speed, plates and the off-side tanks."""
    setup, accounts = answer["setup"], answer["accounts"]
    sides = [
        reason for reason in answer["reasons"]
        if any(effect["target"] == "surf_side" for effect in reason["effect"])
    ]  # fmt: skip
    off = "starboard" if setup["surf_side"] == "port" else "port"
    rows = [(setup["surf_side"], reason["title"]) for reason in sides]
    rows += [
        (title, _sum(accounts[name]))
        for title, name in (
            ("speed", "speed"),
            ("centre plate", "plates.centre"),
            (f"{off} plate", f"plates.{off}"),
        )
        if name in accounts
    ]
    lighter = [name for name in accounts if name.startswith("tanks.")]
    lighter.sort(key=lambda name: accounts[name]["value"])
    if lighter:
        rows.append((lighter[0].removeprefix("tanks."), _sum(accounts[lighter[0]])))
    for number, (title, text) in enumerate(rows[:5]):
        yield short(f"{'WHY' if not number else '':<{LABEL}}{title}: {text}", WIDTH)


def _sum(account: Mapping[str, Any]) -> str:
    parts = []
    for number, line in enumerate(account["lines"]):
        label = line["rule"].rpartition(".")[2].replace("_", " ")
        change = line["change"]
        sign = "" if not number else "+ " if change > 0 else "− "
        size = plain(abs(change) if sign else change, 2)
        parts.append(f"{sign}{size} {label}" if line["kind"] != "rounding" else f"{sign}{size}")
    total = f"{plain(account['value'], 2)} {account['unit']}"
    return f"{total} = {' '.join(parts)}" if len(parts) > 1 else f"{total} {parts[0]}"


def short(line: str, width: int) -> str:
    """The line, cut with an ellipsis where it is too long."""
    return line if len(line) <= width else line[: width - 1].rstrip() + "…"


def _look(watch_for: Sequence[Mapping[str, str]], room: int) -> list[str]:
    """What to look for behind the boat, at most three things, as far as cautions leave room."""
    lines: list[str] = []
    for seen in watch_for[:3]:
        block = wrapped(f"{seen['look']}: {seen['lever']}", WIDTH - LABEL - 2)
        if len(lines) + len(block) > max(room, 1):
            break
        lines += [block[0], *("  " + line for line in block[1:])]
    return [f"{'LOOK FOR' if not n else '':<{LABEL}}{line}" for n, line in enumerate(lines)]


def _cautions(cautions: Sequence[Mapping[str, str]], room: int) -> list[str]:
    """The gravest first, each with what to do; notes without, as far as there is room.

    The one that puts law, maker and licence first always stands last.
    """
    last = [c for c in cautions if c["rule"].startswith("law.")]
    rest = [c for c in cautions if not c["rule"].startswith("law.")]
    closing = [line for caution in last for line in _caution(caution, action=False)]
    lines: list[str] = []
    for number, caution in enumerate(rest):
        block = _caution(caution, action=caution["severity"] != "note")
        spare = room - len(closing) - (1 if number + 1 < len(rest) else 0)
        if len(lines) + len(block) > spare:
            lines.append(f"- and {len(rest) - number} more in the full answer")
            break
        lines += block
    return [*lines, *closing]


def _caution(caution: Mapping[str, str], *, action: bool) -> list[str]:
    text = f"{caution['text']} {caution['action']}" if action else caution["text"]
    mark = MARKS[caution["severity"]]
    lines = wrapped(text, WIDTH - 3)
    return [f"{mark} {lines[0]}", *(f"   {line}" for line in lines[1:])]


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines, a number never parted from its unit."""
    glued = re.sub(r"(?<=\d) (?=\S)", "\N{NO-BREAK SPACE}", text)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in textwrap.wrap(glued, width)]
