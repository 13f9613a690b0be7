"""Every text that a person reads on the sheet, in the pictures and on the pages: English.

One module for one audience; another language is another module with the same names. What the
rules say stands with the rules, the tutorial's text in ``tutorial.yaml``.
"""

from __future__ import annotations

LANGUAGE = "en"
SERVICE = "Wave set-up desk"

# Verdicts and states
VERDICTS = {"go": "Go", "go_with_care": "Go with care", "do_not_go": "Do not go"}
SEVERITIES = {"danger": "Danger", "warning": "Warning", "note": "Note"}
STATES = {
    "floats": "floats",
    "lolls": "unstable upright: she flops over to a lean",
    "swamps": "water comes over the side",
    "sinks": "she sinks",
    "capsizes": "she turns over",
}
CONFIDENCES = {
    "published": "published",
    "agreed": "agreed in the trade",
    "common": "common practice, your boat may differ",
    "contested": "contested: people who know disagree",
}
SIDES = {"port": "port", "starboard": "starboard"}
STANCES = {"regular": "regular, left foot first", "goofy": "goofy, right foot first"}
BOARDS = {"skim": "skim-style board", "surf": "surf-style board"}
LEVELS = {
    "first_time": "first time",
    "beginner": "beginner",
    "intermediate": "intermediate",
    "advanced": "advanced",
    "expert": "expert",
}
WISHES = {
    "steeper": "steeper",
    "mellower": "mellower",
    "longer": "longer",
    "shorter": "shorter",
    "more_push": "more push",
    "less_push": "less push",
}
UNIT_SYSTEMS = {"metric": "metric (kg, m, L, km/h)", "us": "US (lb, ft, gal, mph)"}
WATER_KINDS = {"fresh": "fresh", "salt": "salt"}

# Attitude in words
UPRIGHT = "upright"
LEAN = "{size}° to {side}"
LEVEL_TRIM = "level fore and aft"
UNDER = "{length} under"
BOW_UP = "{size}° bow up"
BOW_DOWN = "{size}° bow down"

# The loading plan
PLAN_TITLE = "Loading plan of {boat}"
PLAN_HEAD = "as advised, lying still"
PLAN_HEAD_NOT = "do not go: not to be used"
PLAN_WATER = "Water"
PLAN_WATER_KEY = "hatched: advised · dashed: now"
PLAN_PEOPLE = "People"
PLAN_PEOPLE_KEY = "black: how many sit there · arrow: who moves"
PLAN_SIDE = "From starboard"
PLAN_ASTERN = "From astern"
PLAN_WAVE = "wave"
PLATE_UP = "up"
PLAN_GRAVITY = "centre of gravity"
PLAN_BOW_FREEBOARD = "bow {length}"
PLAN_STERN_FREEBOARD = "stern {length}"
PLAN_HEEL = "Heel"
PLAN_TRIM = "Trim"
PLAN_LEAST = "Lowest edge"
PLAN_MASS = "All aboard"
PLAN_DRAFT = "Draft amidships"
PLAN_NO_ATTITUDE = "No safe floating position: {state}."
PLAN_DESCRIPTION = (
    "Seen from above, bow to the right, port at the top. {wave} Tanks: {tanks}. People: {people}. "
    "At rest: {attitude}."
)
PLAN_DESCRIPTION_WAVE = "The ridden wave stands to {side}."
PLAN_TANK = "{name} from {now} to {fill}, {volume}"
PLAN_SEAT = "{people} at {name}"
PLAN_MOVE = "{people} from {start} to {end}"
PLAN_LOAD_MARK = "▪"
PLAN_SHIFT = "{name}, {mass}, to {end}"
PLAN_NO_SEAT = "{people} without a seat"
PLAN_OWN_PLACE = "{people} where they told us"
PLAN_NOBODY = "nobody"
PLAN_NO_TANKS = "none fitted"
PLAN_FREEBOARDS = (
    "height of the edge above the water: bow {bow}, stern {stern}, port {port}, "
    "starboard {starboard}, least {least}"
)

