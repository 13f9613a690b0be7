"""The card for the helm: one page of plain text, at most 40 lines of 80 columns.

Made from the answer that is already written in the request's units, so that card and JSON can
never say two things.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from schemas import card_texts as t
from schemas.card_why import why
from schemas.seating_words import moves, places
from schemas.wrapping import wrapped
from schemas.written import figure, height, plain

WIDTH = 78
LINES = 40
LABEL = 9
SHORT = 2
"""Lines up to which a note is printed with what to do."""
LAST_WORD = 3
"""Lines kept for the caution that always stands last, and for saying that there are more."""

MOST = 4
"""Lines of a row of settings."""
FEW_MOVES, MOST_MOVES = 3, 12
"""Lines of who moves beyond which other rows get less room, and beyond which even they are cut."""

VERDICTS, MARKS = t.VERDICTS, t.MARKS
RULE = "-" * WIDTH

Answer = Mapping[str, Any]


def card(answer: Answer) -> str:
    """The card for one answer of ``POST /v1/advice``."""
    grave = [c for c in answer["cautions"] if c["severity"] != "note"]
    first = () if answer["not_yet"] is None else answer["not_yet"]["first"]
    needed = sum(len(_caution(c, action=c["action"] not in first)) for c in grave) + LAST_WORD
    top = [*_head(answer), RULE, *_settings(answer), RULE]
    top += _labelled(t.WHY, why(answer, WIDTH - LABEL, LINES - len(top) - 1 - needed))
    look = [] if first else _look(answer["watch_for"], LINES - len(top) - 1 - needed)
    cautions = _cautions(answer["cautions"], first, LINES - len(top) - len(look) - 1)
    return "\n".join([*top, *look, RULE, *cautions]) + "\n"


def _head(answer: Answer) -> Iterator[str]:
    side = t.SIDES[answer["setup"]["surf_side"]].upper()
    verdict = t.VERDICTS[answer["verdict"]]
    name = short(answer["boat"]["name"], WIDTH - len(verdict) - len(side) - 9)
    title = t.HEADING.format(boat=name, side=side)
    yield f"{title:<{WIDTH - len(verdict) - 1}} {verdict}"
    rider = answer["rider"]
    units = answer["units"]
    about = [
        figure(rider["mass"], units["mass"], 0),
        t.STANCES[rider["stance"]] if rider["stance"] else t.STANCE_NOT_GIVEN,
        t.BOARDS[rider["board"]],
        t.LEVELS[rider["level"]],
    ]
    aboard = sum(group["people"] for group in answer["setup"]["seating"])
    yield t.RIDER.format(about=", ".join(about), people=aboard)
    if answer["not_yet"] is not None:
        yield from _labelled(t.NOT_YET, wrapped(answer["not_yet"]["text"], WIDTH - LABEL))


def _settings(answer: Answer) -> Iterator[str]:
    setup, units = answer["setup"], answer["units"]
    if answer["not_yet"] is not None:
        yield t.NOT_TO_BE_SET
    yield from _row(t.SPEED, [t.BY_GPS.format(speed=figure(setup["speed"], units["speed"], 1))])
    yield from _row(t.PLATES, [_plate(name, setup["plates"]) for name in setup["plates"]])
    tanks = [
        t.TANK.format(
            name=tank["tank"],
            fill=plain(tank["fill"], 0),
            volume=figure(tank["volume"], units["volume"], 0),
        )
        for tank in setup["tanks"]
    ]
    yield from _row(t.TANKS, tanks or [t.NO_TANKS])
    usable = answer["not_yet"] is None
    move = _row(t.MOVE, moves(setup["seating"]), MOST_MOVES, ";") if usable else []
    most = MOST if len(move) <= FEW_MOVES else MOST // 2
    yield from move
    people = places(setup["seating"], moved=not usable)
    yield from _row(t.PEOPLE, people if setup["seating"] else [t.NOBODY], most, ";")
    to_do = answer["changeover"] if usable else None
    if to_do and (pumped := _pumps(to_do, units)):
        yield from _row(t.PUMPS, pumped, most)
    shifted = [
        t.SHIFT.format(name=load["name"], mass=figure(load["mass"], units["mass"], 0),
                       place=load["to"])
        for load in setup["loads"]
    ]  # fmt: skip
    yield from _row(t.LOADS, shifted, most)
    yield from _row(t.SITS, _attitude(answer["predicted"]["at_rest"], units), mark=";")
    if answer["saved"] is not None:
        yield from _row(t.SAVED, list(_saved(answer["saved"], units)), most)


def _saved(saved: Mapping[str, Any], units: Mapping[str, str]) -> Iterator[str]:
    """The saved set-up as it has to be set today, beside what the rules advise."""
    name = t.SAVED_ID.format(id=saved["id"]) if saved["id"] else t.SAVED_SENT
    yield t.SAVED_SOURCES[saved["source"]].format(name=name)
    if saved["verdict"] != "go":
        yield t.VERDICTS[saved["verdict"]]
    if saved["verdict"] == "do_not_go":
        return
    setup = saved["setup"]
    yield figure(setup["speed"], units["speed"], 1)
    yield from (_plate(name, setup["plates"]) for name in setup["plates"])
    for tank in setup["tanks"]:
        yield t.SAVED_TANK.format(name=tank["tank"], fill=plain(tank["fill"], 0))


def _row(label: str, parts: Sequence[str], most: int = MOST, mark: str = ",") -> list[str]:
    """A labelled row, broken between parts where it can; nothing where there are none."""
    lines: list[str] = []
    for number, part in enumerate(parts):
        said = part if number + 1 == len(parts) else part + mark
        if lines and len(lines[-1]) + 1 + len(said) <= WIDTH - LABEL:
            lines[-1] += f" {said}"
        else:
            lines += wrapped(said, WIDTH - LABEL)
    if len(lines) > most:
        lines = [*lines[: most - 1], t.MORE]
    return _labelled(label, lines)


def _labelled(label: str, lines: Sequence[str]) -> list[str]:
    """The label before the first line; one that is too long for its column pushes that aside."""
    return [f"{'' if number else f'{label} ':<{LABEL}}{line}" for number, line in enumerate(lines)]


def _pumps(changeover: Mapping[str, Any], units: Mapping[str, str]) -> list[str]:
    """What is pumped, in the order in which to do it, and how long that takes."""
    steps = [
        (t.PUMP_IN if step["volume"] > 0 else t.PUMP_OUT).format(
            name=step["tank"], volume=figure(abs(step["volume"]), units["volume"], 0)
        )
        for step in changeover["steps"]
        if step["do"] == "pump"
    ]
    minutes = changeover["minutes"]["at_once"]
    if minutes is None:
        time = t.PUMPING_TIME_UNKNOWN
    elif minutes < 1.0:
        time = t.PUMPING_SECONDS.format(seconds=plain(60.0 * minutes, 0))
    else:
        time = t.PUMPING_TIME.format(minutes=plain(minutes, 0))
    return [*steps, time] if steps else []


def _plate(name: str, plates: Mapping[str, float | None]) -> str:
    travel, shown = plates[name], t.PLATE_NAMES[name]
    if travel is None:
        return t.PLATE_NOT_FITTED.format(name=shown)
    pattern = t.PLATE_UP if travel == 0 else t.PLATE_DOWN
    return pattern.format(name=shown, travel=plain(travel, 0))


def _attitude(rest: Mapping[str, Any], units: Mapping[str, str]) -> list[str]:
    if rest["heel"] is None or rest["freeboard"] is None:
        return [t.STATES[rest["status"]]]
    board, length = rest["freeboard"], units["length"]
    state = [] if rest["status"] == "floats" else [t.STATES[rest["status"]]]
    return [
        *state,
        f"{lean(rest['heel'])}, {bow(rest['trim'])}",
        t.LOWEST.format(
            where=t.WHERE[min(t.WHERE, key=lambda side: float(board[side]))],
            height=above_water(board["least"], length),
        ),
    ]


def above_water(value: float, unit: str) -> str:
    """A height above the water in words: never a bare sign."""
    shown = height(value, unit)
    return t.UNDER.format(height=shown) if value < 0 else shown


def lean(heel: float) -> str:
    """Heel in words: never a bare sign."""
    size = plain(abs(heel), 1)
    side = t.SIDES["starboard" if heel > 0 else "port"]
    return t.UPRIGHT if size == "0" else t.LEAN.format(size=size, side=side)


def bow(trim: float) -> str:
    """Trim in words: never a bare sign."""
    size = plain(abs(trim), 1)
    if size == "0":
        return t.LEVEL
    return (t.BOW_UP if trim > 0 else t.BOW_DOWN).format(size=size)


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
    return _labelled(t.LOOK_FOR, lines)


def _cautions(cautions: Sequence[Mapping[str, str]], first: Sequence[str], room: int) -> list[str]:
    """The gravest first, each with what to do; notes so where that is short. As room allows.

    What is to be done ``first`` stands at the head of the card and not once more.
    The one that puts law, maker and licence first always stands last.
    """
    last = [c for c in cautions if c["rule"].startswith("law.")]
    rest = [c for c in cautions if not c["rule"].startswith("law.")]
    closing = [line for caution in last for line in _caution(caution, action=False)]
    lines: list[str] = []
    for number, caution in enumerate(rest):
        block = _caution(caution, action=caution["action"] not in first)
        spare = room - len(closing) - (1 if number + 1 < len(rest) else 0)
        if caution["severity"] == "note" and len(block) > min(SHORT, spare - len(lines)):
            block = _caution(caution, action=False)
        if len(lines) + len(block) > spare:
            lines.append(t.MORE_CAUTIONS.format(count=len(rest) - number))
            break
        lines += block
    return [*lines, *closing]


def _caution(caution: Mapping[str, str], *, action: bool) -> list[str]:
    text = f"{caution['text']} {caution['action']}" if action else caution["text"]
    mark = t.MARKS[caution["severity"]]
    lines = wrapped(text, WIDTH - 3)
    return [f"{mark} {lines[0]}", *(f"   {line}" for line in lines[1:])]
