"""What is said about a booking: words for a customer, numbers in the request's units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, tzinfo
from typing import Any

from schemas import written
from schemas.units import System
from service.bookings.fit import Answer, Fit, Party, Reason

_OF_A_RIDER = {
    "mass": "what do they weigh?",
    "stance": "which foot is in front?",
    "board": "a surf-style or a skim-style board?",
    "level": "how experienced are they?",
}
_OF_THE_MAKER = {
    "persons": "how many people may the boat carry?",
    "load_mass": "how much may the boat carry?",
    "includes_ballast": "does the load limit count the ballast water? (Here it does.)",
}
BEGUN = "It had begun already when this was told. Is the date right?"
_PLURAL = {True: "person is", False: "people are"}


def answer(found: Answer, party: Party, system: System, zone: tzinfo) -> dict[str, Any]:
    """The answer as it is kept with the booking; ``sheet`` is left to who knows its address."""
    fit = found.fit
    reasons = [
        {"code": reason.code, "text": _text(reason, found, party, system, zone)}
        for reason in fit.reasons
    ]
    return {
        "fits": fit.fits,
        "boat": fit.boat.id if fit.fits else None,
        "summary": _summary(fit, reasons),
        "reasons": reasons,
        "most": fit.most,
        "missing": list(_missing(fit, party)),
    }


def notice(starts: datetime, told: datetime) -> str | None:
    """That a booking had begun when it was last told: an old one brought in, or a slip."""
    return BEGUN if starts < told else None


def _summary(fit: Fit, reasons: list[dict[str, str]]) -> str:
    if not reasons:
        return f"Fits on {fit.boat.name}."
    start = f"Fits on {fit.boat.name} with care: " if fit.fits else ""
    return start + reasons[0]["text"]


def _text(reason: Reason, found: Answer, party: Party, system: System, zone: tzinfo) -> str:
    fit, people = found.fit, party.people + party.staff
    everybody = f"{people} {_PLURAL[people == 1]}"
    way_out = _way_out(found, party)

    def mass(name: str) -> str:
        return written.quantity(reason.numbers[name], "kg", system)

    match reason.code:
        case "persons" | "places":
            over, limit = (round(reason.numbers[name]) for name in ("over", "limit"))
            takes = "takes" if reason.code == "persons" else "has places to sit"
            return f"{everybody} {over} more than {fit.boat.name} {takes} ({limit}){way_out}."
        case "people_mass":
            return (
                f"{everybody} together {mass('over')} over what {fit.boat.name} takes in people "
                f"({mass('limit')}){way_out}."
            )
        case "load":
            return (
                f"{everybody} {mass('over')} over this boat's limit even with empty tanks{way_out}."
            )
        case "full_tanks":
            return (
                f"{people} {'person' if people == 1 else 'people'} with full tanks are "
                f"{mass('over')} over this boat's limit{way_out}; or ride with "
                f"{mass('over')} less water, which makes a smaller wave."
            )
        case "nobody_drives":
            return (
                "Nobody besides the rider is able to drive: say how many staff go along, "
                "a driver and someone who watches the rider."
            )
        case "nobody_watches":
            return (
                "Nobody besides the driver and the rider is able to watch the rider: an observer "
                "has to come along, a guest who is old enough or one of the staff."
            )
        case "swamped":
            return f"{fit.boat.name} does not float upright and dry with that load{way_out}."
        case "taken":
            starts, ends = (
                datetime.fromtimestamp(reason.numbers[name], UTC).astimezone(zone)
                for name in ("starts", "ends")
            )
            return (
                f"{fit.boat.name} is booked from {starts:%H:%M} to {ends:%H:%M} "
                f"({written.offset(starts)}){way_out}."
            )
        case _:
            return _unsafe(fit, system) + (f" Or {way_out[2:]}." if way_out else "")


def _way_out(found: Answer, party: Party) -> str:
    """Such as ": take 9 or the larger boat (Brindle Cove 8)", as far as there is one."""
    ways = []
    if found.fit.most and found.fit.most < party.people:
        ways.append(str(found.fit.most))
    if found.instead is not None:
        size = found.instead.length_overall - found.fit.boat.length_overall
        which = "larger" if size > 0 else "other"
        ways.append(f"the {which} boat ({found.instead.name})")
    return f": take {' or '.join(ways)}" if ways else ""


def _unsafe(fit: Fit, system: System) -> str:
    """The gravest cautions of the advice, in its own words."""
    advice = fit.advice
    if advice is None:
        return "The advice is not to go."
    grave = {firing.rule.id for firing in advice.firings if firing.rule.verdict is advice.verdict}
    texts = [
        written.sentence(entry.caution.text, advice.base, advice.facts, system)
        for entry in advice.cautions
        if entry.rule in grave
    ]
    return " ".join(texts) or "The advice is not to go."


def _missing(fit: Fit, party: Party) -> Iterator[dict[str, str]]:
    def ask(pointer: str, text: str) -> dict[str, str]:
        return {"pointer": pointer, "text": text}

    if None in party.guests()[0]:
        yield ask("/party", "What does each guest weigh? (The usual mass is taken.)")
    if not party.riders:
        yield ask("/riders", "Who rides: what mass, which foot in front, which board, what level?")
    for number, rider in enumerate(party.riders):
        who = rider.id or f"Rider {number + 1}"
        for name, question in _OF_A_RIDER.items():
            if getattr(rider, name) is None:
                yield ask(f"/riders/{number}/{name}", f"{who}: {question}")
    limits = fit.boat.limits
    for name, question in _OF_THE_MAKER.items():
        if getattr(limits, name) is None and (name != "includes_ballast" or limits.load_mass):
            yield ask("/boat", f"The maker, or the maker's plate: {question}")


def line(booking: Mapping[str, Any], starts: datetime, ends: datetime) -> str:
    """One line of the day sheet."""
    party = booking["party"] if isinstance(booking["party"], int) else len(booking["party"])
    mark = " " if booking["answer"].get("fits") else "!"
    boat = booking["answer"].get("boat") or booking.get("boat", "any")
    summary = booking["answer"].get("summary", "")
    return (
        f"{mark} {written.hours(starts, ends):<21}  {booking['id'][:16]:<16}  {boat[:16]:<16}  "
        f"{party:>2} people  {summary}"
    )
