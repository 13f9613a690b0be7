"""Every text that a person reads on a sheet and in its pictures: English.

One module for one audience; another language is another module with the same names. Those at a
screen read ``page_texts.py`` besides. What the rules say stands with the rules.
"""

from __future__ import annotations

LANGUAGE = "en"
SERVICE = "Wave set-up desk"

# Verdicts and states
VERDICTS = {"go": "Go", "go_with_care": "Go with care", "do_not_go": "Do not go"}
SEVERITIES = {"danger": "Danger", "warning": "Warning", "note": "Note"}
STATES = {
    "floats": "floats",
    "lolls": "unstable upright: flops over to one side",
    "swamps": "water comes over the side",
    "sinks": "sinks",
    "capsizes": "turns over",
}
CONFIDENCES = {
    "published": "published",
    "agreed": "agreed in the trade",
    "common": "common practice, your boat may differ",
    "contested": "contested: people who know disagree",
}
SIDES = {"port": "port", "starboard": "starboard"}
STANCES = {"regular": "regular, left foot forward", "goofy": "goofy, right foot forward"}
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
PLAN_HEAD = "At rest, as advised"
PLAN_HEAD_NOT = "Do not go. For reference only"
PLAN_WATER = "Water"
PLAN_WATER_KEY = "Hatched = fill to · dashed = now"
PLAN_PEOPLE = "People"
PLAN_PEOPLE_KEY = "Number = people in seat · arrow = who moves"
PLAN_SIDE = "From starboard"
PLAN_ASTERN = "From astern"
PLAN_WAVE = "wave"
PLATE_UP = "up"
PLAN_GRAVITY = "centre of gravity"
PLAN_BOW_FREEBOARD = "bow {length}"
PLAN_STERN_FREEBOARD = "stern {length}"
PLAN_HEEL = "Heel"
PLAN_TRIM = "Trim"
PLAN_LEAST = "Lowest freeboard"
PLAN_MASS = "Total weight"
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
PLAN_NO_SEAT = "no seat: {people}"
PLAN_OWN_PLACE = "in a place of their own: {people}"
DOES = {"driver": "drives", "observer": "watches"}
ONE_DOES = "one {does}"
PLAN_NOBODY = "nobody"
PLAN_NO_TANKS = "none fitted"
PLAN_FREEBOARDS = (
    "freeboard: bow {bow}, stern {stern}, port {port}, starboard {starboard}, least {least}"
)

# The sheet
SHEET_TITLE = "{boat}: {side} wave"
SHEET_RIDER = "Rider {mass}, {stance}, {board}, {level}"
SHEET_WANTS = "wants it {wants}"
SHEET_ABOARD = "{people} aboard while riding"
STANCE_NOT_GIVEN = "stance not given"
CAUTIONS = "Safety first"
SETTINGS = "Settings"
SETTINGS_NOT = "Do not set. For reference only"
SPEED = "Speed"
BY_GPS = "by GPS"
TANKS = "Tanks"
PEOPLE = "People"
SITS = "Sits"
WAVE_SIDE = "Wave"
NOT_FITTED = "not fitted"
DOWN = "down"
TANK = "Tank"
NOW = "now"
FILL = "fill to"
FROM = "from"
TO = "to"
WHO = "who"
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
WATCH = "Watch the wave"
WATCH_SEEN = "What you see"
WATCH_LEVER = "Change one thing"
REASONS = "Rules that applied"
REASON_BECAUSE = "Because"
REASON_SOURCE = "Source"
REASON_OTHER = "The other view"
REASON_OPEN = "The rule itself"
SAVED = "Compare saved set-up"
SAVED_ID = "Set-up {id}"
SAVED_SENT = "The set-up you sent"
SAVED_SOURCES = {
    "saved": "{name}, corrected for who is aboard today",
    "carried_over": "{name}, carried over from {boat} by physics",
}
CURVES = "Curves"
SENSITIVITIES = "What if"
SENSITIVITIES_SAY = "What one more person or 10 % more water or plate would do"
SENSITIVITY_CHANGE = "change"
SENSITIVITY_WHERE = "where"
SENSITIVITY_HEEL = "heel"
SENSITIVITY_TRIM = "trim"
SENSITIVITY_LEAST = "lowest freeboard"
ASSUMED = "Assumed"
NOTHING_ASSUMED = "Nothing was left out."
FOOT = "Rules {version} · {hash}"
FOOT_LAW = "Local law, the maker's plate and the operator's own judgement come first."
UNDER_WAY = "Under way"
ROUGH = "rough, decides nothing"

