"""Every text that a person reads on the pages about the service, the rules and a boat: English.

The same form as ``texts.py``, which holds those of the sheets. The tutorial's text stands in
``tutorial.yaml``.
"""

from __future__ import annotations

# The try-out page
TRY_TITLE = "Set the boat up for one rider"
TRY_LEAD = "Crew, water and rider in; a set-up with its reasons out. Nothing is stored."
TRY_BOAT = "Boat"
TRY_CREW = "People aboard while riding"
TRY_CREW_HELP = "The driver counts, the rider does not."
TRY_RIDER_MASS = "Rider's mass"
TRY_STANCE = "Stance"
TRY_BOARD = "Board"
TRY_LEVEL = "Experience"
TRY_WANTS = "Wishes for the wave"
TRY_UNITS = "Units"
TRY_DEPTH = "Least depth along the run"
TRY_SHORE = "Least distance to shore"
TRY_OPTIONAL = "may stay empty"
TRY_WATER = "Water"
TRY_WATER_KIND = "Fresh or salt"
TRY_RIDER = "Rider"
TRY_ABOARD = "Boat and crew"
TRY_SUBMIT = "Work it out"
TRY_RESULT = "Answer"
TRY_FAULTS = "Please look at these again"
TRY_BUSY = "Working it out …"
TRY_FAILED = "The service did not answer. The numbers shown are the last ones."
TRY_JSON = "The same as a request to the API"
SKIP = "Go to the answer"

# Navigation
NAV = "Pages"
NAV_TRY = "Try it"
NAV_RULES = "Rules"
NAV_TUTORIAL = "Tutorial"
NAV_REFERENCE = "Reference"

# Rules
RULES_TITLE = "The rules"
RULES_LEAD = (
    "Everything this service knows about throwing a wave, grouped by topic. Each rule has its "
    "condition, what it does, its reason and where it comes from."
)
RULES_SEARCH = "Find in the rules"
RULES_GO = "Find"
RULES_FOUND = "{count} of {total} rules contain “{words}”."
RULES_ALL = "Show all"
RULES_TOPICS = "Topics"
RULES_SET_UP = "The set-up"
RULES_TUNING = "Tuning on the water"
RULES_PART_SAYS = {
    RULES_SET_UP: "An outfit sets numbers of its own under /v1/outfit/rules.",
    RULES_TUNING: "What /v1/tuning goes by. Its numbers are the same for every outfit.",
}
RULES_OTHERS = "Other numbers of this topic"
LEVERS = "What each lever does to the wave"
LEVERS_SAY = (
    "For each lever a change that is plainly seen behind the boat, and what it does. What is seen "
    "in a session is weighed against this. Boats differ."
)
LEVER_UNIT = "plainly seen"
LEVER_DOES = {1: "more", 0.5: "slightly more", 0: "as it was", -0.5: "slightly less", -1: "less"}
LEVER_OTHER = "{size} times {way}"
WAVE = {
    "height": "height",
    "length": "length",
    "steepness": "steepness",
    "push": "push",
    "cleanness": "cleanness",
}
RULE_WHEN = "When"
RULE_ALWAYS = "always"
RULE_DOES = "Does"
RULE_NOTHING = "speaks only"
RULE_WHY = "Why"
RULE_SOURCE = "Source"
RULE_SURE = "How sure"
RULE_OTHER = "The other view"
RULE_STAGE = "Stage"
RULE_STAGES = {
    "limits": "1 limits",
    "need": "2 need",
    "loading": "3 loading",
    "base": "4 base",
    "corrections": "5 corrections",
    "checks": "6 checks",
}
RULE_PARAMETERS = "Numbers it uses"
RULE_SAYS = "Says"
RULE_LOOK = "Look for"
RULE_MAY_CHANGE = "to change it"
RULE_BACK = "All rules"
RULE_CASES = "Cases it is tested by"
RULE_SILENT = "it stays silent"
RULE_RUNS = "In your runs"
RULE_FIRED = "It fired in {fired} of the kept runs and was overridden in {overridden} of these."
RULE_LAST = "Overridden last"
RULE_PROPOSES = {
    "first": "tries first: {move}",
    "second": "tries second: {move}",
    "third": "tries third: {move}",
    "known": "speaks for: {move}",
    "doubted": "speaks against: {move}",
}
RULE_ASKS = "Asks"
RULE_SEEN = {
    ("is not", "none"): "seen, however slightly: {sign}",
    ("is", "none"): "not seen: {sign}",
}
RULE_SEEN_SO = "seen, {strength}: {sign}"
RULE_SIDE = "wave to {side}"
RULE_FINDS = "notes: {found}"
RULE_VERDICT = "verdict: {verdict}"
RULE_CHANGES = {
    "base": "{target} starts from {amount}",
    "add": "{target} changes by {amount}",
    "at_least": "{target} is at least {amount}",
    "at_most": "{target} is at most {amount}",
}
RULE_CHANGES_BY = "{target}: {parameter}, by {field}"
RULE_CONDITIONS = {
    "is": "{fact}: {against}",
    "is not": "{fact}: anything but {against}",
    "<": "{fact}: below {against}",
    "<=": "{fact}: {against} or less",
    ">": "{fact}: above {against}",
    ">=": "{fact}: {against} or more",
    "is known": "{fact}: known",
    "is unknown": "{fact}: not told",
}
RULE_FOUND = "an earlier rule notes: {found}"
RULE_NOT_FOUND = "no earlier rule notes: {found}"
RULE_POINT = "{y} at {x}"
TARGETS = {
    "speed": "speed",
    "centre_plate": "centre plate",
    "off_side_plate": "off-side plate",
    "surf_side_plate": "surf-side plate",
    "ballast": "fill of the tanks",
    "off_side_ballast": "fill of the tanks on the off side",
    "lean": "lean to the surf side",
    "bow_up": "trim, bow up",
}

