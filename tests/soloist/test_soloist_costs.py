"""What a note may be where it stands: the hard rules as forbidden entries, by chord symbol."""

from __future__ import annotations

import numpy as np
import pytest
from audit.chords import read
from soloist_asking import ROOTS, SUFFIXES, in_bars, plain_request

from jam.harmony.keys import parse_key
from jam.players.soloist.costs import Pricing, places
from jam.players.soloist.lattice import FORBIDDEN, Column
from jam.players.soloist.slots import TICKS, Slot

LOW, HIGH = 48, 83


def columns(symbols: str, slots: list[Slot], **changed: object) -> list[Column]:
    """Return the columns of a line over bars of changes from beat 0 on."""
    request = plain_request(changes=in_bars(symbols), key=parse_key("F major"), **changed)
    pricing = Pricing(request, LOW, HIGH, np.random.default_rng(0))
    return pricing.columns(slots, places(request, slots))


def open_classes(column: Column) -> set[int]:
    """Return the pitch classes that may stand by themselves."""
    return {(LOW + i) % 12 for i, cost in enumerate(column.free) if cost < FORBIDDEN}


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_only_strong_degrees_stand_by_themselves(suffix):
    """Off the changes and out of a blues all chord tones are open, and no degree that every school
    of harmony calls weak."""
    for root in ROOTS[::5]:
        slots = [Slot(6 * n, 6, "run", 1, n) for n in range(5)]
        column = columns(f"{root}{suffix}|{root}{suffix}", slots)[2]
        sound = read(root + suffix)
        found = open_classes(column)
        assert found <= sound.wide
        assert sound.tones <= found


def test_an_approach_has_no_way_to_a_blue_note():
    """In a blues the blue notes stand by themselves, but nothing resolves into one that is no
    strong degree."""
    slots = [Slot(6 * n, 6, "run", 1, n) for n in range(6)]
    column = columns("F6|F6|Gm7", slots, blues=True)[3]
    strong = read("F6").wide
    blue = open_classes(column) - strong
    # b3, 4, b5 and b7 of F, less the b5, which is the #11 of F6: Ab, Bb, Eb.
    assert blue == {8, 10, 3}
    closed = {(LOW + i) % 12 for i, cost in enumerate(column.resolving) if cost >= FORBIDDEN}
    assert closed == blue


def test_the_note_at_a_change_is_judged_by_the_change():
    """The first note after a change is strong on it, also where it reaches over to the next; a
    note held over a change is strong on what comes."""
    on_change = [Slot(42, 3, "run", 1), Slot(48, 6, "run", 1), Slot(60, 6, "run", 1)]
    assert open_classes(columns("Cmaj7|Ab7|Gm7", on_change)[1]) <= read("Ab7").wide
    late = [Slot(30, 6, "run", 1), Slot(48 + TICKS, 18, "run", 1), Slot(80, 6, "run", 1)]
    both = columns("Cmaj7|Am7 Bb7alt|Fmaj7", late)[1]
    assert open_classes(both) <= read("Am7").wide & read("Bb7alt").wide
    held = [Slot(30, 6, "run", 1), Slot(42, 18, "run", 1), Slot(66, 6, "run", 1)]
    assert open_classes(columns("Cmaj7|Ab7|Gm7", held)[1]) <= read("Ab7").wide


def test_approaches_are_short_and_neither_last_nor_held_over_a_change():
    """At 160 bpm an approach note lasts at most two thirds of a beat (250 ms); the last note of a
    line and one held over a change are none."""
    slots = [
        Slot(0, 8, "run", 1),
        Slot(12, 9, "run", 1),
        Slot(42, 9, "run", 1),
        Slot(54, 6, "run", 1),
        Slot(66, 6, "run", 1),
    ]
    open_ways = [column.approach.min() < FORBIDDEN for column in columns("Cmaj7|Ab7|Gm7", slots)]
    assert open_ways == [True, False, False, True, False]
