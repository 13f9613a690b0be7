"""Every text that a person reads on the card for the helm: English.

One module for one audience; another language is another module with the same names.
"""

from __future__ import annotations

VERDICTS = {"go": "GO", "go_with_care": "GO WITH CARE", "do_not_go": "DO NOT GO"}
NOT_YET = "NOT YET"
NOT_TO_BE_SET = "NOT TO BE SET UP: what the rules and the calculation came to."
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
STANCE_NOT_TOLD = "stance not told"
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
PEOPLE = "PEOPLE"
LOADS = "LOADS"
LIES = "LIES"
SAVED = "SAVED"
PUMPS = "PUMPS"
ROUNDING = "rounding"
LIMIT = "limit ({reason})"
RULES = {"balance.lean": "lean and trim"}
"""Rules whose id alone says too little."""
WHY = "WHY"
LOOK_FOR = "LOOK FOR"

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
OF_MASS = "{people} of {mass}"
STAY = "{people} at {place}"
GO_TO = "{people} to {place}"
COMING_FROM = " from {place}"
NO_SEAT = "{people} without a seat"
SHIFT = "{name} ({mass}) to {place}"
NOBODY = "nobody aboard"

SAVED_ID = "set-up {id}"
SAVED_TOLD = "the set-up told"
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
LOWEST = "lowest {where} {height}"
WHERE = {
    "port": "to port", "starboard": "to starboard", "stern": "at the stern", "bow": "at the bow",
}  # fmt: skip
BOW_HEIGHT = "bow {height} above the water"

WHY_SPEED = "speed"
WHY_CENTRE_PLATE = "centre plate"
WHY_SIDE_PLATE = "{side} plate"
MORE = "… more in the full answer"
OTHER = "other small parts"
MORE_CAUTIONS = "- and {count} more in the full answer"
