"""The built-in sound of a session, recorded from JACK: every note sounds where the log has it."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from time import sleep

import numpy as np

from jam.sound.mixer import SoundNote, mix, tail_sec

from . import onsets
from .companion import chart
from .evening import Evening, same_again
from .recorder import Recorder, audio_outputs
from .server import LOOK_SEC, PERIOD_FRAMES, RATE_HZ, Server, until

BPM = 264.0
BEFORE, WINDOW, REACH = 240, 2_400, 600
"""Frames: what of a note is looked for (from before its onset), and how far off."""


def test_notes_sound_where_the_log_has_them(
    server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """The recording is, note for note, what the log's notes sound like when they are mixed in one
    piece: the same constant offset to the sample, but for whole periods that the machine lost."""
    options = ["--no-band", "--turns", "8", "--first", "companion"]
    options += ["--chart", str(chart(tmp_path, bpm=BPM, choruses=1))]
    evening = Evening(server, tmp_path, ending, options, out="sound")
    outputs = until(audio_outputs, 5.0, "audio outputs", LOOK_SEC)
    recorder = Recorder(outputs[:1], tmp_path / "sound.wav")
    evening.play([])
    sleep(9.0)
    recording = recorder.stop()[:, 0]
    assert evening.leave() == 0
    notes = logged(evening)
    assert len(notes) > 20
    mixed = mix(notes, tail_sec(notes), rng=np.random.default_rng(1))[:, 0]
    begin = [round(note.t * RATE_HZ) for note in notes]
    offset = onsets.rises(recording, 1e-4, 2_000)[0] - onsets.rises(mixed, 1e-4, 2_000)[0]
    pieces = [mixed[frame - BEFORE : frame - BEFORE + WINDOW] for frame in begin]
    found = [
        onsets.matched(recording, piece, frame - BEFORE + offset, REACH)
        for frame, piece in zip(begin, pieces, strict=True)
    ]
    lags = np.round(
        [place - frame + BEFORE for (place, _), frame in zip(found, begin, strict=True)]
    )
    told = f"lags {lags - lags[0]}, fits {np.round([fit for _, fit in found], 2)}"
    assert np.median([fit for _, fit in found]) > 0.9, told
    jumps = np.diff(lags)
    assert not np.any(jumps % PERIOD_FRAMES), told
    assert np.mean(jumps == 0) > 0.8, told
    same_again(evening)


def logged(evening: Evening) -> list[SoundNote]:
    """Return the notes that the log says were sent, in the order in which they begin."""
    begun: dict[int, dict[str, object]] = {}
    notes = []
    for row in evening.log().of("sent"):
        status, pitch, velocity = row["bytes"]
        if status & 0xF0 == 0x90:
            begun[row["note"]] = {"t": row["t"], "part": row["part"], "velocity": velocity}
        elif row["note"] in begun:
            notes.append(SoundNote(end=row["t"], pitch=pitch, **begun.pop(row["note"])))  # type: ignore[arg-type]
    return sorted(notes, key=lambda note: note.t)
