"""Plays a sound at given frames into JACK audio outputs: a program, not a module.

    python speaker.py FRAMES.npy SOUND.npy

It writes ``{"ready": ..}`` when its stream runs, begins at a line on its input, and ends by itself
after the last sound. It stands for a program under test when the recorder and the finder of
onsets are proved.
"""

import json
import sys

import numpy as np
import sounddevice

frames, sound = np.load(sys.argv[1]), np.load(sys.argv[2])
signal = np.zeros(frames[-1] + 24000, np.float32)
for frame in frames:
    signal[frame : frame + len(sound)] += sound
place, going = 0, False


def fill(out, count, time, status):
    global place
    out[:] = 0.0
    if going:
        piece = signal[place : place + count]
        out[: len(piece), 0] = piece
        place += count


with sounddevice.OutputStream(
    samplerate=48000, blocksize=128, channels=2, dtype="float32", callback=fill
):
    sys.stdout.write(json.dumps({"ready": True}) + "\n")
    sys.stdout.flush()
    sys.stdin.readline()
    going = True
    while place < len(signal):
        sounddevice.sleep(20)
