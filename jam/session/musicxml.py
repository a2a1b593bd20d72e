"""MusicXML lead sheets, read by a worker process so that the session never waits in music21."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from jam.charts.model import Chart
from jam.charts.sheet import chart_of_sheet
from jam.errors import InputError

TIMEOUT_SEC = 60.0
_WORKER = "jam.charts.musicxml_worker"
_SAVE_ANEW = "Save it anew as MusicXML from your notation program."


def read_musicxml(path: Path, timeout_sec: float = TIMEOUT_SEC) -> Chart:
    """Return the lead sheet at ``path`` (.musicxml, .xml or .mxl) as a chart.

    Repeats and endings are played out. Raises InputError when the file is missing, broken, has no
    chord symbols, or takes longer than ``timeout_sec`` seconds.
    """
    source = str(path)
    if not path.is_file():
        raise InputError(source, "there is no such file", "Check the name and the folder.")
    command = [sys.executable, "-m", _WORKER, str(path.resolve())]
    try:
        done = subprocess.run(
            command, capture_output=True, timeout=timeout_sec, check=False, stdin=subprocess.DEVNULL
        )
    except subprocess.TimeoutExpired:
        problem = f"reading it took longer than {timeout_sec:g} seconds"
        raise InputError(source, problem, "Keep to one tune a file.") from None
    lines = done.stdout.decode("utf-8", "replace").splitlines()
    try:
        answer = json.loads(lines[-1])
    except (IndexError, json.JSONDecodeError):
        problem = f"this cannot be read as MusicXML (the reader ended with {done.returncode})"
        raise InputError(source, problem, _SAVE_ANEW) from None
    if "problem" in answer:
        raise InputError(source, answer["problem"], answer["mend"])
    return chart_of_sheet(answer, source)