# Documentation
REFERENCE_TITLE = "API reference"
REFERENCE_LEAD = "Written from the specification, which is written from the code:"
REFERENCE_BODY = "Body"
REFERENCE_PARAMETERS = "Parameters"
REFERENCE_NAME = "name"
REFERENCE_TYPE = "type"
REFERENCE_SAYS = "what it is"
REFERENCE_REQUIRED = "required"
REFERENCE_SCHEMAS = "Forms"
TUTORIAL_TITLE = "The service in ten minutes"
TUTORIAL_ANSWER = "From the answer"

# What is known of a boat
MODEL_TITLE = "{boat}: what is known of her"
MODEL_WIDENED = (
    "The readings disagree by more than their stated errors: all bands are {times} times as wide."
)
MODEL_BOAT = "The boat herself"
MODEL_NUMBERS = "Numbers of the boat"
MODEL_NUMBER = "Number"
MODEL_BEFORE = "As entered"
MODEL_AFTER = "Now (95 %)"
MODEL_SOURCE = "From"
MODEL_RUNNING_TRIM = "Running trim {trim}° at {speed}: {source}."
MODEL_NEXT = "What to measure next"
MODEL_NEXT_SAYS = "By how much her mass and centre would then be less uncertain; the most first."
MODEL_GAIN = "{says}: {percent} %"
MODEL_FIT = "How the readings fit"
MODEL_LOG = "What her log says"
MODEL_LOG_SAYS = (
    "How far off the rule base she was set when she rode well. Advice adds it as a line of its "
    "own, inside every range and limit."
)
MODEL_LOG_OFF = "The log is switched off; advice goes by the rule base alone."
MODEL_LOG_NONE = "No run that says anything yet. Keep runs with the final settings and a rating."
MODEL_LOG_USUAL = "Off the rule base (95 %)"
MODEL_LOG_FROM = "From"
MODEL_LOG_RUNS = "{runs} runs"
MODEL_LOG_RUN = "1 run"
MODEL_LOG_TUNED = "{changes} changes among them"
MODEL_LOG_DOUBTED = "{doubted} hardly counted"
MODEL_LOG_SURE = "Sure?"
MODEL_SURE = "yes"
MODEL_UNSURE = "may be nothing"
MODEL_HALF_LIFE = "A run counts for half after {days} days."
MODEL_RIDERS = "Riders off the boat's own"
MODEL_RIDER = "Rider"
MODEL_NAMES = {
    "light.mass": "light boat, mass",
    "light.x": "her centre, forward of the transom",
    "light.y": "her centre, to port",
    "light.z": "her centre, above the keel line",
    "hull.depth": "sheer higher than the form says",
    "hull.breadth": "breadths wider than the form says",
}
MODEL_TARGETS = {
    "speed": "speed",
    "centre_plate": "centre plate",
    "off_side_plate": "off-side plate",
    "ballast": "water in every tank",
    "off_side_ballast": "off-side tanks, beyond that",
    "forward_ballast": "forward tanks, beyond that",
}
MODEL_FREEBOARDS = "Freeboards, read less fitted"
MODEL_HEELS = "Heels, read less fitted"
MODEL_WORST = "{count} readings; the furthest off is {value} {unit}, in reading {worst}."
MODEL_OFFSET = "{name}, off the rule base."
MODEL_OFFSET_X = "people aboard"
MODEL_OFFSET_SAYS = "With {people} people {offset}; the shade is the 95 % band."
MODEL_LOADING = "loading {number}"