# The sheet
SHEET_TITLE = "{boat}: {side} wave"
SHEET_RIDER = "Rider {mass}, {stance}, {board}, {level}"
SHEET_WANTS = "wants it {wants}"
SHEET_ABOARD = "{people} aboard while riding"
STANCE_NOT_TOLD = "stance not told"
CAUTIONS = "Before anything else"
SETTINGS = "Set"
SETTINGS_NOT = "Not to be used. This is only what the rules and the calculation came to."
SPEED = "Speed"
BY_GPS = "by GPS"
TANKS = "Tanks"
PEOPLE = "People"
LIES = "Lies"
WAVE_SIDE = "Wave"
NOT_FITTED = "not fitted"
DOWN = "down"
TANK = "Tank"
NOW = "now"
FILL = "fill to"
FROM = "from"
TO = "to"
HOW_MANY = "how many"
NOT_PLACED = "comes aboard"
NO_SEAT = "no seat left"
STAYS = "stays"
WHY = "Why these numbers"
WHY_NOTE = "Each sum adds up to its number exactly. Every word in it opens the rule behind it."
ACCOUNT_NAMES = {
    "speed": "Speed",
    "plates.centre": "Centre plate",
    "plates.port": "Port plate",
    "plates.starboard": "Starboard plate",
    "lean": "Lean wanted, to the wave",
    "bow_up": "Bow up, wanted",
}
ACCOUNT_TANK = "Tank {name}"
ROUNDED = "rounding"
WATCH = "Look behind the boat"
WATCH_SEEN = "What you see"
WATCH_LEVER = "Move one lever"
REASONS = "Rules that spoke"
REASON_BECAUSE = "Because"
REASON_SOURCE = "Source"
REASON_OTHER = "The other view"
REASON_OPEN = "The rule itself"
SAVED = "A saved set-up beside it"
SAVED_ID = "Set-up {id}"
SAVED_TOLD = "The set-up that was told"
SAVED_SOURCES = {
    "saved": "{name}, corrected for who is aboard today",
    "carried_over": "{name}, carried over from {boat} by physics",
}
CURVES = "Curves"
SENSITIVITIES = "One step more"
SENSITIVITIES_SAY = "What one more person or 10 % more water or plate would do"
SENSITIVITY_CHANGE = "change"
SENSITIVITY_WHERE = "where"
SENSITIVITY_HEEL = "heel"
SENSITIVITY_TRIM = "trim"
SENSITIVITY_LEAST = "lowest edge"
ASSUMED = "Filled in for you"
NOTHING_ASSUMED = "Nothing was left out."
FOOT = "Rules {version} · {hash}"
FOOT_LAW = "Local law, the maker's plate and the operator's own judgement come first."
UNDER_WAY = "Under way"
ROUGH = "rough, decides nothing"

# Wake responsibility
WAKE = "The wake and the others on the lake"
WAKE_FROUDE = "Depth Froude number"
WAKE_FROUDE_UNKNOWN = "not known, since the depth was not told"
WAKE_REGIMES = {
    "deep": "below {bound}: the waves are those of deep water",
    "transcritical": "between {bound} and 1: the bed is felt, the pattern is wide and unsteady",
    "shallow": "1 or more: faster than any wave here can run; no steady wave follows",
}
WAKE_FROUDE_SAYS = "Speed over the square root of g times depth."
WAKE_DEPTH_TOLD = "Depth along the run"
WAKE_SHORE_TOLD = "Distance to shore"
WAKE_NOT_TOLD = "not told"
WAKE_DISTANCES = "Published distances to shore"
WAKE_DEPTHS = "Published depths"
WAKE_VALUE = "at least"
WAKE_SAYS = "what it is"
WAKE_SOURCE = "source"
WAKE_POLICY = "this outfit's rules"
WAKE_HERE = "this run"
WAKE_MET = "met"
WAKE_NOT_MET = "not met"
WAKE_UNKNOWN = "unknown"
WAKE_USES = {
    "do_not_go": "used: less is do not go",
    "go_with_care": "used: less is go with care",
    "caution": "quoted in a caution only",
    "": "quoted here only",
}
WAKE_LOCAL = "local value"
WAKE_DIFFER = (
    "They differ because they measure different things. They stand side by side and are never "
    "averaged. Local law goes before all of them."
)

