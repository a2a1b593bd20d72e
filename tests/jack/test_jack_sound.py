"""The built-in sound through a real JACK server, recorded at its outputs."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import numpy as np

from . import onsets
from .recorder import Recorder, audio_outputs
from .server import Helper, Server, until

CLICKS = 40


def test_clicks_lie_in_the_recording_as_planned(
    server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """Forty clicks handed over ahead of time are as far apart in the recording as they were
    meant to be, to the frame.

    Where the whole machine stalls, the recorder leaves out frames or the sound's clock is moved:
    a few distances may differ for that, the others by nothing.
    """
    rng = np.random.default_rng(4)
    frames = 24_000 + np.cumsum(rng.integers(8_000, 11_000, CLICKS))
    np.save(tmp_path / "frames.npy", frames)
    sounder = Helper("sounder.py", [str(tmp_path / "frames.npy")], tmp_path / "sounder.jsonl")
    ending.callback(sounder.quit)
    outputs = until(audio_outputs, 5.0, "audio outputs")
    recorder = Recorder(outputs[:1], tmp_path / "sound.wav")
    sounder.tell({})
    sounder.process.wait(30.0)
    signal = recorder.stop()[:, 0]
    found = onsets.rises(signal, 1e-5, 2_000)
    assert len(found) == CLICKS
    offset, apart = onsets.scatter(found, frames)
    steps = np.diff(apart)
    said = f"{sounder.lines()}, offset {offset}, steps {steps[steps != 0]}"
    assert np.count_nonzero(steps) <= CLICKS // 10, said
    assert np.count_nonzero(steps) == 0 or np.abs(steps[steps != 0]).min() > 16, said
    (tmp_path / "said.txt").write_text(said)
