"""Classes of context in which people's habits are counted (temporary)."""
from __future__ import annotations
from jam.harmony.chord import Chord
INTERVALS = range(-12, 13)
FAMILIES = ("major", "minor", "dominant", "half-diminished", "other")
def interval_class(m: int) -> int:
    if m <= -5: return 1
    if m <= -3: return 2
    if m >= 5: return 9
    if m >= 3: return 8
    return {-2: 3, -1: 4, 0: 5, 1: 6, 2: 7}[m]
def family_class(chord: Chord) -> int:
    kind = chord.kind
    return {"major": 0, "minor": 1, "dominant": 2, "sus": 2, "half_diminished": 3, "diminished": 3}.get(kind, 4)
def place_class(tick_in_bar: int, bar_ticks: int, pulse_ticks: int) -> int:
    inside = tick_in_bar % pulse_ticks
    if inside == 0:
        pulses = bar_ticks // pulse_ticks
        number = tick_in_bar // pulse_ticks
        return 0 if number == 0 or (pulses == 4 and number == 2) else 1
    return 2 if inside * 2 == pulse_ticks else 3
def gap_class(ticks: int) -> int:
    return 0 if ticks <= 4 else 1 if ticks <= 8 else 2 if ticks <= 23 else 3
def tempo_class(bpm: float) -> int:
    return 0 if bpm < 110 else 1 if bpm < 170 else 2 if bpm < 230 else 3
