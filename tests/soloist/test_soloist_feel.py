"""Time feel, dynamics and lengths: a soloist's, not the cymbal's.

Sources. Friberg & Sundström 2002, Music Perception 19(3), 333-349: soloists swing narrower than
the ride cymbal, below 2:1 at medium tempi, the ratio falling with tempo; their downbeats come
after the cymbal's, their off-beats together with it. Corcoran & Frieler 2021, Music Perception
38(4): most soloists near 1.3:1. Nelias et al. 2022, Communications Physics 5: downbeats about 30 ms
late. Medians by tempo: Weimar Jazz Database (Pfleiderer et al. 2017, ODbL 1.0).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from soloist_asking import STYLES

from jam.players.soloist.feel import MOST_LATE_BEATS, lateness_sec, perform, soloist_swing
from jam.players.soloist.habits import PEOPLE
from jam.players.soloist.slots import TICKS, Slot
from jam.styles.profile import Style
from jam.transport.swing import cymbal_ratio, swing_beat

TEMPI = range(100, 301, 10)
MEDIANS = {100: 1.37, 140: 1.32, 180: 1.31, 220: 1.23, 260: 1.20, 300: 1.14}
"""Soloists' median ratio by tempo: Weimar Jazz Database."""


STEADY = replace(
    PEOPLE, swing=np.full((4, 21), 1.3), early_late=np.zeros((4, 4, 21)), sounding=PEOPLE.sounding
)
"""Habits of somebody who never strays."""


def with_feel(style: Style, **changes: float) -> Style:
    """Return the style with parts of its feel changed."""
    return style.model_copy(update={"feel": style.feel.model_copy(update=changes)})


def still(style: Style) -> Style:
    """Return the style without its random scatter."""
    return with_feel(style, scatter_ms=0.0, ghosts=0.0)


def played(
    slots, style, bpm=160.0, feel="swing", heard=None, pitches=None, roles=None, pulse=1.0,
    idiom=STEADY, seed=1, spread=None,
):  # fmt: skip
    """Return how a line sounds, all on one pitch unless said otherwise."""
    return perform(
        slots,
        pitches or [60] * len(slots),
        roles or ["chord tone"] * len(slots),
        style=style,
        bpm=bpm,
        feel=feel,
        pulse_beats=pulse,
        heard_velocity=heard,
        rng=np.random.default_rng(seed),
        idiom=idiom,
        heard_spread=spread,
    )


EIGHTHS = [Slot(6 * n, 6, "run", 1, n) for n in range(16)]


@pytest.mark.parametrize("name", sorted(STYLES))
def test_swing_falls_with_tempo_and_stays_below_the_cymbal(name):
    """From 100 to 300 bpm the ratio never grows, lies between 1 and 2, and up to 240 bpm it is
    narrower than the band's."""
    ratios = [soloist_swing(STYLES[name], bpm, "swing") for bpm in TEMPI]
    assert all(a >= b for a, b in pairwise(ratios))
    assert all(1.0 <= ratio <= 2.0 for ratio in ratios)
    for bpm, ratio in zip(TEMPI, ratios, strict=True):
        assert bpm > 240 or ratio < cymbal_ratio(bpm)


def test_a_style_near_the_median_swings_like_people():
    """A style set to people's median at 160 bpm (1.315) is within 0.02 of theirs at every tempo."""
    style = STYLES["bop"]
    feel = style.feel.model_copy(update={"swing": 1.315})
    style = style.model_copy(update={"feel": feel})
    for bpm, median in MEDIANS.items():
        assert soloist_swing(style, bpm, "swing") == pytest.approx(median, abs=0.02)


@pytest.mark.parametrize("name", sorted(STYLES))
@pytest.mark.parametrize("bpm", [60, 100, 140, 180, 240, 300])
def test_downbeats_are_late_and_off_beats_are_not(name, bpm):
    """Notes on the beat come 0 to 50 ms late, all by the same; off-beats fall exactly where the
    soloist's swing puts them."""
    style = still(STYLES[name])
    ratio = soloist_swing(style, bpm, "swing")
    late = lateness_sec(style, bpm, "swing")
    assert 0.0 < late <= 0.05
    for slot, sound in zip(EIGHTHS, played(EIGHTHS, style, bpm), strict=True):
        behind = (sound.beat - swing_beat(slot.beat, ratio)) * 60.0 / bpm
        assert behind == pytest.approx(0.0 if slot.tick % TICKS else late, abs=1e-9)


@pytest.mark.parametrize("name", sorted(STYLES))
def test_lateness_shrinks_as_it_gets_faster(name):
    """The faster, the less late in seconds."""
    times = [lateness_sec(STYLES[name], bpm, "swing") for bpm in TEMPI]
    assert all(a >= b for a, b in pairwise(times))
    assert times[-1] < times[0]


