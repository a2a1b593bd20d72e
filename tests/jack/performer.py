"""Plays MIDI messages at absolute times into JACK outputs of its own: a program, not a module.

    python performer.py NAME...

Opens the JACK MIDI port ``stage-NAME:NAME`` for each name, writes ``{"ready": [...]}`` and takes
lines of JSON from its input: ``{"start": S, "events": [[t, NAME, [bytes]], ...]}`` is played with
``t`` seconds after the machine second ``S`` (``time.perf_counter``). Of each message it writes
``{"meant": .., "at": .., "port": .., "bytes": [..]}``, ``at`` being when it was sent. Leaves at the
end of its input, when all is played. It knows nothing of the program it plays to.
"""

import gc
import json
import select
import sys
from heapq import heappop, heappush
from time import perf_counter, sleep

import rtmidi

SPIN_SEC = 0.001


def main(names):
    outputs = {}
    for name in names:
        output = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name=f"stage-{name}")
        output.open_virtual_port(name)
        outputs[name] = output
    sys.stdout.write(json.dumps({"ready": names}) + "\n")
    sys.stdout.flush()
    gc.disable()
    due, told, number, unread, open_in = [], [], 0, b"", True
    while open_in or due:
        wait = due[0][0] - perf_counter() if due else 1.0
        if wait > 0.01 or not due:
            if told:
                sys.stdout.write("".join(told))
                sys.stdout.flush()
                told = []
            pause = min(max(wait - 0.005, 0.0), 0.05)
            if open_in and select.select([0], [], [], pause)[0]:
                read = sys.stdin.buffer.raw.read(1 << 20)
                open_in = bool(read)
                *lines, unread = (unread + read).split(b"\n")
                for line in lines:
                    order = json.loads(line)
                    for t, port, data in order["events"]:
                        heappush(due, (order["start"] + t, number, port, data))
                        number += 1
            elif not open_in:
                sleep(pause)
            continue
        meant, _, port, data = heappop(due)
        while (left := meant - perf_counter()) > 0:
            if left > SPIN_SEC:
                sleep(left - SPIN_SEC)
        at = perf_counter()
        outputs[port].send_message(data)
        told.append(json.dumps({"meant": meant, "at": at, "port": port, "bytes": data}) + "\n")
    sys.stdout.write("".join(told))
    sys.stdout.flush()
    sleep(0.05)  # what was sent last leaves with the next period
    for output in outputs.values():
        output.close_port()
    sleep(0.05)  # the library frees what the server may still be reading
    for output in outputs.values():
        output.delete()


main(sys.argv[1:])
