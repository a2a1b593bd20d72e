"""The built-in sound through a real JACK server, recorded at its outputs."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import numpy as np

from . import onsets
from .recorder import Recorder, audio_outputs
from .server import LOOK_SEC, PERIOD_FRAMES, Helper, Server, until

CLICKS = 40


def test_clicks_lie_in_the_recording_as_planned(
    server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """Forty clicks handed over ahead of time lie in the recording as far apart as in the stream,
    scatter 0 frames, and in the stream as planned.

    Where the machine stalls, JACK leaves out whole periods, and the clock is moved for it; that
    is told apart from a scatter of ours, which would not be a multiple of the period.
    """
    rng = np.random.default_rng(4)
    frames = 24_000 + np.cumsum(rng.integers(8_000, 11_000, CLICKS))
    np.save(tmp_path / "frames.npy", frames)
    sounder = Helper("sounder.py", [str(tmp_path / "frames.npy")], tmp_path / "sounder.jsonl")
    ending.callback(sounder.quit)
    outputs = until(audio_outputs, 5.0, "audio outputs", LOOK_SEC)
    recorder = Recorder(outputs[:1], tmp_path / "sound.wav")
    sounder.tell({})
    sounder.process.wait(30.0)
    signal = recorder.stop()[:, 0]
    found = onsets.rises(signal, 5e-7, 2_000)
    said = sounder.lines()
    begun = np.array(said[1]["begun"])
    lost = np.diff(begun) - np.diff(found) if len(found) == CLICKS else None
    told = f"{said}, found {len(found)}, lost {lost}"
    assert lost is not None, told
    assert not np.any(lost % PERIOD_FRAMES), told
    assert np.count_nonzero(lost) <= CLICKS // 3, told
    if not said[1]["moves"]:
        assert np.array_equal(np.diff(begun), np.diff(frames)), told