@pytest.mark.parametrize("name", sorted(STYLES))
def test_straight_is_straight(name):
    """In a straight feel the ratio is 1, and off-beats fall in the middle of the beat."""
    assert all(soloist_swing(STYLES[name], bpm, "straight") == 1.0 for bpm in TEMPI)
    sounds = played(EIGHTHS, still(STYLES[name]), feel="straight")
    for slot, sound in zip(EIGHTHS, sounds, strict=True):
        if slot.tick % TICKS:
            assert sound.beat == pytest.approx(slot.beat)


def test_triplets_and_sixteenths_do_not_swing():
    """Triplets stay thirds of a beat; an off-beat among sixteenths stays in the middle."""
    style = still(STYLES["rolling"])
    triplets = [Slot(4 * n, 4, "run", 1, n) for n in range(6)]
    sixteenths = [Slot(3 * n, 3, "run", 1, n) for n in range(8)]
    for slots in (triplets, sixteenths):
        for slot, sound in zip(slots, played(slots, style), strict=True):
            if slot.tick % TICKS:
                assert sound.beat == pytest.approx(slot.beat)


@pytest.mark.parametrize("name", sorted(STYLES))
@pytest.mark.parametrize("bpm", [55, 100, 160, 220, 320])
def test_notes_sound_one_at_a_time_and_near_their_place(name, bpm):
    """Whatever the rhythm, no note sounds into the next or past its own end, all sound, and none
    is moved by a quarter of a beat; velocities are those of MIDI 1.0 notes (1 to 127)."""
    for seed in range(10):
        rng = np.random.default_rng((seed, bpm))
        gaps = rng.choice([2, 3, 4, 6, 6, 12, 18], 30)
        ticks = np.cumsum(gaps)
        slots = [
            Slot(int(tick), int(rng.integers(2, gap + 1)), "run", 1)
            for tick, gap in zip(ticks, gaps[1:], strict=False)
        ]
        pitches = [int(p) for p in rng.integers(50, 80, len(slots))]
        heard = float(rng.integers(1, 128))
        style = with_feel(STYLES[name], human=1.0, swing=2.0)
        sounds = played(slots, style, bpm, heard=heard, pitches=pitches, idiom=None, seed=seed)
        for slot, sound in zip(slots, sounds, strict=True):
            assert -0.2 <= sound.beat - slot.beat <= MOST_LATE_BEATS + 1e-9 < 0.25
            assert sound.beats > 0.0
            assert 1 <= sound.velocity <= 127
        assert sounds[-1].beat + sounds[-1].beats <= slots[-1].end / TICKS + 0.25
        for sound, following in pairwise(sounds):
            assert sound.beat + sound.beats <= following.beat + 1e-9


def test_accents_lie_off_the_beat_and_on_tops():
    """Off-beats are louder than beats, a contour's top louder than its foot, and approach notes
    softer than chord tones (accents of bebop lines: common practice)."""
    style = still(STYLES["bop"])
    plain = played(EIGHTHS, style)
    assert np.mean([s.velocity for s in plain[1::2]]) > np.mean([s.velocity for s in plain[::2]])
    wave = [60, 64, 67, 64] * 4
    waved = [s.velocity for s in played(EIGHTHS, style, pitches=wave)]
    assert np.mean(waved[2::4]) > np.mean(waved[0::4])
    roles = ["chord tone", "approach"] * 8
    told = [s.velocity for s in played(EIGHTHS, style, roles=roles)]
    assert all(a < b.velocity for a, b in zip(told[1::2], plain[1::2], strict=True))


def test_dynamics_mirror_the_player():
    """Answering a loud call it plays louder than answering a soft one, the more the style mirrors;
    a style that does not mirror plays the same."""
    gains = []
    for mirror in (0.0, 0.5, 1.0):
        dynamics = STYLES["bop"].dynamics.model_copy(update={"mirror": mirror})
        style = STYLES["bop"].model_copy(update={"dynamics": dynamics})
        loud, soft = (
            np.mean([s.velocity for s in played(EIGHTHS, style, heard=heard)])
            for heard in (110.0, 50.0)
        )
        gains.append(loud - soft)
    assert gains[0] == 0
    assert 0 < gains[1] < gains[2]


def test_the_eighths_of_a_dotted_pulse_do_not_swing():
    """In 12/8 every eighth sounds where it is written; only the pulse lies behind."""
    style = still(STYLES["bop"])
    notes = played(EIGHTHS, style, pulse=1.5)
    for slot, note in zip(EIGHTHS, notes, strict=True):
        if slot.tick % 18:
            assert note.beat == pytest.approx(slot.beat)
        else:
            assert slot.beat <= note.beat <= slot.beat + 0.2
