"""What a note may be where it stands: the hard rules as forbidden entries, by chord symbol."""

from __future__ import annotations

import numpy as np
import pytest
from audit.chords import read
from soloist_asking import ROOTS, STYLES, SUFFIXES, in_bars, plain_request

from jam.harmony.keys import parse_key
from jam.players.soloist.costs import Pricing
from jam.players.soloist.lattice import FORBIDDEN, Costs
from jam.players.soloist.places import places
from jam.players.soloist.slots import TICKS, Slot

LOW = STYLES["bop"].instrument.low


def priced(symbols: str, slots: list[Slot], **changed: object) -> Costs:
    """Return the costs of a line over bars of changes from beat 0 on."""
    request = plain_request(changes=in_bars(symbols), key=parse_key("F major"), **changed)
    where = places(request, slots)
    middle = np.full(len(slots), 66.0)
    return Pricing(request).price(slots, where, middle, [2] * len(slots)).costs


def open_classes(costs: Costs, slot: int) -> set[int]:
    """Return the pitch classes that may stand by themselves in a slot."""
    return {(LOW + i) % 12 for i, cost in enumerate(costs.free[slot]) if cost < FORBIDDEN}


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_only_strong_degrees_stand_by_themselves(suffix):
    """Off the changes and out of a blues all chord tones are open, and no degree that every school
    of harmony calls weak."""
    for root in ROOTS[::5]:
        slots = [Slot(6 * n, 6, "run", 1, n) for n in range(5)]
        costs = priced(f"{root}{suffix}|{root}{suffix}", slots)
        sound = read(root + suffix)
        found = open_classes(costs, 2)
        assert found <= sound.wide
        assert sound.tones <= found


def test_an_approach_has_no_way_to_a_blue_note():
    """In a blues the blue notes stand by themselves, but nothing resolves into one that is no
    strong degree."""
    slots = [Slot(6 * n, 6, "run", 1, n) for n in range(6)]
    costs = priced("F6|F6|Gm7", slots, blues=True)
    strong = read("F6").wide
    blue = open_classes(costs, 3) - strong
    # b3, b5 and b7 of F, less the b5, which is the #11 of F6: Ab, Eb.
    assert blue == {8, 3}
    closed = {(LOW + i) % 12 for i, cost in enumerate(costs.resolving[3]) if cost >= FORBIDDEN}
    assert closed == blue


def test_the_note_at_a_change_is_judged_by_the_change():
    """The first note after a change is strong on it, also where it reaches over to the next; a
    note held over a change is strong on what comes."""
    on_change = [Slot(42, 3, "run", 1), Slot(48, 6, "run", 1), Slot(60, 6, "run", 1)]
    assert open_classes(priced("Cmaj7|Ab7|Gm7", on_change), 1) <= read("Ab7").wide
    late = [Slot(30, 6, "run", 1), Slot(48 + TICKS, 18, "run", 1), Slot(80, 6, "run", 1)]
    both = priced("Cmaj7|Am7 Bb7alt|Fmaj7", late)
    assert open_classes(both, 1) <= read("Am7").wide & read("Bb7alt").wide
    held = [Slot(30, 6, "run", 1), Slot(42, 18, "run", 1), Slot(66, 6, "run", 1)]
    assert open_classes(priced("Cmaj7|Ab7|Gm7", held), 1) <= read("Ab7").wide


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
    costs = priced("Cmaj7|Ab7|Gm7", slots)
    open_ways = [bool((table < FORBIDDEN).any()) for table in costs.approach]
    assert open_ways == [True, False, False, True, False]


MATERIALS = {
    # Guide tones: 3 and 7; triad and seventh: the chord's own tones (common practice).
    "guide tones": {"G7": {11, 5}, "Cmaj7": {4, 11}, "Dm7": {5, 0}},
    "chord tones": {"G7": {7, 11, 2, 5}, "Cmaj7": {0, 4, 7, 11}, "Dm7": {2, 5, 9, 0}},
}


@pytest.mark.parametrize("material", sorted(MATERIALS))
def test_a_level_of_material_opens_its_degrees_and_no_others(material):
    """Guide tones are 3 and 7, chord tones 1 3 5 7; neither level passes."""
    style = STYLES["bop"].model_copy(update={"material": material})
    slots = [Slot(6 * n, 6, "run", 1, n) for n in range(6)]
    for symbol, classes in MATERIALS[material].items():
        costs = priced(f"{symbol}|{symbol}", slots, style=style)
        assert open_classes(costs, 2) == classes
        assert costs.approach.min() >= FORBIDDEN


def test_what_another_chord_would_make_weak_costs_more():
    """Where Fmaj7 may come instead of G7, notes that are weak on it are dearer, by how likely it
    is; the others cost what they did."""
    slots = [Slot(6 * n, 6, "run", 1, n) for n in range(6)]
    plain = priced("G7|G7", slots).free[2]
    other = ((0.5, in_bars("Fmaj7|Fmaj7")),)
    doubted = priced("G7|G7", slots, alternatives=other).free[2]
    strong = read("Fmaj7").wide
    for index, (before, after) in enumerate(zip(plain, doubted, strict=True)):
        if before < FORBIDDEN:
            assert (after > before) == ((LOW + index) % 12 not in strong)