# Plots
RIGHTING_TITLE = "Righting arm"
RIGHTING_SAYS = (
    "How hard she comes back upright when leaned over, as loaded; where the curve crosses zero "
    "she lies at rest. Deck taken as watertight."
)
RIGHTING_X = "heel to starboard, °"
RIGHTING_Y = "arm, {unit}"
FREEBOARD_TITLE = "Lowest edge against people aboard"
FREEBOARD_SAYS = "Tanks as advised, people of {mass} each amid the seats."
FREEBOARD_X = "people aboard"
FREEBOARD_Y = "lowest edge above water, {unit}"
PLATE_TITLE = "Off-side plate against load"
PLATE_SAYS = "What the rules ask for; common practice, never falling with load."
PLATE_X = "load beyond three people and full tanks, {unit}"
PLATE_Y = "plate, % of travel"
DECAY_TITLE = "How slowly the wake dies away"
DECAY_SAYS = (
    "Height of the largest waves in deep water relative to their height at {reference}: distance "
    "to the power −⅓ (Havelock 1908). Relative only; nothing here tells a height."
)
DECAY_X = "distance from the track, {unit}"
DECAY_Y = "relative height, %"
HERE = "here"
AS_SEATED = "{people} as advised"

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

# Counting
ONE_PERSON = "1 person"
PERSONS = "{count} people"
LOWER = "lower"
HIGHER = "higher"
WHY_RULE = "Why: the rule {rule}"
RULE_LINK = "why"
TUTORIAL_LEAD = (
    "Start the service, then run these commands one after the other. Every one of them, with the "
    "answer shown, is run by the project's tests."
)

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

# The outing's table for the dock.
OUTING = "{boat}: outing"
OUTING_TURNS = "{turns} turns, {mode}"
SETS_OUT = "sets out"
TURN = "Turn {turn}"
TURNS = "Turns"
TIME = "Time"
RIDER = "Rider"
PLATES = "Plates"
CHANGE_OVER = "Change-over {minutes} min: {what}"
NOTHING_TO_CHANGE = "nothing to change"
WAY_HOME = "Way home"
PLATES_UP = "plates up"
IN_ALL = "In all"
RIDING = "Riding"
MINUTES = "{minutes} min"
CHANGE_OVERS = "Change-overs"
CHANGE_OVER_TOTALS = "{minutes} min, pumps {pumps} min, side changes {sides}."
WATER = "Water"
WATER_TOTALS = "in {water_in} {unit}, out {water_out} {unit}"
COMMON_SETUP = "Common set-up"

# The dock's sheets
DATE = "%d %b %Y"
BOOKINGS = "Bookings"
BOOKING = "{boat}: {reference}"
BOOKING_ABOARD = "{people} aboard"
BOOKING_BRIEFING = "Brief them"
BOOKING_BEFORE = "Before they come"
BOOKING_ASK = "Ask: {what}"
BOOKING_ON_WATER = "On the water"
DAY = "Bookings of {day}"
DAY_COUNTS = "{bookings} in all, {people} aboard; {not_fitting} on no boat"
DAY_REFERENCE = "Reference"
DAY_ABOARD = "Aboard"
DAY_SUMMARY = "What was answered"
DAY_TO_ASK = "To ask"
DAY_NOTHING = "nothing"
DAY_NO_BOAT = "no boat"
DAY_NOT = "Does not fit."
DAY_EMPTY = "No bookings."
