"""Every text in which an error is told: problems (RFC 9457) and the faults in what was sent.

``{names}`` are filled by whoever raises the error. A fault reads on from where it stands
(``/crew/0/seat: takes 2 people.``), so it begins small; a problem of its own is a sentence.
"""

from __future__ import annotations

# Titles and details of problems
INVALID_INPUT = "Invalid input"
FIRST_FAULT = "{where}: {fault}"
FIRST_OF_FAULTS = "{where}: {fault} (and {more} more)"
WHOLE_BODY = "the body"
UNKNOWN_BOAT = "Unknown boat"
NO_SUCH_BOAT = 'There is no boat "{id}". Known boats: {known}.'
NONE_KNOWN = "none"
NOT_KEPT = 'There is no {kind} "{id}".'
NOTHING_OF_THE_KIND = "There is no such thing."
ID_TAKEN = "Id taken"
ID_IS_TAKEN = 'There is, or was, a {kind} "{id}": choose another id, or none.'
NO_SUCH_RULE = 'There is no rule "{id}"; see /v1/rules.'
NUL_IN_ADDRESS = "An address may not contain the character NUL."
NOTHING_HERE = "There is nothing at this address; see /docs."
METHOD_NOT_HERE = "{method} is not for this address; it takes: {methods}."
BODY_TOO_LONG = "The body is longer than {most} bytes."
ANSWERS_IN = "this address answers in: {offered}."

# Keys, rates and time
NO_KEY = "This needs an API key: send Authorization: Bearer <key>."
NO_SUCH_KEY = "This API key is unknown, expired or revoked."
OUTLIVES_ITS_MAKER = (
    "has to end no later than the key it is made with ({until} UTC): give fewer days."
)
NO_SCOPE = 'This key lacks the scope "{scope}".'
TOO_MUCH_WORK = (
    "Too much work in a short time: {policy} allows {holds} s of processor time at once, "
    "and {fill} s more each second. Retry later."
)
ONE_AT_A_TIME = (
    "Another long request of yours is being worked on. Retry when it is answered, "
    "or send Prefer: respond-async."
)
TOO_MANY_JOBS = "You have {most} jobs waiting or running. Wait for one to end, or cancel one."
QUEUE_FULL = "Too many jobs are waiting. Retry later."
NO_ANSWER = "The job is {state} and has no answer."
OUT_OF_TIME = "This took too long and was stopped. Nothing was stored."
OUT_OF_TIME_STORED = "This took too long and was stopped after it was stored: look it up."
NOT_ATTEMPTED = "Not attempted, for lack of time: nothing of this was stored. Send it again."
MAYBE_STORED = "The database stopped answering: look up whether this was stored."
RULES_DO_NOT_LOAD = "The rule base does not load."
AWAY = "Database unavailable"
STORE_AWAY = "The database does not answer. Retry later."
LOCKED = "Database locked"
STORE_LOCKED = "Another writer holds the database; nothing was stored. Retry in a moment."
NO_METRICS = "The metrics cannot be read."
STORE_EMPTY = "The store has no tables yet: run “flask --app service db upgrade”."
STORE_OLDER = (
    "The store is at {found}, this program needs {wanted}: run “flask --app service db upgrade”."
)
STORE_LATER = (
    "The store is at {found}, this program only knows {wanted}: a later version has migrated it."
)
STORE_NOT_WRITABLE = (
    "The store answers, but nothing can be written: the disk may be full or read-only."
)

# Quotas
QUOTA_EXCEEDED = "Quota exceeded"
QUOTA_USED = "The outfit has {used} of its {most} {kind}: {way_out}"
QUOTA_ROWS = "delete what is no longer needed, or ask the operator for more."
QUOTA_BYTES = "store smaller documents, or ask the operator for more."
QUOTA_READINGS = "delete calibrations of this boat, or measure her with fewer readings."

# Versions, and requests sent twice
IF_MATCH_WANTED = "Send If-Match with the ETag of what you are changing."
CHANGED_SINCE = "This was changed since the version that If-Match names: reload it, then change it."
THERE_ALREADY = "What If-None-Match names is there already: nothing was changed."
IDEMPOTENCY_KEY_FORM = "give visible ASCII characters."
BEGUN_AGAIN = "This request was taken over by another one with the same Idempotency-Key."
AT_WORK = "A request is at work under this Idempotency-Key. Send it again later."
KEY_USED_FOR_ANOTHER = "This Idempotency-Key was used for another request."
ANSWER_ERASED = "What this request made held personal data, which was erased since."

