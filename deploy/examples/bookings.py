"""Pushes a day's bookings out of a CSV file, prints what came of each, then the day sheet.

    python deploy/examples/bookings.py [bookings.csv]

May be run again as often as one likes: a booking is known by its reference. Needs ``requests``.
"""

from __future__ import annotations

import csv
import json
import os
import sys
from pathlib import Path
from typing import Any

import requests

URL = os.environ.get("WAVESETUP_URL", "http://127.0.0.1:8000")


def booking(row: dict[str, str]) -> dict[str, Any]:
    """A row of the file in the words of the service; empty cells are left out."""
    rider = {name: row[name] for name in ("stance", "mass") if row[name]}
    return {
        "id": row["reference"],
        "start": row["start"],
        "duration": f"{row['minutes']} min",
        "party": int(row["party"]),
        "boat": row["boat"],
        "riders": [rider] if rider else [],
    }


def main() -> int:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).with_name("bookings.csv")
    with path.open(encoding="utf-8", newline="") as file:
        bookings = [booking(row) for row in csv.DictReader(file)]
    headers = {
        "Authorization": f"Bearer {os.environ['WAVESETUP_KEY']}",
        "Accept": "application/jsonl",
    }
    failed = 0
    with requests.post(
        f"{URL}/v1/bookings:batch",
        json={"bookings": bookings},
        headers=headers,
        stream=True,
        timeout=60,
    ) as response:
        response.raise_for_status()
        # Each line comes as soon as its booking is kept.
        for line in response.iter_lines():
            result = json.loads(line)
            if "problem" in result:
                failed += 1
                print(f"{result['id']}: {result['problem']['detail']}")
            else:
                print(f"{result['id']}: {result['booking']['answer']['summary']}")

    day = bookings[0]["start"][:10]
    sheet = requests.get(
        f"{URL}/v1/bookings",
        params={"date": day},
        headers={**headers, "Accept": "text/plain"},
        timeout=60,
    )
    sheet.raise_for_status()
    print(f"\n{day}\n{sheet.text}", end="")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
