"""Published statistics of human soloists: the figures the replies are held against.

208 solos in swing feel (swing, bebop, cool, hard bop; 4/4; 150 notes and more) of the Weimar Jazz
Database (Pfleiderer, Frieler, Abeßer, Zaddach, Burkhart (eds.) 2017, *Inside the Jazzomat*;
database under ODbL 1.0): derived figures only. There are none for waltz, ballad or even eighths.
"""

from __future__ import annotations

Spread = tuple[float, float, float]
"""5th percentile, median and 95th percentile over solos."""

SPREAD: dict[str, Spread] = {
    "role chord %, all notes": (44.3, 51.7, 60.6),
    "role tension %, all notes": (18.9, 25, 31),
    "role altered %, all notes": (2.6, 6.7, 13.6),
    "role other %, all notes": (9.6, 15.3, 22.4),
    "chord tone or available/altered tension %, beat 1": (72.3, 87.5, 100),
    "chord tone %, beat 1": (37.6, 60, 77.2),
    "chord tone or available/altered tension %, beat 3": (69.2, 88.1, 100),
    "chord tone %, beat 3": (33.3, 52.1, 70.9),
    "chord tone or available/altered tension %, beats 2, 4": (74.4, 86.2, 95.3),
    "chord tone %, beats 2, 4": (39.4, 54.6, 68.9),
    "chord tone or available/altered tension %, off-beat 8th": (73.7, 84.1, 91.3),
    "chord tone %, off-beat 8th": (39.5, 50.5, 61.8),
    "interval repeat %": (0.3, 3.5, 12.7),
    "interval step (1-2) %": (40.8, 57.5, 70.5),
    "interval third (3-4) %": (17.2, 26.1, 37.3),
    "interval larger %": (5, 11.1, 19.4),
    "interval up %": (38.8, 45.6, 53.8),
    "interval down %": (40.4, 49.6, 57.5),
    "direction runs of 1 interval %": (38.2, 53.7, 70.1),
    "direction runs of 4+ intervals %": (6.7, 14.7, 25.1),
    "notes per phrase, median": (8.7, 15, 30.3),
    "beats per phrase, median": (3.2, 7.8, 16.6),
    "rest between phrases (last onset to next), beats, median": (1.6, 2.9, 5.2),
    "phrases that start off the beat %": (34.4, 67.6, 94.6),
    "phrases that end off the beat %": (34.1, 57.1, 83.8),
    "last note chord tone %": (41.4, 68.8, 86.9),
    "last note chord tone or tension %": (75, 92, 100),
    "last note root %": (6, 22.8, 48.5),
    "last note 3rd (b3, 3) %": (0, 15.4, 33),
    "last note 5th %": (1.3, 18, 36.4),
    "last note 7th (b7, 7) %": (0, 10.6, 30),
    "last note 9th %": (0, 5.4, 20),
    "beats inside a phrase with 0 notes %": (0, 6.1, 18.5),
    "beats inside a phrase with 1 notes %": (5, 23, 44.4),
    "beats inside a phrase with 2 notes %": (10.4, 43.5, 68.7),
    "beats inside a phrase with 3 notes %": (3.1, 11.8, 30.2),
    "beats inside a phrase with 4 notes %": (0, 2.7, 33.8),
    "onsets on the beat %": (17.2, 36, 48.6),
    "onsets at the eighth (5-8 twelfths) %": (26.7, 35, 44.1),
    "range per phrase, semitones, median": (10, 13.8, 18.3),
    "first note at a chord change: chord tone %": (35.8, 53.3, 71.6),
    "first note at a chord change: strong %": (71, 84.7, 95.9),
    "into that note by 1-2 semitones %": (33.3, 59.5, 76.1),
    "3-note interval patterns that recur transposed in the solo %": (58.5, 79.7, 90.4),
    "4-note interval patterns that recur transposed in the solo %": (13.9, 40.4, 61.9),
    "5-note interval patterns that recur transposed in the solo %": (2, 15.2, 35.3),
    "phrases (6+ notes) holding an immediate sequence, loosely %": (28.1, 60, 90.6),
    "same, exactly %": (0, 22.2, 56.4),
    "interval <= -13": (0, 0, 0.5),
    "interval -12": (0, 0, 0.7),
    "interval -11": (0, 0, 0.3),
    "interval -10": (0, 0, 0.6),
    "interval -9": (0, 0.3, 1.3),
    "interval -8": (0, 0.3, 1.4),
    "interval -7": (0, 0.6, 2.5),
    "interval -6": (0, 0.6, 2),
    "interval -5": (0.8, 2.7, 5.2),
    "interval -4": (1.8, 4.7, 9.1),
    "interval -3": (5.1, 8.7, 14.5),
    "interval -2": (8.9, 16.2, 22.1),
    "interval -1": (6.1, 13.2, 22.6),
    "interval +0": (0.3, 3.5, 12.7),
    "interval +1": (7.3, 14.8, 22.1),
    "interval +2": (5.9, 11.8, 19.5),
    "interval +3": (5.2, 8.9, 13.6),
    "interval +4": (1.1, 3.5, 6.9),
    "interval +5": (0.7, 2.6, 5.3),
    "interval +6": (0, 0.5, 1.5),
    "interval +7": (0, 1, 3),
    "interval +8": (0, 0.4, 1.4),
    "interval +9": (0, 0.3, 1.4),
    "interval +10": (0, 0, 0.9),
    "interval +11": (0, 0, 0.6),
    "interval +12": (0, 0, 0.7),
    "interval >= 13": (0, 0, 0.4),
}

SWING: dict[str, Spread] = {
    "40-79": (0.89, 1.15, 2.06),
    "80-119": (0.94, 1.37, 1.92),
    "120-159": (1.05, 1.32, 1.79),
    "160-199": (1.05, 1.31, 1.65),
    "200-239": (1, 1.23, 1.54),
    "240-279": (1, 1.2, 1.46),
    "280-319": (0.93, 1.14, 1.44),
    "320-359": (0.75, 0.95, 1.21),
    "360-399": (0.83, 1.12, 1.36),
}
"""By tempo in bpm: 25th percentile, median and 75th of the swing ratio, all pairs pooled."""

DENSITY: dict[str, float] = {
    "100-139": 2.31,
    "140-179": 1.92,
    "180-219": 1.7,
    "220-259": 1.61,
    "0-99": 3.56,
    "260-999": 1.63,
}
"""By tempo in bpm: notes a beat inside phrases, mean."""

DEGREE_NAMES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
DEGREES: dict[str, tuple[float, ...]] = {
    "all": (14.5, 4.2, 10.3, 7.5, 9.2, 8.7, 4, 14.3, 4.4, 8.3, 9.2, 5.4),
    "first": (16, 4.4, 9.5, 7.4, 7.6, 7.9, 5, 16.6, 4.4, 7.4, 7.8, 6),
    "last": (24.5, 2.1, 6.9, 7.1, 9.4, 7.5, 2.9, 18.8, 2.2, 7.6, 8.4, 2.7),
    "change": (15.6, 4.4, 9.5, 8, 9.9, 8.5, 3.9, 15.4, 4.5, 7.2, 8.5, 4.7),
}
"""Pooled shares in percent of the degrees above the root, by place."""

QUARTERS: tuple[tuple[float, ...], ...] = (
    (50.7, 25.2, 7.1, 17),
    (50.5, 25.6, 7.4, 16.5),
    (50.6, 25.4, 7.9, 16.2),
    (55.8, 23.6, 6.5, 14.1),
)
"""Pooled shares in percent of chord tones, tensions, altered and other notes in each quarter of a
phrase."""