# Bodies that cannot be read
BAD_CHUNKS = "The chunked body is malformed: give the size of each chunk in hexadecimal."
EMPTY_BODY = "the body is empty."
NOT_UTF8 = "the body is not UTF-8."
NOT_JSON = "the body is not valid JSON: {why}"
CODING_NOT_READ = "Content-Encoding {coding} is not read; send it plain."
SEND_JSON = "send JSON in UTF-8 with Content-Type: application/json."
JSON_FAULT = "{what} at line {line}, column {column}."
NESTED_TOO_DEEP = "the body is nested too deep."
TOO_MANY_DIGITS = "a number has too many digits."
NAME_TWICE = "the name {name} stands twice in one object."
MORE_THAN_A_DOUBLE = "{number} is more than a double holds."
NOT_A_JSON_NUMBER = "{number} is not a JSON number."
TOO_MANY_MEMBERS = "an array or object has more than {most} members."
TOO_MANY_VALUES = "the body has more than {most} values."
TOO_DEEP = "the body is nested more than {most} deep."
HALF_A_CHARACTER = "half of a surrogate pair stands alone."

# Single values
NO_SUCH_FIELD = "no such field here; accepted: {names}."
GIVE_OBJECT_WITH = "give an object with {names}."
GIVE_OBJECT = "give an object."
NOT_A_QUANTITY = "{value} is not {article} {dimension}"
NOT_A_QUANTITY_WITH_UNIT = "{value} is not {article} {dimension} with a known unit"
OUT_OF_RANGE = "{value} is out of range"
PROBLEM = "{problem}: {wanted}"
GIVE_QUANTITY = "give a number in {unit}, or text such as {examples}, from {range}."
GIVE_BY_NAME = "give an object of names; for each, {wanted}"
GIVE_WHOLE_NUMBER = "give a whole number from {least} to {most}."
COUNT_OUT_OF_RANGE = "{input} is out of range: {wanted}"
NOT_A_WHOLE_NUMBER = "{value} is not a whole number: {wanted}"
NOT_ONE_OF = "{value} is not one of: {choices}."
GIVE_ONE_OF = "give one of: {choices}."
NOT_ACCEPTED = "{value} is not accepted: {wanted}"
IS_MISSING = "is missing: {wanted}"
GIVE_VALUE = "give a value."
GIVE_TEXT = "give text."
GIVE_ID = "give an id as text."
GIVE_LIST = "give a list."
GIVE_LIST_OF = "give a list of {count}."
GIVE_NUMBER = "give a number."
GIVE_NUMBER_FROM_TO = "give a number from {least} to {most}."
GIVE_TRUE_OR_FALSE = "give true or false."
GIVE_DATE = 'give a date such as "2026-07-04".'
GIVE_DAY = 'give a date from 2000 to 2099 such as "2026-07-04".'
GIVE_MOMENT = (
    "give date and time from 2000 to 2099 with the offset from UTC, "
    'such as "2026-07-04T09:00:00+02:00".'
)
LENGTH_FROM_TO = "has {count} {what}: give {least} to {most}."
LENGTH_AT_MOST = "has {count} {what}: give at most {most}."
CHARACTERS = "characters"
ENTRIES = "entries"
IDENTIFIER_FORM = "give 1 to 64 letters, digits, '.', '_' or '-', the first a letter or a digit."
ONE_LINE = "give one line of printable characters."
PRINTABLE_LINES = "give printable characters and line breaks only."
TIME_ZONE = "give a time zone of the IANA data base, such as Europe/Zurich."
PAGE_AS_IT_STANDS = "take it as it stands in the link to the next page."

