"""The files of ``deploy/`` that describe how it runs elsewhere.

What a tool here can check it checks; a test that finds no tool skips and says which. No image is
built and no unit is started by these tests; DEVELOPERS.md says how an image is, by hand.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
UNITS = sorted(path.name for path in DEPLOY.glob("wavesetup*.*"))


def tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is not installed: not checked")
    return found


def test_nginx_takes_the_example(tmp_path: Path) -> None:
    nginx = tool("nginx")
    site = (DEPLOY / "nginx.conf").read_text("utf-8").replace("/var/log/nginx", str(tmp_path))
    (tmp_path / "site.conf").write_text(site)
    whole = tmp_path / "nginx.conf"
    whole.write_text(
        f"pid {tmp_path}/pid;\nevents {{}}\nhttp {{ include {tmp_path}/site.conf; }}\n"
    )
    command = [nginx, "-t", "-e", str(tmp_path / "log"), "-c", str(whole)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=30)
    assert done.returncode == 0, done.stderr


def test_systemd_takes_the_units(tmp_path: Path) -> None:
    """In a copy whose programs exist: the paths are those of the machine it is installed on."""
    analyze = tool("systemd-analyze")
    for name in UNITS:
        text = (DEPLOY / name).read_text("utf-8")
        (tmp_path / name).write_text(text.replace("/opt/wavesetup/.venv/bin/python", "/bin/sh"))
    command = [analyze, "verify", "--man=no", *(str(tmp_path / name) for name in UNITS)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    complaints = [line for line in done.stderr.splitlines() if "wavesetup" in line]
    assert not complaints
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("unit", [name for name in UNITS if name.endswith(".service")])
def test_systemd_finds_the_sandbox_tight(unit: str) -> None:
    """From 0, with everything taken away, to 10."""
    analyze = tool("systemd-analyze")
    command = [analyze, "security", "--offline=true", "--no-pager", str(DEPLOY / unit)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    found = re.search(r"exposure level for \S+: (\d+\.\d)", done.stdout)
    if found is None:
        pytest.skip(f"this systemd cannot judge a file: {done.stderr.strip()}")
    assert float(found[1]) <= 3.0


SANDBOX = re.compile(
    r"^((?:Protect|Private|Restrict|SystemCall|Capability|Lock|Memory|NoNew|Proc|UMask)\w*=.*)$",
    re.MULTILINE,
)


def test_backup_is_as_sandboxed_as_the_service() -> None:
    """Both read and write the same data; only the service starts jobs, which have a limit."""
    service, backup = (
        set(SANDBOX.findall((DEPLOY / f"wavesetup{name}.service").read_text("utf-8")))
        for name in ("", "-backup")
    )
    of_the_service = ("MemoryMax", "SystemCallFilter=nice")
    assert {line for line in service if not line.startswith(of_the_service)} == backup


def compose() -> dict[str, Any]:
    document: dict[str, Any] = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))
    return document


def said_of_compose(path: Path) -> subprocess.CompletedProcess[str]:
    """By ``docker compose``; where docker has none, by the schema of the Compose Specification,
    which check-jsonschema carries."""
    own = [shutil.which("docker") or "false", "compose"]
    schema = ["--builtin-schema", "vendor.compose-spec", str(path)]
    command = [sys.executable, "-m", "check_jsonschema", *schema]
    if subprocess.run([*own, "version"], capture_output=True, check=False).returncode == 0:
        command = ["env", "POSTGRES_PASSWORD=x", *own, "--file", str(path), "config", "--quiet"]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


def test_compose_keeps_to_its_specification() -> None:
    done = said_of_compose(DEPLOY / "compose.yaml")
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("mem_limit", "memory_limit"), ("service_completed_successfully", "service_done")],
)
def test_what_leaves_the_specification_is_seen(right: str, wrong: str, tmp_path: Path) -> None:
    text = (DEPLOY / "compose.yaml").read_text("utf-8")
    assert right in text
    (tmp_path / "compose.yaml").write_text(text.replace(right, wrong), "utf-8")
    assert said_of_compose(tmp_path / "compose.yaml").returncode != 0


def test_compose_names_only_what_it_has() -> None:
    """What a schema cannot say, and the program itself would refuse."""
    document = compose()
    for of in document["services"].values():
        assert set(of.get("depends_on", ())) <= set(document["services"])
        named = {volume.partition(":")[0] for volume in of.get("volumes", ())}
        assert named <= set(document["volumes"])


def test_compose_migrates_once_before_it_serves() -> None:
    services = compose()["services"]
    needs = services["service"]["depends_on"]
    assert needs["migration"] == {"condition": "service_completed_successfully"}
    assert needs["store"] == {"condition": "service_healthy"}
    assert services["migration"]["restart"] == "no"
    assert services["migration"]["command"][-3:] == ["db", "upgrade", "--no-backup"]
    # Its image has no client of PostgreSQL: a service of its own backs up before it.
    done = {"condition": "service_completed_successfully"}
    assert services["migration"]["depends_on"]["backup"] == done
    assert services["backup"]["restart"] == "no"


def test_compose_gives_away_nothing() -> None:
    services = compose()["services"]
    for name in ("migration", "service"):
        assert services[name]["read_only"] is True
        assert services[name]["cap_drop"] == ["ALL"]
    # Only the service is reached from outside, and only from this machine.
    published = {name: of["ports"] for name, of in services.items() if "ports" in of}
    assert published == {"service": ["127.0.0.1:8000:8000"]}
    text = (DEPLOY / "compose.yaml").read_text("utf-8")
    assert "${POSTGRES_PASSWORD:?" in text  # no password of ours, and none forgotten


def test_compose_takes_any_password() -> None:
    """Each as it is: libpq reads PGPASSWORD, and in a URL "@" or "%" would mean something else."""
    services = compose()["services"]
    password = services["store"]["environment"]["POSTGRES_PASSWORD"]
    for name in ("migration", "service"):
        assert services[name]["environment"]["PGPASSWORD"] == password
        assert "$" not in services[name]["environment"]["WAVESETUP_DATABASE_URL"]


def container() -> list[str]:
    text = (DEPLOY / "Containerfile").read_text("utf-8").replace("\\\n", " ")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def test_the_image_has_two_stages_and_no_root() -> None:
    lines = container()
    starts = [at for at, line in enumerate(lines) if line.startswith("FROM ")]
    assert len(starts) == 2
    build, run = lines[: starts[1]], lines[starts[1] :]
    assert any("gcc" in line for line in build)
    assert not any("gcc" in line for line in run)
    assert any("--require-hashes" in line for line in build)
    user = next(at for at, line in enumerate(run) if line == "USER 10001")
    assert all(line.startswith("CMD") or "RUN" not in line for line in run[user:])
    assert any(line.startswith("HEALTHCHECK") for line in run)


def test_the_image_has_all_that_is_copied_and_imported() -> None:
    root = DEPLOY.parent
    copied = [line.split()[1:-1] for line in container() if re.match(r"COPY (?!--)", line)]
    for source in (path for paths in copied for path in paths):
        assert (root / source).exists(), source
    allowed = (root / ".dockerignore").read_text("utf-8").split()
    for source in (path for paths in copied for path in paths):
        assert f"!{source}" in allowed, source
    assert {"rules", "schemas", "service"} <= {path for paths in copied for path in paths}


def test_the_timer_runs_what_there_is() -> None:
    text = (DEPLOY / "wavesetup-backup.service").read_text("utf-8")
    script = re.search(r"ExecStart=/bin/sh (\S+)", text)
    assert script is not None
    assert (DEPLOY.parent / script[1]).exists()
