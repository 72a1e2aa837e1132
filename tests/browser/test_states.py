"""Every page of a shop with nothing, with one of each, with many and with the longest words, at every size and light."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.states import STATES

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.soak
@pytest.mark.parametrize("state", STATES)
def test_every_page_of_such_a_shop_bars_nobody_and_fits(state):
    command = [sys.executable, "scripts/pictures.py", "--state", state]
    kept = {name: value for name, value in os.environ.items() if not name.startswith("KITPERCH_")}
    done = subprocess.run(command, cwd=ROOT, env=kept, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
