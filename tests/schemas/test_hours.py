"""Times of a booking: nobody has to guess which clock they are of."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from schemas.written import hours

# IANA time zone database: on 9 March 2031 the clocks of New York go forward at 2:00, on
# 2 November back (second Sunday of March, first of November; 15 U.S.C. 260a).
NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("starts", "expected"),
    [
        ("2031-03-09T05:00:00+00:00", "00:00-00:30 UTC-05:00"),
        ("2031-03-09T06:30:00+00:00", "01:30 UTC-05:00 to 03:00 UTC-04:00"),
        ("2031-11-02T05:30:00+00:00", "01:30 UTC-04:00 to 01:00 UTC-05:00"),
        ("2031-11-02T06:30:00+00:00", "01:30-02:00 UTC-05:00"),
    ],
)
def test_both_offsets_stand_where_the_clocks_change(starts: str, expected: str) -> None:
    begins = datetime.fromisoformat(starts)
    there = [each.astimezone(NEW_YORK) for each in (begins, begins + timedelta(minutes=30))]
    assert hours(there[0], there[1]) == expected
    assert hours(begins.astimezone(UTC), begins.astimezone(UTC)).endswith(" UTC")
