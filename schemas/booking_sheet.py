"""The preparation sheet: as JSON, and as text for the dock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from marshmallow import Schema, fields

from schemas import written
from schemas.advice_answer import present
from schemas.card import MARKS, VERDICTS, WIDTH, short
from schemas.card_texts import BOARDS, LEVELS, NOT_YET, PLATE_UP
from schemas.not_yet import not_yet
from schemas.seating_words import places
from schemas.shapes import NotYetSchema
from schemas.units import Dimension, System, unit_names
from schemas.wrapping import wrapped
from schemas.written import hours, plain
from service.bookings.sheet import Sheet, Turn

SOURCES = {
    "saved": "their set-up {id}",
    "carried_over": "their set-up {id} carried over from {boat}",
}


GONE = "{id} (no longer kept)"
ASK_FOR_GONE = (
    "Who rides for {id}, of whom nothing is kept any more? (Taken: {mass}, {board}, "
    "{level}{sides}, and {aboard} while others ride.)"
)
BOTH_SIDES = ", on both sides"
NONE = "none"


class BookingSheetSchema(Schema):
    """What the dock does before and with a party."""

    id = fields.String(required=True)
    boat = fields.Dict(required=True)
    start = fields.DateTime(required=True)
    end = fields.DateTime(required=True)
    people = fields.Integer(required=True)
    not_yet = fields.Nested(
        NotYetSchema(),
        required=True,
        allow_none=True,
        metadata={
            "description": "Null unless the verdict for one of the turns is `do_not_go`. Where it "
            "is there, neither `fill` nor the turns are to be done."
        },
    )
    fill = fields.List(
        fields.Dict(),
        required=True,
        metadata={"description": "Before the party comes: what all set-ups have in common."},
    )
    turns = fields.List(
        fields.Dict(),
        required=True,
        metadata={
            "description": "The set-up for each rider, beside it their own `saved` one, if any. "
            "Of riders who are no longer `kept` only the id is known."
        },
    )
    briefing = fields.List(
        fields.Dict(), required=True, metadata={"description": "The gravest first, each once."}
    )
    check = fields.List(fields.String(), required=True)
    units = fields.Dict(required=True)


def sheet(
    found: Sheet,
    booking: Mapping[str, Any],
    starts: datetime,
    ends: datetime,
    people: int,
    system: System,
) -> dict[str, Any]:
    """The sheet as JSON-ready data; ``booking`` is the answered booking."""
    answers = [present(turn.advice, system, turn.saved) for turn in found.turns]
    return {
        "id": booking["id"],
        "boat": answers[0]["boat"],
        "start": starts.isoformat(),
        "end": ends.isoformat(),
        "people": people,
        "not_yet": _not_yet(answers),
        "fill": [
            {
                "tank": filling.tank,
                "fill": written.number(filling.fill, Dimension.PERCENT, system),
                "volume": written.number(filling.volume, Dimension.VOLUME, system),
                "time": written.number(filling.time, Dimension.TIME, system),
            }
            for filling in found.fillings
        ],
        "turns": [
            {
                "rider": _who(turn, booking),
                "kept": turn.rider not in found.gone,
                "verdict": answer["verdict"],
                **_numbers(answer["setup"]),
                "watch_for": answer["watch_for"],
                "saved": _saved(answer["saved"]),
            }
            for turn, answer in zip(found.turns, answers, strict=True)
        ],
        "briefing": _briefing(answers),
        "check": [
            *(entry["text"] for entry in booking["answer"].get("missing", ())),
            *_for_gone(found, booking, system),
        ],
        "units": unit_names(system),
    }


def _not_yet(answers: Sequence[Mapping[str, Any]]) -> dict[str, Any] | None:
    """Where the advice for any of the riders is not to go, what has to change for all of them."""
    held = [answer["not_yet"] for answer in answers if answer["not_yet"] is not None]
    return not_yet(step for each in held for step in each["first"]) if held else None


def _numbers(setup: Mapping[str, Any]) -> dict[str, Any]:
    return {
        **{name: setup[name] for name in ("surf_side", "speed", "plates")},
        "tanks": {tank["tank"]: tank["fill"] for tank in setup["tanks"]},
        "seating": seating_shown(setup["seating"]),
    }


def seating_shown(seating: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Nobody's weight is on a sheet. Where all weigh the same it is told how many sit where."""
    if len({entry["mass"] for entry in seating}) > 1:
        return [{name: entry[name] for name in entry if name != "mass"} for entry in seating]
    alike: Counter[tuple[str, str | None, str | None]] = Counter()
    for entry in seating:
        alike[entry["role"], entry["from"], entry["to"]] += entry["people"]
    return [
        {"people": people, "role": role, "from": origin, "to": goal}
        for (role, origin, goal), people in alike.items()
    ]


