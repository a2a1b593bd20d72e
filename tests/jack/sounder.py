"""Plays clicks through the built-in sound on JACK: a program, not a module.

    python sounder.py FRAMES.npy

It writes ``{"ready": .., "facts": ..}`` when the sound is open, begins at a line on its input and
hands over every click half a second ahead; the n-th is meant for FRAMES[n] / 48000 s after a
moment of its own. At the end it writes what the sound had to tell, and the frame of its stream
on which each click began: the one it was planned for, unless the clock had to be moved meanwhile.
"""

import gc
import json
import sys
from time import perf_counter, sleep

import numpy as np

from jam.ports.sound_out import SoundOut
from jam.ports.sounddevice_audio import SoundDeviceAudio
from jam.ports.wire import PlayNote
from jam.ports.wishes import PartWish, SoundWish

AHEAD_SEC = 0.5


def say(line):
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


frames = np.load(sys.argv[1])
gc.freeze()
gc.disable()
sys.setswitchinterval(0.0002)  # as the I/O process does
wish = SoundWish(device="system", block_frames=128)
out = SoundOut(wish, [PartWish("click")], latency_sec=0.0, device=SoundDeviceAudio())
voices = []
stream = out._stream
play = stream.play
stream.play = lambda voice, t, end: (voices.append(voice), play(voice, t, end))
say({"ready": True, "facts": out.facts})
sys.stdin.readline()
news = []
begun = perf_counter() + AHEAD_SEC
for id, frame in enumerate(frames):
    t = begun + float(frame) / 48000
    while perf_counter() < t - AHEAD_SEC:
        news += out.poll(perf_counter())
        sleep(0.01)
    out.play(PlayNote(id, "click", t, t + 0.05, 9, 77, 110, perf_counter()))
sleep(AHEAD_SEC + 0.3)
news += out.poll(perf_counter())
say({"news": news, "moves": stream.clock.moves, "begun": [voice.start for voice in voices]})
out.close()
