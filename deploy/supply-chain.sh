#!/bin/sh
# Known vulnerabilities in what is pinned (pip-audit), and a bill of materials (CycloneDX, JSON).
#
#   sh deploy/supply-chain.sh [SBOM.json]
#
# The tools go into an environment that is thrown away. Exit code 1: a vulnerability is known;
# 3: the tools or the advisories could not be had, so nothing is known.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/deploy/setup.sh"
setup dev
sbom=${1:-wavesetup-sbom.json}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM
uv() { "$python" -m uv "$@"; }
uv venv -q --python "$python" "$scratch/tools"
uv pip install -q --python "$scratch/tools/bin/python" \
    'pip-audit>=2.7,<3' 'cyclonedx-bom>=5,<8' >&2 || {
    echo "The tools cannot be installed: no bill of materials, not audited." >&2
    exit 3
}

"$scratch/tools/bin/python" -W ignore -m cyclonedx_py requirements "$root/runtime.lock" \
    --pyproject "$root/pyproject.toml" --mc-type application --output-reproducible \
    --of JSON -o "$sbom"
echo "Bill of materials: $sbom"

# --strict: a package whose advisories cannot be had is an error, not a line among others.
if "$scratch/tools/bin/pip-audit" --strict --no-deps --disable-pip --progress-spinner off \
    -r "$root/runtime.lock" >"$scratch/found" 2>"$scratch/said"; then
    echo "No known vulnerability in runtime.lock."
elif grep -q '^Name ' "$scratch/found"; then
    cat "$scratch/found"
    exit 1
else
    why=$(grep -v '^WARNING' "$scratch/said" | tail -n 1)
    echo "The advisories could not be asked: not audited. ($why)" >&2
    exit 3
fi