# Wake responsibility
WAKE = "The wake and the others on the lake"
WAKE_FROUDE = "Depth Froude number"
WAKE_FROUDE_UNKNOWN = "not known: depth not given"
WAKE_FROUDE_NONE = "none: no water"
WAKE_REGIMES = {
    "deep": "below {bound}: the waves are those of deep water",
    "transcritical": "between {bound} and 1: the bed is felt, the pattern is wide and unsteady",
    "shallow": "1 or more: faster than any wave here can run; no steady wave follows",
}
WAKE_FROUDE_SAYS = "Speed over the square root of g times depth."
WAKE_DEPTH_TOLD = "Depth along the run"
WAKE_SHORE_TOLD = "Distance to shore"
WAKE_NOT_TOLD = "not given"
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
    "do_not_go": "Below this: do not go",
    "go_with_care": "Below this: go with care",
    "caution": "Quoted in a caution only",
    "": "Quoted here only",
}
WAKE_LOCAL = "local value"
WAKE_DIFFER = (
    "They differ because they measure different things. They stand side by side and are never "
    "averaged. Local law goes before all of them."
)

# Plots
RIGHTING_TITLE = "Righting arm"
RIGHTING_SAYS = (
    "How strongly the boat rights itself, as loaded; it rests where the curve crosses zero. "
    "Deck taken as watertight."
)
RIGHTING_X = "heel to starboard, °"
RIGHTING_Y = "arm, {unit}"
FREEBOARD_TITLE = "Lowest freeboard against people aboard"
FREEBOARD_SAYS = "Tanks as advised, people of {mass} each amid the seats."
FREEBOARD_X = "people aboard"
FREEBOARD_Y = "lowest freeboard, {unit}"
PLATE_TITLE = "Off-side plate against load"
PLATE_SAYS = "What the rules ask for; common practice, never falling with load."
PLATE_X = "load beyond three people and full tanks, {unit}"
PLATE_Y = "plate, % of travel"
DECAY_TITLE = "How slowly the wake dies away"
DECAY_SAYS = (
    "Height of the largest waves in deep water relative to their height at {reference}: distance "
    "to the power −⅓ (Havelock 1908). Relative only; not an actual height."
)
DECAY_X = "distance from the track, {unit}"
DECAY_Y = "relative height, %"
HERE = "here"
AS_SEATED = "{people} as advised"

# Counting
ONE_PERSON = "1 person"
PERSONS = "{count} people"
LOWER = "lower"
HIGHER = "higher"
NO_CHANGE = "no change"
WHY_RULE = "Why: the rule {rule}"
RULE_LINK = "why"
TUTORIAL_LEAD = (
    "Start the service, then run these commands one after the other. Every one of them, with the "
    "answer shown, is run by the project's tests."
)

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
BOOKING_BRIEFING = "Guest briefing"
BOOKING_BEFORE = "Before arrival"
BOOKING_ASK = "Ask: {what}"
BOOKING_ON_WATER = "On the water"
DAY = "Bookings of {day}"
DAY_COUNTS = "{bookings} in all, {people} aboard; {not_fitting} on no boat"
DAY_REFERENCE = "Reference"
DAY_ABOARD = "Aboard"
DAY_SUMMARY = "Result"
DAY_TO_ASK = "Follow up"
DAY_NOTHING = "nothing"
DAY_NO_BOAT = "no boat"
DAY_NOT = "Does not fit."
DAY_EMPTY = "No bookings."
