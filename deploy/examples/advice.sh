#!/bin/sh
# Asks for advice with nothing but curl: the card for the helm, then one number out of the JSON.
# With a key (WAVESETUP_KEY) it also keeps a rider and asks again for the rider by id.
set -eu
url=${WAVESETUP_URL:-http://127.0.0.1:8000}

json() { # json METHOD PATH BODY [HEADER …]
    method=$1 path=$2 body=$3
    shift 3
    for header in "$@"; do set -- "$@" -H "$header"; shift; done
    curl --silent --show-error --fail-with-body -X "$method" "$url$path" \
        -H 'Content-Type: application/json' "$@" --data "$body"
}

request='{"boat": "demo-7m", "crew": 8,
          "rider": {"mass": "180 lb", "stance": "goofy", "board": "skim", "level": "intermediate"}}'

json POST /v1/advice "$request" 'Accept: text/plain'

echo "Speed in the JSON: $(json POST /v1/advice "$request" |
    sed -n 's/.*"speed": *\([0-9.]*\), *"plates".*/\1/p') km/h"

[ -n "${WAVESETUP_KEY:-}" ] || exit 0

# Sent twice under one Idempotency-Key, as after a broken connection: one rider is kept.
key="Authorization: Bearer $WAVESETUP_KEY"
once="Idempotency-Key: example-$$-$(date +%s)"
for _ in first again; do
    rider=$(json POST /v1/riders '{"mass": "180 lb", "stance": "goofy"}' "$key" "$once" |
        sed -n 's/.*"id": *"\([^"]*\)".*/\1/p')
done
json POST /v1/advice "{\"boat\": \"demo-7m\", \"crew\": 8, \"rider\": \"$rider\"}" \
    "$key" 'Accept: text/plain' | head -n 2

# The person is taken out again, with everything that is kept.
curl --silent --show-error --fail-with-body -X DELETE -H "$key" "$url/v1/riders/$rider?erase=true"
echo "Rider $rider kept once and erased."
