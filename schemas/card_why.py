"""The card's WHY: each number as the sum of its named parts, in full as far as there is room."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from schemas import card_texts as t
from schemas.written import plain

Answer = Mapping[str, Any]
Part = tuple[str, float]

INDENT = "  "


def why(answer: Answer, width: int, most: int) -> list[str]:
    """The side, and the sums of speed, plates and the emptiest tank, in ``width`` columns.

    A sum goes on in a further line. One for which ``most`` lines leave no room for that has its
    small parts put together in the one line that it gets; it still adds up. The last sums are left
    out where there is not even that room.
    """
    sides = [_cut(row, width) for row in _sides(answer)]
    spare = most - len(sides) - len(list(_sums(answer)))
    lines = sides
    for title, account in _sums(answer):
        full = _in_full(title, account, width)
        if len(full) - 1 <= spare:
            spare -= len(full) - 1
            lines += full
        else:
            lines.append(_in_one_line(title, account, width))
    return lines[: max(most, 1)]


def _sides(answer: Answer) -> Iterator[str]:
    for reason in answer["reasons"]:
        if any(effect["target"] == "surf_side" for effect in reason["effect"]):
            yield f"{t.SIDES[answer['setup']['surf_side']]}: {reason['title']}"


def _sums(answer: Answer) -> Iterator[tuple[str, Answer]]:
    accounts = answer["accounts"]
    off = "starboard" if answer["setup"]["surf_side"] == "port" else "port"
    for title, name in (
        (t.WHY_SPEED, "speed"),
        (t.WHY_CENTRE_PLATE, "plates.centre"),
        (t.WHY_SIDE_PLATE.format(side=t.SIDES[off]), f"plates.{off}"),
    ):
        if name in accounts:
            yield title, accounts[name]
    tanks = [name for name in accounts if name.startswith("tanks.")]
    if tanks:
        emptiest = min(tanks, key=lambda name: accounts[name]["value"])
        yield emptiest.removeprefix("tanks."), accounts[emptiest]


def _in_full(title: str, account: Answer, width: int) -> list[str]:
    """The sum in lines that break between its parts."""
    start, more = _parts(account)
    lines = [_begin(title, account, start)]
    for part in map(_signed, more):
        if len(lines[-1]) + 1 + len(part) <= width:
            lines[-1] += f" {part}"
        else:
            lines.append(INDENT + part)
    return [_cut(line, width) for line in lines]


def _in_one_line(title: str, account: Answer, width: int) -> str:
    start, more = _parts(account)
    begin = _begin(title, account, start)
    line = begin
    by_size = sorted(range(len(more)), key=lambda n: abs(more[n][1]))
    for folded in range(len(more) + 1):
        small = by_size[:folded]
        parts = [part for n, part in enumerate(more) if n not in small]
        if small:
            parts.append((t.OTHER, sum(more[n][1] for n in small)))
        line = " ".join([begin, *map(_signed, parts)])
        if len(line) <= width:
            break
    return _cut(line, width)


def _begin(title: str, account: Answer, start: Part) -> str:
    total = f"{plain(account['value'], 2)} {account['unit']}"
    return f"{title}: {total} = {plain(start[1], 2)} {start[0]}"


def _parts(account: Answer) -> tuple[Part, list[Part]]:
    first, *more = [(_name(line), line["change"]) for line in account["lines"]]
    return first, more


def _name(line: Answer) -> str:
    """The rule in words; of a limit, what it is that limits."""
    if line["kind"] == "rounding":
        return t.ROUNDING
    if line["kind"] == "bound":
        _, _, reason = line["label"].rpartition(": ")
        return t.LIMIT.format(reason=reason)
    return rule_words(line["rule"])


def rule_words(rule: str) -> str:
    """A rule by its id, as a short name."""
    return t.RULES.get(rule) or rule.rpartition(".")[2].replace("_", " ")


def _signed(part: Part) -> str:
    name, change = part
    return f"{'+' if change > 0 else '−'} {plain(abs(change), 2)} {name}"


def _cut(line: str, width: int) -> str:
    return line if len(line) <= width else line[: width - 1].rstrip() + "…"
