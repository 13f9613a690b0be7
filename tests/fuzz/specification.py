"""The whole specification by schemathesis, stateful too, against a server of its own.

    pip install schemathesis
    python -m tests.fuzz.specification [EXAMPLES of each operation, 15]

Two of its checks are left out: that whatever fits the schemas is accepted, since they cannot say
all that is checked (that an If-Match is current, that there is such a boat); and that what was
deleted is gone, since a revoked key stays in the list of keys, to say when it was revoked.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests import stores
from tests.production.server import ROOT, serving

LEFT_OUT = "positive_data_acceptance,use_after_free,ignored_auth"
# An If-Match that is not current is refused before the body is read (RFC 9110, 13.2.2).
SETTINGS = "[checks.negative_data_rejection]\nexpected-statuses = ['4xx']\n"


def main() -> int:
    examples = sys.argv[1] if len(sys.argv) > 1 else "15"
    with tempfile.TemporaryDirectory() as name, stores.fresh(Path(name)) as url:
        folder = Path(name)
        store = Store(url)
        with store.writing() as session:
            _, token = keys.issue(session, DEMO, "fuzz", [Scope.READ, Scope.WRITE])
        settings = folder / "schemathesis.toml"
        settings.write_text(SETTINGS)
        with serving(
            folder / "log", WAVESETUP_DATABASE_URL=url, WAVESETUP_LOG_LEVEL="warning"
        ) as server:
            command = [
                sys.executable, "-m", "schemathesis.cli", "--config-file", str(settings),
                "run", f"{server.url}/openapi.json", "--header", f"Authorization: Bearer {token}",
                "--exclude-checks", LEFT_OUT, "--max-examples", examples, "--seed", "1",
                "--no-color", "--continue-on-failure",
            ]  # fmt: skip
            environment = {**os.environ, "PYTHONPATH": str(ROOT)}
            found = subprocess.run(command, cwd=folder, env=environment, check=False).returncode
            broken = [line for line in server.logged().splitlines() if '"failed"' in line]
            sys.stdout.write("\n".join(broken))
        return found or len(broken)


if __name__ == "__main__":
    sys.exit(main())
