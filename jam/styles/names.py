"""The words a style may use for moves, figures and degrees, with how usual each is.

*Moves* are what a reply does with the player's idea; *figures* are what its free stretches are
made of. Each has a line that says what one hears; the weight beside it is the one that counts
where a style says nothing. Names and their order are fixed: learnt files and logs use them.

Degrees are written as musicians write them. A plain number is the chord's own degree where the
chord has it: ``3`` is the minor third over a minor chord, ``7`` the flat seventh over a dominant.
A sign fixes the distance from the root: ``b9``, ``#11``. Two octaves of numbers (1 to 13) name
the same seven letters twice (2 is 9, 4 is 11, 6 is 13): the common practice of chord symbols.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

MoveName = Literal[
    "restate",
    "sequence",
    "real_sequence",
    "same_rhythm",
    "same_pitches",
    "invert",
    "retrograde",
    "displace",
    "augment",
    "diminish",
    "fragment",
    "extend",
    "interpolate",
    "answer",
    "quote",
    "contrast",
    "leave_space",
]

FigureName = Literal[
    "arpeggio",
    "upper_triad",
    "broken_chord",
    "bebop_scale",
    "scale_run",
    "thirds",
    "enclosure",
    "chromatic_run",
    "digital",
    "side_step",
    "substitute",
    "altered",
    "diminished",
    "whole_tone",
    "melodic_minor",
    "blues_lick",
    "riff",
    "pedal",
    "turn",
    "leap_and_fill",
]

MOVES: tuple[str, ...] = get_args(MoveName)
"""The moves of a conversation a style may weigh."""

FIGURES: tuple[str, ...] = get_args(FigureName)
"""The figures of the vocabulary a style may weigh."""

MOVES_HEARD: Mapping[str, str] = {
    "restate": "your idea again, on the chord that sounds now",
    "sequence": "its shape again higher or lower, bent to stay in the key",
    "real_sequence": "its shape again higher or lower, every interval exact",
    "same_rhythm": "its rhythm with other pitches",
    "same_pitches": "its pitches in another rhythm",
    "invert": "its shape turned upside down",
    "retrograde": "its notes from the last to the first",
    "displace": "the idea moved against the beat, by an eighth or a beat",
    "augment": "the idea in longer notes",
    "diminish": "the idea in shorter notes",
    "fragment": "only its head or its tail",
    "extend": "the idea with notes added at its end",
    "interpolate": "the idea with passing notes between its own",
    "answer": "an open end is closed, a closed one opened: question and answer",
    "quote": "something you said earlier comes back",
    "contrast": "the opposite of what you did: low for high, few notes for many",
    "leave_space": "a breath where the idea could have gone on",
}
"""What one hears of each move."""

FIGURES_HEARD: Mapping[str, str] = {
    "arpeggio": "chords broken upwards or down, from 3, 5 or 7 into the tensions",
    "upper_triad": "a plain triad of tensions above the chord",
    "broken_chord": "chord tones in zigzag or inversion, not one after the other",
    "bebop_scale": "scales with one passing note more, so that chord tones fall on the beats",
    "scale_run": "runs along the scale of the chord",
    "thirds": "the scale in broken thirds",
    "enclosure": "a target circled from above and below before it sounds",
    "chromatic_run": "half steps in a row between two strong degrees",
    "digital": "patterns of degrees such as 1 2 3 5, set on each chord",
    "side_step": "a short trip out of the chord, a step aside and back",
    "substitute": "another chord laid over the one that sounds, as its tritone substitute",
    "altered": "b9 #9 b13 on dominants",
    "diminished": "half and whole steps in turn on dominants, diminished chords broken",
    "whole_tone": "whole steps and augmented triads on dominants",
    "melodic_minor": "the sound of melodic minor over minor chords and altered dominants",
    "blues_lick": "short blues figures with b3, b5 and b7",
    "riff": "one short figure said again and again while the chords move on",
    "pedal": "one note held or struck again while the harmony passes",
    "turn": "a note circled by its neighbours and come back to",
    "leap_and_fill": "a wide leap, then steps back into the gap",
}
"""What one hears of each figure."""

USUAL_MOVES: Mapping[str, float] = {
    "restate": 0.5,
    "sequence": 0.7,
    "real_sequence": 0.2,
    "same_rhythm": 0.5,
    "same_pitches": 0.3,
    "invert": 0.3,
    "retrograde": 0.1,
    "displace": 0.4,
    "augment": 0.2,
    "diminish": 0.2,
    "fragment": 0.5,
    "extend": 0.5,
    "interpolate": 0.3,
    "answer": 0.5,
    "quote": 0.3,
    "contrast": 0.2,
    "leave_space": 0.3,
}
"""The weight of each move where a style does not name it."""

USUAL_FIGURES: Mapping[str, float] = {
    "arpeggio": 0.5,
    "upper_triad": 0.2,
    "broken_chord": 0.3,
    "bebop_scale": 0.4,
    "scale_run": 0.5,
    "thirds": 0.2,
    "enclosure": 0.4,
    "chromatic_run": 0.2,
    "digital": 0.3,
    "side_step": 0.05,
    "substitute": 0.1,
    "altered": 0.3,
    "diminished": 0.2,
    "whole_tone": 0.05,
    "melodic_minor": 0.2,
    "blues_lick": 0.2,
    "riff": 0.1,
    "pedal": 0.1,
    "turn": 0.3,
    "leap_and_fill": 0.3,
}
"""The weight of each figure where a style does not name it."""

DEGREES: tuple[str, ...] = (
    *("1", "b2", "2", "b3", "3", "4", "#4", "b5", "5", "#5", "b6", "6", "b7", "7"),
    *("b9", "9", "#9", "11", "#11", "b13", "13"),
)
"""Every spelling of a degree that a style may use."""
