"""Every text that a person reads on the card for the helm: English.

One module for one audience; another language is another module with the same names.
"""

from __future__ import annotations

VERDICTS = {"go": "GO", "go_with_care": "GO WITH CARE", "do_not_go": "DO NOT GO"}
NOT_YET = "NOT YET"
NOT_TO_BE_SET = "DO NOT SET. For reference only:"
MARKS = {"danger": "!!", "warning": "! ", "note": "- "}
STATES = {
    "floats": "floats",
    "lolls": "UNSTABLE: flops over to a lean",
    "swamps": "WATER OVER THE SIDE",
    "sinks": "SINKS",
    "capsizes": "TURNS OVER",
}
SIDES = {"port": "port", "starboard": "starboard"}

HEADING = "{boat}: {side} WAVE"
RIDER = "Rider {about}; {people} aboard while riding"
STANCES = {"regular": "regular", "goofy": "goofy"}
STANCE_NOT_GIVEN = "stance not given"
BOARDS = {"skim": "skim-style board", "surf": "surf-style board"}
LEVELS = {
    "first_time": "first time",
    "beginner": "beginner",
    "intermediate": "intermediate",
    "advanced": "advanced",
    "expert": "expert",
}

SPEED = "SPEED"
PLATES = "PLATES"
TANKS = "TANKS"
MOVE = "MOVE"
PEOPLE = "PEOPLE"
LOADS = "LOADS"
SITS = "SITS"
SAVED = "SAVED"
PUMPS = "PUMPS"
ROUNDING = "rounding"
LIMIT = "limit ({reason})"
RULES = {"balance.lean": "lean and trim", "ballast.off_side_less": "out of the off side"}
"""Rules whose id alone says too little."""
WHY = "WHY"
LOOK_FOR = "IF YOU SEE"

BY_GPS = "{speed} by GPS"
PLATE_NAMES = {"centre": "centre", "port": "port", "starboard": "starboard"}
PLATE_DOWN = "{name} {travel} % down"
PLATE_UP = "{name} up"
PLATE_NOT_FITTED = "{name} not fitted"
TANK = "{name} {fill} % ({volume})"
NO_TANKS = "none fitted"
PUMP_IN = "{name} in {volume}"
PUMP_OUT = "{name} out {volume}"
PUMPING_TIME = "{minutes} min in all with the pumps at once"
PUMPING_SECONDS = "{seconds} s in all with the pumps at once"
PUMPING_TIME_UNKNOWN = "a pump's rate is unknown"
MOVES = "{people}: {origin} to {goal}"
PERSON = "person {number}"
OWN_PLACE = "their own place"
AT = "{people} at {place}"
DOES = {"driver": "drives", "observer": "watches"}
DOES_AT = "{people} {does} at {place}"
ONE_DOES = "one {does}"
WITH = "{part} ({does})"
NO_SEAT = "no seat: {people}"
NOWHERE = "no seat"
SHIFT = "{name} ({mass}) to {place}"
NOBODY = "nobody aboard"

SAVED_ID = "set-up {id}"
SAVED_SENT = "the set-up you sent"
SAVED_SOURCES = {
    "saved": "{name} for who is aboard today",
    "carried_over": "{name} carried over from another boat",
}
SAVED_TANK = "{name} {fill} %"

UPRIGHT = "upright"
LEAN = "{size}° to {side}"
LEVEL = "level fore and aft"
BOW_UP = "{size}° bow up"
BOW_DOWN = "{size}° bow down"
LOWEST = "lowest freeboard {height}, {where}"
WHERE = {
    "port": "to port", "starboard": "to starboard", "stern": "at the stern", "bow": "at the bow",
}  # fmt: skip
UNDER = "{height} under water"

WHY_SPEED = "speed"
WHY_CENTRE_PLATE = "centre plate"
WHY_SIDE_PLATE = "{side} plate"
MORE = "… more in the full answer"
OTHER = "other small parts"
MORE_CAUTIONS = "- and {count} more in the full answer"
