"""Prints what the comparisons with other programs measured, after the tests."""

from __future__ import annotations

import pytest

MEASURED = "measured"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for outcome in ("passed", "failed"):
        for report in terminalreporter.stats.get(outcome, []):
            for name, value in getattr(report, "user_properties", []):
                if name == MEASURED:
                    terminalreporter.write_line(f"{report.nodeid}: {value}")
