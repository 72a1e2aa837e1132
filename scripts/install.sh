#!/usr/bin/env bash
# Make .venv and put the pinned packages into it: scripts/install.sh run | dev
# `dev` also sees to what tests need from the machine: Chromium, and pdftoppm to look at papers.
# Installs Debian packages itself when it may (root), else says in one sentence what to install.
set -euo pipefail
cd "$(dirname "$0")/.."

wanted=${1:-run}
system_python=${PYTHON3:-python3}

# need WHAT PACKAGE...: install Debian packages, or stop with the sentence that helps.
need() {
  local what=$1
  shift
  if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    echo "Installing $* ($what)"
    if ! { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@"; } >/tmp/kitperch-apt.log 2>&1; then
      tail -n 20 /tmp/kitperch-apt.log >&2
      echo "Could not install $* (needed for $what)." >&2
      exit 1
    fi
  else
    echo "Please install $* (needed for $what), for example: sudo apt-get install $*" >&2
    exit 1
  fi
}

command -v "$system_python" >/dev/null || need "running Kitperch" python3 python3-venv
"$system_python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
  echo "Kitperch needs Python 3.11 or later; $system_python is $("$system_python" -V). Name a newer one: PYTHON3=python3.12 make run" >&2
  exit 1
}

# An interrupted first try leaves a .venv without pip: make it again.
if ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
  "$system_python" -c 'import ensurepip, venv' 2>/dev/null || need "making .venv" python3-venv
  "$system_python" -m venv --clear .venv
fi

requirements=requirements.txt
[ "$wanted" = dev ] && requirements=requirements-dev.txt
.venv/bin/python -m pip install --quiet --disable-pip-version-check --no-input -r "$requirements"

if [ "$wanted" = dev ]; then
  command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null ||
    need "the browser tests" chromium
  command -v pdftoppm >/dev/null || need "the tests that look at papers" poppler-utils
fi
touch ".venv/installed-$wanted"
