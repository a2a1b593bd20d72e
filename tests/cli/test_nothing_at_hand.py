"""``jam`` on a machine that has nothing: no MIDI, no sound, no terminal."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import pytest

from jam.session.at_hand import DEMO

BLOCKED = "('rtmidi', 'supriya_midi', 'sounddevice', 'miniaudio')"


@pytest.fixture
def bare(tmp_path: Path) -> dict[str, str]:
    """Return the environment of a machine whose native libraries do not load, in any process."""
    block = f"import sys\nfor name in {BLOCKED}:\n    sys.modules[name] = None\n"
    (tmp_path / "sitecustomize.py").write_text(block)
    before = os.environ.get("PYTHONPATH")
    path = os.pathsep.join([str(tmp_path), *([before] if before else [])])
    return {**os.environ, "PYTHONPATH": path, "JAM_HOME": str(tmp_path / "own")}


@pytest.mark.parametrize("words", [[], ["play"], ["--setup", "horn"]])
def test_it_says_what_is_missing_and_offers_the_demo(
    words: list[str], bare: dict[str, str]
) -> None:
    """A line for each thing, with the command that mends it, exit code 0, no traceback, at once."""
    began = perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "jam", *words],
        env=bare,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
    )
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[-1] == DEMO
    assert any("pip install" in line for line in lines[:-1])
    assert 2 <= len(lines) <= 4
    assert perf_counter() - began < 5.0