# The boat and what is aboard
BOAT_FORM = "give a boat's id, or the boat itself as an object."
SEATS_FORM = 'give a list of seats, one of them with "role": "driver".'
NO_DRIVERS_SEAT = 'no seat here is the driver\'s: give the seat at the wheel "role": "driver".'
HULL_FORM = "give either particulars or stations."
ID_OF_AN_EARLIER_ONE = '"{id}" is the id of an earlier one.'
BEYOND_THE_LENGTH = "lies outside the boat's length."
BEYOND_THE_BEAM = "lies outside the boat's beam."
LONGER_THAN_THE_BOAT = "is longer than the boat: give at most her length_overall."
WIDER_THAN_THE_BOAT = "is wider than the boat: give at most her beam."
CREW_FORM = "give the number of people as a whole number, or a list of them."
GUESTS_FORM = "give the number of guests as a whole number, or a list of them."
X_AND_Y = "give x and y together."
SEAT_OR_PLACE = "give a seat, or x and y, not both."
MASS_OR_RIDER = "give a mass, or a rider whose mass it is, not both."
ABOARD_ALREADY = "rides, or is among the crew already."
NO_SUCH_SEAT = "{boat} has no seat {seat}; it has: {known}."
SEAT_TAKES = 'seat "{seat}" has {places}, too few for {people}.'
ONE_PLACE = "1 place"
PLACES = "{count} places"
MORE_THAN_ONE_DRIVER = "more than one driver: {people}. Name one."
MORE_THAN_ONE_OBSERVER = "more than one observer: {people}. Name one."
DRIVES_ELSEWHERE = '{who} drives, but seat "{seat}" is not the driver\'s: give {seats} or none.'
WHEEL_TAKEN = "{who} drives, but the driver's seat is given to {people}: keep {seats} for {who}."
DRIVES_AND_RIDES = "{who} cannot drive and ride: name another driver."
WATCHES_AND_RIDES = "{who} cannot watch and ride: name another observer."
TOO_YOUNG_TO_DRIVE = "{who} is {age}: nobody under {least} drives."
AGE_FORM = "give the age in years, a number from 0 to 120."
NO_SUCH_TANK = "{boat} has no tank {tank}; it has: {known}."
NO_TANK = "{boat} has no tank {tank}."
TANK_TAKES = "{fill} is more than this tank takes: {most}."
NOT_ON_THE_BOAT = "{boat} has no {what}."
NO_PLATE = "{boat} has no {plate} plate."

# The rider and the wishes
RIDER_FORM = "give a rider's id, or the rider as an object."
NO_RIDERS_KEPT = "no riders are kept here: give what is needed of the rider."
STANCE_OR_SIDE = "give regular or goofy, or else surf_side."
RIDER_WITHOUT_STANCE = "has no stance: give surf_side."
RIDERS_STANCE_OR_SIDE = "give the rider's stance, or else surf_side."
WISHES_ONCE = "name each wish once."
NO_SETUPS_KEPT = "no set-ups are kept here: give the set-up as an object."
SETUP_FORM = "give a saved set-up's id, or the set-up as an object."
SETUP_OF_OTHER_SIDE = "the saved set-up is for the other side."
SET_FOR_OTHER_SIDE = "what is set now is for the other side."
SETUP_OF_OTHER_BOAT = "this set-up is of another boat, {boat}."
SETUP_NO_LONGER_FITS = "this saved set-up no longer fits its boat as she is now."

# Outings and bookings
WISHES_DISAGREE = "these wishes contradict or repeat each other."
SOMEONE_DRIVES = "someone has to stay aboard and drive."
TOO_MANY_PEOPLE = "with the crew these are more than {most} people."
TOO_MANY_TURNS = "{turns} turns are more than {most}."
CALENDAR_WANTS_START = "a calendar needs the start of the outing: give start."
MORE_RIDE_THAN_COME = "more ride than come."
NO_BOATS = "the outfit has no boats yet."
ON_NO_BOAT = "This booking is on no boat: see its answer for the reasons."
GIVE_REFERENCE = "give the booking's reference."
NOT_THE_REFERENCE = "is not the reference in the address."

# Tuning
SIGNS_FORM = 'give a list of signs, or "{good}".'
SIGN_FORM = "give an object with sign and strength, or a sign alone."
SIGNS_ONCE = "name each sign once."
NO_SIGN = "{value} is no sign; {near}see GET /v1/tuning/signs."
NO_MOVE = "{value} is no move; {near}see GET /v1/tuning/signs."
NEAR_IT = "near it: {names}; "
NO_LEVER = "{value} is no lever; levers are: {levers}."
GIVE_SEATS = "give the seats' ids."
NO_SUCH_PERSON = "there is no person {number}: {aboard} are aboard."
NO_SEATS_ID = "{value} is no seat's id."
SET_NOW_FORM = "give what is set now as an object, or a saved set-up's id."

# Calibrations, runs and an outfit's own values
HEEL_OR_PENDULUM = "give either heel or pendulum."
EVERYBODYS_MASS = "a calibration needs everybody's mass."
EVERYBODYS_PLACE = "a calibration needs everybody's place: a seat, or x and y."
FREEBOARDS_OR_INCLINING = "give freeboards or inclining readings."
SOMETHING_MEASURED = "give loadings, weighed, ashore, running_trim or log."
TOO_MANY_CALIBRATIONS = "a boat takes {most} calibrations: delete some."
ID_STAYS = "an id cannot be changed."
RUNS_OWN = "it is that of the run: leave it out."
NOT_AMONG_THE_REASONS = "no rule of this name is among the reasons of the advice."
CARD_ERASED = "The card told of a rider who was erased since."
NO_BOAT_OF_THE_OUTFIT = "no such boat."
VALUES_DISAGREE = "these values do not go together."
