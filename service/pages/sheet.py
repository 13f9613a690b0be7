"""The sheet: one answer of ``POST /v1/advice`` for a phone and for one printed page.

Made from the answer that is already written in the request's units, so that sheet and JSON can
never say two things; the pictures come from the same advice in SI.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas import written
from schemas.card_why import rule_words
from schemas.not_yet import SET_NOTHING, THEN
from schemas.seating_words import called
from schemas.units import Dimension, System
from schemas.written import figure, plain, quantity, shown
from service.advice.answer import Advice
from service.advice.situation import Assumption
from service.pages import texts as t
from service.pages import words
from service.pages.charts import signed, waterfall
from service.pages.loading_plan import loading_plan
from service.pages.plots import plots
from service.pages.rendering import render
from service.pages.scene import scene_of
from service.pages.wake import wake

Answer = Mapping[str, Any]
HELD = f"{SET_NOTHING} {THEN}"
"""While the verdict is not to go; what has to change first stands above, among the cautions."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a sum: its sign and size, what it is, and the rule behind it, if any."""

    sign: str
    size: str
    words: str
    label: str
    rule: str


@dataclass(frozen=True, slots=True)
class Sum:
    """A number of the set-up with the steps that add up to it, and their picture."""

    name: str
    total: str
    steps: tuple[Step, ...]
    picture: str


def sheet(advice: Advice, answer: Answer, system: System) -> str:
    """The whole page."""
    return render("sheet.html", level=1, **context(advice, answer, system))


def part(advice: Advice, answer: Answer, system: System) -> str:
    """The sheet as a part of another page, one level of headings down."""
    return render("_sheet.html", level=2, **context(advice, answer, system))


def context(advice: Advice, answer: Answer, system: System) -> dict[str, Any]:
    """What the sheet's template shows."""
    setup, units = answer["setup"], answer["units"]
    rest = answer["predicted"]["at_rest"]
    cautions = answer["cautions"]
    return {
        "answer": answer,
        "units": units,
        "heading": t.SHEET_TITLE.format(
            boat=answer["boat"]["name"], side=t.SIDES[setup["surf_side"]]
        ),
        "verdict": answer["verdict"],
        "held": HELD,
        "rider": _rider(answer),
        "aboard": t.SHEET_ABOARD.format(
            people=words.counted(sum(group["people"] for group in setup["seating"]))
        ),
        "people": _people(setup["seating"]),
        "grave": [caution for caution in cautions if caution["severity"] != "note"],
        "notes": [caution for caution in cautions if caution["severity"] == "note"],
        "speed": figure(setup["speed"], units["speed"], 1),
        "plates": [(t.ACCOUNT_NAMES[f"plates.{n}"], _plate(v)) for n, v in setup["plates"].items()],
        "lies": _lies(advice, rest, system),
        "picture": loading_plan(scene_of(advice), system),
        "sums": [
            _sum(name, account, advice.base.rules) for name, account in answer["accounts"].items()
        ],
        "wake": wake(advice, system),
        "plots": plots(advice, system),
        "reasons": [_reason(reason, advice, system) for reason in answer["reasons"]],
        "steps_more": [_sensitivity(row, units) for row in answer["sensitivities"]],
        "assumed": [_assumed(gap, system) for gap in advice.assumed],
        "saved": answer["saved"] and _saved(answer["saved"], units),
        "foot": t.FOOT.format(**answer["rule_set"]),
    }


def _saved(saved: Answer, units: Answer) -> dict[str, Any]:
    """A saved set-up as it has to be set today, in words."""
    setup, rest = saved["setup"], saved["at_rest"]
    name = t.SAVED_ID.format(id=saved["id"]) if saved["id"] else t.SAVED_SENT
    lies = [t.STATES[rest["status"]]]
    if rest["heel"] is not None and rest["freeboard"] is not None:
        least = rest["freeboard"]["least"]
        edge = written.height(least, units["length"])
        edge = t.UNDER.format(length=edge) if least < 0 else edge
        lies = [words.lean(rest["heel"]), words.bow(rest["trim"])]
        lies.append(f"{t.PLAN_LEAST.lower()} {edge}")
    return {
        "source": t.SAVED_SOURCES[saved["source"]].format(name=name, boat=saved["boat"]["name"]),
        "verdict": t.VERDICTS[saved["verdict"]],
        "usable": saved["verdict"] != "do_not_go",
        "numbers": [
            (t.SPEED, figure(setup["speed"], units["speed"], 1)),
            *((t.ACCOUNT_NAMES[f"plates.{n}"], _plate(v)) for n, v in setup["plates"].items()),
            *((tank["tank"], figure(tank["fill"], "%", 0)) for tank in setup["tanks"]),
            (t.SITS, ", ".join(lies)),
        ],
    }


def _assumed(gap: Assumption, system: System) -> tuple[str, str, str]:
    """Where a default was used, its value with its unit, and where it comes from."""
    if isinstance(gap.value, str):
        return gap.pointer, gap.value, gap.source
    if gap.dimension:
        return gap.pointer, shown(gap.value, Dimension(gap.dimension), system, 1), gap.source
    return gap.pointer, plain(gap.value, 1), gap.source


