"""Asks for advice, keeps the run, rates it afterwards. Needs only ``requests``, and a key."""

from __future__ import annotations

import os
import sys
import uuid

import requests

URL = os.environ.get("WAVESETUP_URL", "http://127.0.0.1:8000")


def main() -> int:
    key = os.environ.get("WAVESETUP_KEY")
    if not key:
        print("Set WAVESETUP_KEY; the demo's is printed at the start.", file=sys.stderr)
        return 1
    session = requests.Session()
    session.headers["Authorization"] = f"Bearer {key}"

    asked = {
        "boat": "demo-7m",
        "crew": [{"mass": "75 kg", "seat": "helm"}, {"mass": "60 kg"}, {"mass": "60 kg"}],
        "rider": {"mass": "82 kg", "stance": "regular", "board": "surf", "level": "beginner"},
        "water": {"depth": "7 m", "distance_to_shore": "150 m"},
    }
    # A key of its own makes it safe to send this again when the connection breaks.
    once = {"Idempotency-Key": str(uuid.uuid4())}
    made = session.post(f"{URL}/v1/runs", json={"request": asked}, headers=once, timeout=30)
    if made.status_code == 422:
        for fault in made.json()["errors"]:
            print(f"{fault['pointer']}: {fault['detail']}", file=sys.stderr)
        return 1
    made.raise_for_status()
    run = made.json()

    setup = run["answer"]["setup"]
    print(f"{run['answer']['verdict']}: {setup['surf_side']} wave at {setup['speed']} km/h")
    for tank in setup["tanks"]:
        print(f"  {tank['tank']}: {tank['fill']:.0f} %")
    for caution in run["answer"]["cautions"]:
        if caution["severity"] != "note":
            print(f"  ! {caution['text']} {caution['action']}")

    # After the ride: the tag says which version this change is meant for.
    rated = session.patch(
        f"{URL}{made.headers['Location']}",
        json={"rating": 4, "settings": {"speed": "18 km/h"}},
        headers={"If-Match": made.headers["ETag"]},
        timeout=30,
    )
    rated.raise_for_status()
    print(f"Run {run['id']} rated {rated.json()['rating']}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
