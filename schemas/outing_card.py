"""The table for the dock: plain text of at most 100 columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from schemas.card import VERDICTS, short
from schemas.card_texts import NOT_YET
from schemas.outing_words import (
    MODES,
    SOURCES,
    Answer,
    came_from,
    changes,
    clock,
    clock_of_day,
    fills,
    lies,
    loads,
    loss,
    optimal,
    plates,
    roles,
    seats,
    unfit,
    where,
)
from schemas.wrapping import wrapped
from schemas.written import figure, plain

WIDTH = 100
RULE = "-" * WIDTH


def card(answer: Answer) -> str:
    """The table for one answer of ``POST /v1/outing-plans``."""
    lines = [*_head(answer), RULE]
    for turn in answer["turns"]:
        lines += _block(turn, answer)
    lines += [*_home(answer), RULE, *_foot(answer)]
    return "\n".join(lines) + "\n"


def _head(answer: Answer) -> Iterator[str]:
    verdict = VERDICTS[answer["verdict"]]
    title = f"{answer['boat']['name']}: OUTING, {MODES[answer['mode']]}"
    yield f"{short(title, WIDTH - len(verdict) - 1):<{WIDTH - len(verdict) - 1}} {verdict}"
    if answer["not_yet"] is not None:
        yield from _wrapped(f"{NOT_YET}: {answer['not_yet']['text']}", "  ")
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
    about = [
        roles(setup),
        plates(setup["plates"]),
        *loads(setup, units),
        lies(turn["predicted"], units),
    ]
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


def _home(answer: Answer) -> Iterator[str]:
    home, units = answer["way_home"], answer["units"]
    yield from _change(home["change_over"], units)
    yield from _wrapped(
        f"   {clock(home):>5}-{clock(home, 'end'):<5} WAY HOME: plates up, "
        f"{lies(home['predicted'], units)}; "
        + "; ".join((seats(home["seating"]), *loads(home, units))),
        " " * 15,
    )


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


def _mark(entry: Mapping[str, Any]) -> str:
    return {"danger": "!!", "warning": "! "}.get(entry["severity"], "- ")


def _wrapped(text: str, indent: str) -> list[str]:
    return wrapped(text, WIDTH, further=indent)
