"""The built-in sound of a session, recorded from JACK: every note sounds where the log has it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from time import sleep

import numpy as np

from jam.session.copies import read_setup
from jam.session.heard import heard_notes
from jam.sound.mixer import SoundNote, mix, tail_sec

from . import onsets
from .companion import chart
from .evening import Evening, same_again
from .onsets import Frames
from .recorder import Recorder, audio_outputs
from .server import LOOK_SEC, RATE_HZ, Server, until

BPM = 264.0
BEFORE, WINDOW, REACHES = 240, 2_400, (100, 2_000, 12_000)
"""Frames: what of a note is looked for (from before its onset), and how far off."""
GOOD_FIT = 0.98


def test_notes_sound_where_the_log_has_them(
    server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """Note for note, the recording is what the log's notes sound like when they are mixed in one
    piece, a constant number of frames later, to the frame but for the rounding of two clocks.

    A note whose take is another one fits less well and is not measured. Where the machine stalls,
    JACK's frames fall behind the clock, and the sound catches up in one step: hence the shares. A
    sound that scatters has hardly two notes in a row on their frames.
    """
    options = ["--no-band", "--turns", "8", "--first", "companion"]
    options += ["--chart", str(chart(tmp_path, bpm=BPM, choruses=1))]
    evening = Evening(server, tmp_path, ending, options, out="sound")
    outputs = until(audio_outputs, 5.0, "audio outputs", LOOK_SEC)
    recorder = Recorder(outputs[:1], tmp_path / "sound.wav")
    evening.play([])
    sleep(7.0)
    recording = recorder.stop()[:, 0]
    assert evening.leave() == 0
    notes = logged(evening)
    assert len(notes) > 20
    mixed = mix(notes, tail_sec(notes), rng=np.random.default_rng(1))[:, 0]
    coarse = onsets.rises(recording, 1e-4, 2_000)[0] - onsets.rises(mixed, 1e-4, 2_000)[0]
    found, fits = lags(recording, mixed, notes, coarse)
    steps = np.diff(found[fits > GOOD_FIT])
    told = f"steps {np.round(steps, 1)}, fits {np.round(fits, 2)}; {evening.companion.words()}"
    assert np.mean(fits > GOOD_FIT) > 0.4, told
    assert np.mean(np.abs(steps) <= 1.0) > 0.5, told
    same_again(evening)


def lags(
    recording: Frames, mixed: Frames, notes: Sequence[SoundNote], lag: float
) -> tuple[Frames, Frames]:
    """Return how many frames later each note lies in the recording, and how well it fits; it is
    looked for near the place of the one before, then farther off."""
    found = []
    for note in notes:
        first = round(note.t * RATE_HZ) - BEFORE
        for reach in REACHES:
            piece = mixed[first : first + WINDOW]
            place, fit = onsets.matched(recording, piece, first + lag, reach)
            if fit > GOOD_FIT:
                lag = place - first
                break
        found.append((place - first, fit))
    places, fits = np.array(found).T
    return places, fits


def logged(evening: Evening) -> list[SoundNote]:
    """Return the notes that the log says were sent, in the order in which they begin."""
    log = evening.log()
    program = read_setup(evening.folder, log.header).style.instrument.program - 1
    notes = [
        SoundNote(note.t, note.end, note.part, note.pitch, note.velocity, note.bend, program)
        for note in heard_notes(log.of("sent"))
    ]
    return sorted(notes, key=lambda note: note.t)
