#!/usr/bin/env bash
# Finds the programs that no Python package brings, and installs the missing ones where it may.
#
#   scripts/system_packages.sh python [PYTHON]   an interpreter that can make an environment
#   scripts/system_packages.sh tests             the outside witnesses of the tests
#
# As root on Debian or a relative the missing packages are installed with apt-get. Anyone else is
# told what is missing and the command to install it.
set -euo pipefail

what="${1:?python or tests}"
python="${2:-python3}"
missing=()

need_program() { # program, package
    command -v "$1" >/dev/null 2>&1 || missing+=("$2")
}

need_postgresql() { # Debian keeps its programs out of the way
    compgen -G "/usr/lib/postgresql/*/bin/initdb" >/dev/null || need_program initdb postgresql
}

need_venv() {
    "$python" -c 'import ensurepip, venv' >/dev/null 2>&1 || missing+=("$(basename "$python")-venv")
}

refuse_old_python() {
    "$python" - <<'PY'
import sys

if sys.version_info < (3, 11):
    found = ".".join(map(str, sys.version_info[:3]))
    sys.exit(
        f"Lapwright needs Python 3.11 or later; {sys.executable} is {found}.\n"
        "Name another one, for example: make setup PYTHON=python3.12"
    )
PY
}

install() {
    echo "Installing with apt-get: ${missing[*]}"
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -q </dev/null
    apt-get install -q -y --no-install-recommends "${missing[@]}" </dev/null
}

case "$what" in
python)
    need_program "$python" "$(basename "$python")"
    need_venv
    ;;
tests)
    need_program pdfsig poppler-utils
    need_program pdftoppm poppler-utils
    need_program qpdf qpdf
    need_postgresql
    ;;
*)
    echo "unknown group: $what (expected python or tests)" >&2
    exit 2
    ;;
esac

if [ "${#missing[@]}" -gt 0 ]; then
    mapfile -t missing < <(printf '%s\n' "${missing[@]}" | sort -u)
    if [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null 2>&1; then
        install
    else
        {
            echo "These system packages are missing: ${missing[*]}"
            echo "On Debian or Ubuntu: sudo apt-get install ${missing[*]}"
            echo "Elsewhere: install the packages of the same purpose, then run make again."
        } >&2
        exit 1
    fi
fi

if [ "$what" = python ]; then
    refuse_old_python
fi