def _people(seating: Sequence[Answer]) -> list[tuple[str, Answer]]:
    """Who goes where: movers first, one in a row, or so many of a head count."""
    if any("person" in entry for entry in seating):
        movers_first = sorted(seating, key=lambda entry: not entry["moves"])
        return [(f"{called(entry)} {_does(entry)}".strip(), entry) for entry in movers_first]
    ways: dict[tuple[Any, Any], list[Answer]] = {}
    for entry in seating:
        ways.setdefault((entry["from"], entry["to"]), []).append(entry)
    rows = []
    for alike in ways.values():
        people = sum(entry["people"] for entry in alike)
        rows.append((words.counted_with(str(people), people, map(_does, alike)), alike[0]))
    return rows


def _does(entry: Answer) -> str:
    return t.DOES.get(entry["role"], "")


def _rider(answer: Answer) -> str:
    rider = answer["rider"]
    about = t.SHEET_RIDER.format(
        mass=figure(rider["mass"], answer["units"]["mass"], 0),
        stance=t.STANCES[rider["stance"]] if rider["stance"] else t.STANCE_NOT_GIVEN,
        board=t.BOARDS[rider["board"]],
        level=t.LEVELS[rider["level"]],
    )
    wishes = ", ".join(t.WISHES[wish] for wish in rider["wants"])
    return f"{about}; {t.SHEET_WANTS.format(wants=wishes)}" if wishes else about


def _plate(travel: float | None) -> str:
    if travel is None:
        return t.NOT_FITTED
    return t.PLATE_UP if travel == 0 else f"{figure(travel, '%', 0)} {t.DOWN}"


def _lies(advice: Advice, rest: Answer, system: System) -> list[str]:
    """How the boat lies; the numbers are those of the picture."""
    board = advice.at_rest.freeboard
    if rest["heel"] is None or board is None:
        return [t.STATES[rest["status"]]]
    state = [] if rest["status"] == "floats" else [t.STATES[rest["status"]]]
    least = f"{t.PLAN_LEAST.lower()} {words.height(board.least, system)}"
    return [*state, words.lean(rest["heel"]), words.bow(rest["trim"]), least]


def _sum(name: str, account: Answer, rules: Container[str]) -> Sum:
    kind, _, tank = name.partition(".")
    title = t.ACCOUNT_TANK.format(name=tank) if kind == "tanks" else t.ACCOUNT_NAMES[name]
    unit = account["unit"]
    steps = tuple(_steps(account, rules))
    ids = "sum-" + name.replace(".", "-")
    picture = ""
    if len(steps) > 1:
        picture = waterfall(ids, title, [(line["change"], "") for line in account["lines"]])
    return Sum(title, figure(account["value"], unit, 2).replace("-", "−"), steps, picture)


def _steps(account: Answer, rules: Container[str]) -> Iterator[Step]:
    """Each line of the account; what the boat's log or rounding adds is no rule to look up."""
    for number, line in enumerate(account["lines"]):
        change = line["change"]
        rounding = line["kind"] == "rounding" or line["rule"] == "rounding"
        yield Step(
            sign="" if number == 0 else "+" if change >= 0 else "−",
            size=plain(abs(change) if number else change, 2).replace("-", "−"),
            words=t.ROUNDED if rounding else rule_words(line["rule"]),
            label=line["label"],
            rule=line["rule"] if line["rule"] in rules else "",
        )


def _reason(reason: Answer, advice: Advice, system: System) -> dict[str, Any]:
    """The reason with its facts and effects as words."""
    fields = advice.base.fields
    facts = []
    for path in reason["because"]:
        kind, _, name = path.partition(".")
        field, value = fields[kind][name], advice.facts[kind][name]
        if value is not None:
            told = value if isinstance(value, str) else quantity(value, field.unit, system)
            facts.append((field.says, told.replace("_", " ")))
    return {
        **reason,
        "sure": t.CONFIDENCES[reason["confidence"]],
        "facts": facts,
        "effects": [_effect(effect) for effect in reason["effect"]],
    }


def _effect(effect: Answer) -> str:
    target, change = effect["target"], effect["change"]
    name = t.ACCOUNT_NAMES.get(target, target.replace(".", " ").replace("_", " "))
    if isinstance(change, str):
        change = t.VERDICTS.get(change, change)
        return f"{name}: {change}"
    return f"{name} {'+' if change > 0 else ''}{signed(change)}"


def _sensitivity(row: Answer, units: Answer) -> dict[str, str]:
    least = row["least_freeboard"]
    by = written.height(least, units["length"])
    lowest = f"{by} {t.LOWER if least < 0 else t.HIGHER}" if by[:2] != "0 " else t.NO_CHANGE
    return {
        "change": row["change"],
        "where": row["where"].replace("plates.", ""),
        "heel": "" if "note" in row else words.lean(row["heel"]),
        "trim": "" if "note" in row else words.bow(row["trim"]),
        "least": row.get("note") or lowest,
    }