def _saved(saved: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """The rider's own set-up, in the form of a turn."""
    if saved is None:
        return None
    about = {name: saved[name] for name in ("id", "source", "boat", "verdict")}
    return about | _numbers(saved["setup"])


def _who(turn: Turn, booking: Mapping[str, Any]) -> str:
    """A rider's id, or the place in the list; names are not kept with a booking."""
    if turn.rider is None:
        return "any rider"
    entry = booking["riders"][turn.rider]
    return entry if isinstance(entry, str) else f"rider {turn.rider + 1}"


def named(turn: Mapping[str, Any]) -> str:
    """The rider of a turn, as people read it."""
    rider = str(turn["rider"])
    return rider if turn["kept"] else GONE.format(id=rider)


def _for_gone(found: Sheet, booking: Mapping[str, Any], system: System) -> Iterator[str]:
    """What is taken for each rider of whom nothing is kept any more."""
    for number, aboard in found.gone.items():
        turns = [turn for turn in found.turns if turn.rider == number]
        rider = turns[0].advice.rider
        yield ASK_FOR_GONE.format(
            id=booking["riders"][number],
            mass=written.quantity(rider.mass, "kg", system),
            board=BOARDS[rider.board],
            level=LEVELS[rider.level],
            sides=BOTH_SIDES if len(turns) > 1 else "",
            aboard=written.quantity(aboard, "kg", system),
        )


def _briefing(answers: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    order = list(MARKS)
    once = {
        caution["text"]: {name: caution[name] for name in ("severity", "text", "action", "rule")}
        for answer in answers
        for caution in answer["cautions"]
    }
    return sorted(once.values(), key=lambda caution: order.index(caution["severity"]))


def as_text(data: Mapping[str, Any], starts: datetime, ends: datetime, summary: str) -> str:
    """The sheet for the dock, 78 columns wide; times in the outfit's time zone."""
    units, when = data["units"], f"{starts:%d %b %Y} {hours(starts, ends)}"
    lines = [
        short(f"{data['boat']['name']}: {data['id']}, {when}", WIDTH),
        short(f"{data['people']} aboard. {summary}", WIDTH),
    ]
    if data["not_yet"] is not None:
        lines += wrapped(f"{NOT_YET}: {data['not_yet']['text']}", WIDTH)
    lines += ["", "BEFORE ARRIVAL"]
    for filling in data["fill"]:
        time = filling["time"]
        minutes = f", {plain(time, 0)} {units['time']}" if time is not None else ""
        lines.append(
            f"  [ ] {filling['tank']}: {plain(filling['fill'], 0)} % "
            f"({plain(filling['volume'], 0)} {units['volume']}{minutes})"
        )
    for entry in data["check"]:
        lines += _item(f"ask: {entry}")
    lines += ["", "ON THE WATER"]
    for turn in data["turns"]:
        lines += _turn(named(turn), turn, units)
        if turn["saved"] is not None:
            lines += _turn(f"{turn['rider']}, {came_from(turn['saved'])}", turn["saved"], units)
    lines += ["", "GUEST BRIEFING"]
    for caution in data["briefing"]:
        text = f"{MARKS[caution['severity']]} {caution['text']} {caution['action']}"
        lines += wrapped(text, WIDTH, "  ", "     ")
    return "\n".join(lines) + "\n"


def came_from(saved: Mapping[str, Any]) -> str:
    """Which saved set-up, and how it comes to be here."""
    return SOURCES[saved["source"]].format(id=saved["id"], boat=saved["boat"]["name"])


def _turn(rider: str, turn: Mapping[str, Any], units: Mapping[str, str]) -> list[str]:
    plates = [
        PLATE_UP.format(name=name) if travel == 0 else f"{name} {plain(travel, 0)} %"
        for name, travel in turn["plates"].items()
        if travel is not None
    ]
    tanks = [f"{tank} {plain(fill, 0)} %" for tank, fill in turn["tanks"].items()]
    title = (
        f"{rider}: {turn['surf_side']} wave, {plain(turn['speed'], 1)} {units['speed']}, "
        f"{VERDICTS[turn['verdict']]}"
    )
    head = wrapped(title, WIDTH, "  ", "    ")
    told = (
        ("plates", ", ".join(plates)),
        ("tanks", ", ".join(tanks)),
        ("people", "; ".join(places(turn["seating"]))),
    )
    return [*head, *(line for name, each in told for line in _part(f"{name} {each or NONE}"))]


def _item(text: str) -> list[str]:
    return wrapped(text, WIDTH, "  [ ] ", "      ")


def _part(text: str) -> list[str]:
    return wrapped(text, WIDTH, "    ", "      ")
