"""Styles differ by measure, not by name: density, tensions, leaps, triplets, range."""

from __future__ import annotations

from functools import cache
from itertools import combinations, pairwise

import numpy as np
import pytest
from soloist_asking import STYLES, in_bars, plain_request, random_call

from jam.harmony.keys import parse_key
from jam.players.soloist.soloist import answer
from jam.transport.metre import Bars

PROGRESSIONS = (
    ("Cmaj7|A7|Dm7|G7|Cmaj7|A7|Dm7|G7|Cmaj7", "C major"),
    ("Cm7|Cm7|Fm7|Bb7|Ebmaj7|Abmaj7|Dm7b5|G7|Cm7", "C minor"),
    ("Dm7|Dm7|Dm7|Dm7|Ebm7|Ebm7|Dm7|Dm7|Dm7", "D minor"),
)
CALLS = 90
# A difference that a listener may notice, about the spread of people's own solos: notes a beat;
# shares of notes or of beats; semitones.
MARGINS = {"density": 0.25, "tensions": 0.06, "leaps": 0.05, "triplets": 0.08, "range": 3.0}
FOUR = ("bop", "tangle", "modal", "sparse")


@cache
def measures(style: str) -> dict[str, float]:
    """Return the style's means over a fixed set of calls.

    *density*: notes a beat from first onset to last release; *tensions*: share of strong notes
    that are no chord tones; *leaps*: share of intervals of a fourth or more; *triplets*: share of
    beats with notes that have one on a third of the beat; *range*: semitones from the lowest
    note to the highest.
    """
    rows = []
    for seed in range(CALLS):
        symbols, key = PROGRESSIONS[seed % len(PROGRESSIONS)]
        request = plain_request(
            style=STYLES[style],
            changes=in_bars(symbols, start=-8.0, key=key),
            key=parse_key(key),
            call=random_call(np.random.default_rng((seed, 9)), -0.5, Bars()),
            seed=(seed, 2),
        )
        notes = answer(request).notes
        beats = {int(n.beat) for n in notes}
        thirds = {int(n.beat) for n in notes if round(n.beat % 1 * 12) in (4, 8)}
        pitches = [n.pitch for n in notes]
        strong = [n for n in notes if n.role in ("chord tone", "tension")]
        rows.append(
            {
                "density": len(notes) / (notes[-1].beat + notes[-1].beats - notes[0].beat),
                "tensions": sum(n.role == "tension" for n in strong) / len(strong),
                "leaps": float(np.mean([abs(b - a) >= 5 for a, b in pairwise(pitches)])),
                "triplets": len(thirds) / len(beats),
                "range": max(pitches) - min(pitches),
            }
        )
    return {name: float(np.mean([row[name] for row in rows])) for name in MARGINS}


@pytest.mark.slow
@pytest.mark.parametrize(("one", "other"), list(combinations(FOUR, 2)))
def test_each_pair_of_four_styles_differs(one, other):
    """Any two of bop, tangle, modal and sparse differ by a stated margin in two measures at
    least, over the same calls."""
    a, b = measures(one), measures(other)
    differing = [name for name in MARGINS if abs(a[name] - b[name]) >= MARGINS[name]]
    assert len(differing) >= 2, (a, b)


@pytest.mark.slow
def test_styles_stand_where_their_files_put_them():
    """What a style file asks for is what is played: sparse has the fewest notes (but for guide
    tones alone) and tangle the most, rolling the most triplets, modal a wider range than lyrical
    and more tensions and leaps
    than bop; guide tones alone hold no tension."""
    found = {style: measures(style) for style in STYLES}
    assert min(found.keys() - {"teacher"}, key=lambda s: found[s]["density"]) == "sparse"
    assert max(found, key=lambda s: found[s]["density"]) == "tangle"
    assert max(found, key=lambda s: found[s]["triplets"]) == "rolling"
    assert found["modal"]["range"] > found["lyrical"]["range"] + MARGINS["range"] / 2
    assert found["modal"]["tensions"] > found["bop"]["tensions"] + MARGINS["tensions"]
    assert found["modal"]["leaps"] > found["bop"]["leaps"] + MARGINS["leaps"]
    assert found["teacher"]["tensions"] == 0.0
