from __future__ import annotations
from hashlib import blake2b
def window_hashes(pitches, ticks):
    found = []
    for i in range(len(pitches) - 8):
        p = pitches[i:i+9]; t = ticks[i:i+9]
        key = [b-a for a,b in zip(p,p[1:])] + [b-a for a,b in zip(t,t[1:])]
        found.append(int.from_bytes(blake2b(repr(key).encode(), digest_size=8).digest(), "big"))
    return found
