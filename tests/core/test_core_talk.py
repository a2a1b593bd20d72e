"""The conversation: replies begin in time, wait for the player, and end on nobody's toes."""

from __future__ import annotations

from itertools import pairwise

import pytest
from sessions import Run, chord, key, line, note, play, setup, tune

from jam.charts.model import RoadMap
from jam.core.setup import Turns
from jam.events import MidiIn, Revoke

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
FREE = Turns("free")


def onsets(run: Run) -> list[float]:
    """Return the beats on which the companion's notes went out, at 120 bpm."""
    return [2.0 * t for t, _, _ in run.sounded()]


def ends(run: Run) -> list[float]:
    """Return the beats on which they ended."""
    return [2.0 * end for _, end, _ in run.sounded()]


def called(run: Run) -> list[list[float]]:
    """Return the beats of the notes of each call."""
    return [[n["beat"] for n in record["notes"]] for record in run.of("call")]


# --- beginning -----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_a_reply_begins_within_a_beat_of_its_turn(seed: int) -> None:
    """When the player is done, a reply is planned before its turn and begins a beat after it at
    the latest, a pickup of a pulse before it at the earliest."""
    run = play(setup(seed=seed), line(8, 14.5), until=14.0)
    assert run.replies[0]["at"] < 8.0
    assert 15.0 - 0.1 <= onsets(run)[0] <= 17.1


@pytest.mark.parametrize("until", [16.5, 17.5, 19.0, 21.5])
def test_the_player_who_goes_on_is_waited_for(until: float) -> None:
    """The companion begins when the phrase has ended: after a rest, and not long after it."""
    run = play(setup(), line(8, until), until=15.0)
    released = max(m.t for m in line(8, until)) * 2.0
    assert released + 0.5 <= onsets(run)[0] <= released + 3.0
    assert called(run)[-1][-1] == pytest.approx(until - 0.5)


def test_a_short_rest_just_before_the_turn_will_do() -> None:
    """A player who stops right before the companion's turn does not make it late: the reply is
    planned in time, and could be taken back."""
    runs = [play(setup(seed=seed), line(8, 15.3), until=14.0) for seed in range(4)]
    assert all(run.replies[0]["at"] < 8.0 for run in runs)
    # One that leaves space begins two beats later at most.
    assert all(onsets(run)[0] <= 19.1 for run in runs)
    assert min(onsets(run)[0] for run in runs) <= 17.1


def test_a_short_rest_in_the_turn_is_not_enough() -> None:
    """Notes a beat apart that reach into the companion's turn are one phrase."""
    detached = [m for beat in (13.2, 14.2, 15.2, 16.2, 17.2, 18.2) for m in note(beat, 0.4, 64)]
    run = play(setup(), detached, until=15.0)
    assert onsets(run)[0] >= 19.0


def test_a_reply_is_taken_back_when_the_player_goes_on() -> None:
    """A player who only seemed to be done makes the reply go; log and port agree on it."""
    run = play(setup(), [*line(8, 14.5), *line(15.2, 18.0)], until=17.0)
    withdrawn = [r for r in run.of("reply") if "replans" in r and not r["notes"]]
    first = run.replies[0]
    assert withdrawn
    assert withdrawn[0]["replans"] == first["id"]
    assert withdrawn[0]["from_beat"] <= first["notes"][0]["beat"]
    sent = {message.note for message in run.sent if message.part == "companion"}
    assert not sent & {n["id"] for n in first["notes"]}
    assert sent == {n["id"] for n in run.spoken()}
    assert [r["answers"] for r in run.replies][-1] == run.of("call")[-1]["id"]


def test_a_taken_back_reply_has_taken_nothing_with_it() -> None:
    """The call that is answered in the end is the whole of it, from its first note."""
    run = play(setup(), [*line(8, 14.5), *line(15.2, 18.0)], until=15.0)
    assert called(run)[-1][0] == 8.0
    assert called(run)[-1][-1] > 17.0


def test_notes_on_their_way_are_revoked() -> None:
    """Handed over already, a reply is still taken back before it sounds."""
    run = play(setup(horizon_sec=1.0), [*line(8, 14.5), *line(15.2, 18.0)], until=9.0)
    assert [command for _, command in run.commands if isinstance(command, Revoke)]
    assert run.refused == 0


def test_a_key_just_before_the_first_note_holds_the_reply_back() -> None:
    """A reply does not begin in the moment in which a fresh key may be line or chord."""
    first = play(setup(), line(8, 14.5), until=14.0).sent
    begins = next(m.t for m in first if m.part == "companion")
    pressed = [key(begins - 0.02, 60), key(begins + 0.4, 60, 0)]
    run = play(setup(), [*line(8, 14.5), *pressed], until=14.0)
    assert onsets(run)[0] > 2.0 * (begins + 0.4)


@pytest.mark.parametrize("ahead_sec", [0.0, 0.01, 0.02, 0.03, 0.038])
@pytest.mark.parametrize("seed", range(4))
def test_a_chord_just_before_the_first_note_delays_it_by_a_moment(
    seed: int, ahead_sec: float
) -> None:
    """Until it is known for a chord; then the reply is played as it was planned."""
    plain = play(setup(seed=seed), line(8, 14.5), until=14.0)
    begins = plain.sounded()[0][0]
    comping = chord(2.0 * (begins - ahead_sec), 1.0, (48, 55, 59, 64))
    run = play(setup(seed=seed), [*line(8, 14.5), *comping], until=14.0)
    assert [p for _, _, p in run.sounded()] == [p for _, _, p in plain.sounded()]
    assert run.sounded()[1:] == plain.sounded()[1:]
    assert begins <= run.sounded()[0][0] <= begins - ahead_sec + 0.06
    assert run.sounded()[0][1] == plain.sounded()[0][1]
    assert next(n["t"] for n in run.spoken()) == pytest.approx(run.sounded()[0][0], abs=1e-4)
    assert len(run.replies) == 1


def test_phrases_end_by_keys_not_by_the_damper() -> None:
    """A damper that is held down (controller 64) does not hold the companion up."""
    pedal = [MidiIn(4.0, "player", (0xB0, 64, 127)), MidiIn(12.0, "player", (0xB0, 64, 0))]
    plain = play(setup(), line(8, 14.5), until=14.0)
    pedalled = play(setup(), [*line(8, 14.5), *pedal], until=14.0)
    assert plain.commands == pedalled.commands


def test_a_key_that_is_held_is_a_phrase_that_goes_on() -> None:
    """As long as a key is down the companion waits."""
    run = play(setup(), [*line(8, 14.5), *note(14.5, 5.0, 67)], until=15.0)
    assert onsets(run)[0] >= 20.0


def test_a_turn_without_room_is_let_go_by() -> None:
    """With less than two beats left of its turn the companion waits for the next one, and answers
    what was said since then."""
    run = play(setup(), [*line(8, 31), *line(40, 46)], until=28.0)
    assert min(onsets(run)) >= 47.0
    assert called(run)[-1][0] >= 31.0


def test_an_empty_call_is_answered_from_the_stock() -> None:
    """When nothing was played, the companion plays a phrase of its style, and says so."""
    run = play(setup(), until=14.0)
    assert not run.of("call")
    assert run.replies[0]["answers"] is None
    assert "three up" in run.replies[0]["idea"]


def test_two_hands_comping_are_no_line() -> None:
    """Three keys together, struck in the companion's turn, neither stop it nor become a call."""
    comping = [m for beat in (15.6, 17, 18.5, 20, 24) for m in chord(beat, 1, (48, 55, 59, 64))]
    plain = play(setup(chart=LONG), line(8, 14.5), until=16.0)
    comped = play(setup(chart=LONG), [*line(8, 14.5), *comping], until=16.0)
    assert [p for _, _, p in comped.sounded()] == [p for _, _, p in plain.sounded()]
    assert comped.sounded()[0][0] - plain.sounded()[0][0] < 0.06
    assert comped.sounded()[1:] == plain.sounded()[1:]
    assert called(comped) == called(plain)


# --- ending --------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_the_tail_makes_room_for_the_player(seed: int) -> None:
    """With the player in at the turn's end the reply is over an eighth later, on a note that may
    end it; without, it may ring on for a pulse."""
    early = play(setup(chart=LONG, seed=seed), [*line(8, 14.5), *line(31.5, 38)], until=19.0)
    alone = play(setup(chart=LONG, seed=seed), line(8, 14.5), until=19.0)
    assert max(ends(early)) <= 32.5 + 0.05
    assert max(ends(alone)) <= 33.0 + 0.2
    last = early.spoken()[-1]
    assert last["role"] in ("chord tone", "tension", "anticipation")
    assert last["beat"] + last["beats"] <= 32.5 + 1e-6


@pytest.mark.parametrize("seed", range(8))
def test_a_tail_cut_late_is_cut_all_the_same(seed: int) -> None:
    """A player who comes in just after the turn's end waits no longer than an eighth."""
    run = play(setup(chart=LONG, seed=seed), [*line(8, 14.5), *line(32.2, 38)], until=19.0)
    assert max(ends(run)) <= 32.7 + 0.15


def test_the_last_pulse_belongs_to_the_next_call() -> None:
    """What the player plays over the companion's last pulse is pickup to the next call; what was
    played before that is not."""
    into = [*note(28.0, 0.4, 50), *note(29.0, 0.4, 52), *line(31.0, 37.0)]
    run = play(setup(chart=LONG), [*line(8, 14.5), *into], until=28.0)
    assert called(run)[1][0] == pytest.approx(31.0)


# --- long turns ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["chorus", "solo"])
def test_long_turns_are_answered_piece_by_piece(kind: str) -> None:
    """Replies follow one another without overlap, and no two bars are left empty."""
    made = setup(chart=LONG, turns=Turns(kind, 4, "companion"))  # type: ignore[arg-type]
    run = play(made, until=23.9)
    phrases = [
        (min(n["beat"] for n in notes), max(n["beat"] + n["beats"] for n in notes))
        for notes in run.notes().values()
    ]
    assert len(phrases) >= 2
    # half a beat at least to breathe in between two of them
    assert all(end + 0.5 <= begin + 1e-6 for (_, end), (begin, _) in pairwise(phrases))
    places = [0.0, *(n["beat"] for n in run.spoken()), 48.0]
    assert max(b - a for a, b in pairwise(places)) < 8.0
    assert all(off <= on + 1e-6 for (_, off, _), (on, _, _) in pairwise(run.sounded()))


def test_a_long_turn_waits_for_the_player_in_each_piece() -> None:
    """A player who plays through the first bars of a companion's chorus is not talked over."""
    made = setup(chart=LONG, turns=Turns("chorus"))
    run = play(made, line(40, 67), until=40.0)
    assert 67.0 <= onsets(run)[0] <= 71.0


def test_a_solo_never_waits() -> None:
    """In a solo the player's line changes nothing."""
    made = setup(chart=LONG, turns=Turns("solo"))
    assert play(made, line(2, 40), until=20.0).sounded() == play(made, until=20.0).sounded()


# --- free playing --------------------------------------------------------------------------------


@pytest.mark.parametrize(("end", "seam"), [(5.0, 8.0), (5.9, 8.0), (6.5, 16.0), (9.0, 16.0)])
def test_a_free_reply_comes_at_the_next_seam(end: float, seam: float) -> None:
    """The turn begins at the next two-bar seam that leaves the player two beats of breath."""
    run = play(setup(chart=LONG, turns=FREE), line(1, end), until=14.0)
    assert run.turns()[:2] == [(0.0, "player"), (seam, "companion")]
    assert seam - 1.1 <= onsets(run)[0] <= seam + 2.0


def test_a_breath_is_not_talked_over() -> None:
    """A player who rests two beats at the seam and goes on keeps the floor."""
    run = play(setup(chart=LONG, turns=FREE), [*line(1, 6.5), *line(8.4, 13.5)], until=11.0)
    assert not [beat for beat in onsets(run) if beat < 15.0]
    assert called(run)[-1][0] == pytest.approx(1.0)


def test_an_eager_companion_answers_on_the_next_off_beat() -> None:
    """It does not wait for the seam, but for a rest."""
    made = setup(chart=LONG, turns=Turns("free", eager=True))
    run = play(made, line(1, 4.5), until=10.0)
    opened = run.turns()[1]
    assert opened[1] == "companion"
    assert opened[0] % 1.0 == 0.5
    assert 5.0 < opened[0] <= 6.5


def test_a_free_companion_yields() -> None:
    """When the player comes in again the reply ends within an eighth and a note, and the next
    call begins with the note that came in."""
    run = play(setup(chart=LONG, turns=FREE), [*line(1, 5), *line(10.2, 19)], until=16.0)
    assert [beat for beat in onsets(run) if beat < 10.2]
    assert not [beat for beat in ends(run) if 11.0 < beat < 22.0]
    assert run.turns()[2] == (pytest.approx(11.0), "player")
    assert called(run)[1][0] == pytest.approx(10.2)


def test_a_free_turn_is_given_up_if_the_player_comes_first() -> None:
    """A reply that has not begun when the player comes in is taken back, and its turn with it."""
    run = play(setup(chart=LONG, turns=FREE), [*line(1, 5), *line(6.9, 13)], until=7.0)
    assert run.replies
    assert not run.sounded()
    assert run.turns() == [(0.0, "player")]


def test_two_notes_are_no_phrase() -> None:
    """In free playing fewer than three notes are not answered."""
    made = setup(chart=LONG, turns=FREE)
    assert not play(made, [*note(1, 1, 60), *note(2, 1, 62)], until=12.0).replies


# --- the end -------------------------------------------------------------------------------------


@pytest.mark.parametrize("turns", [Turns(), Turns("solo"), FREE, Turns("chorus")])
def test_nothing_is_planned_after_the_last_bar(turns: Turns) -> None:
    """No reply reaches further than a pulse past the end, and none is planned after it."""
    road_map = RoadMap(0, "none", 1, "none")
    run = play(setup(chart=LONG, road_map=road_map, turns=turns), line(40, 60), until=60.0)
    assert run.ended
    assert all(n["beat"] + n["beats"] <= 49.0 for n in run.spoken())
    assert all(record["at"] < 24.0 for record in run.replies)


def test_a_fresh_key_at_the_edge_is_heard() -> None:
    """A key struck just before the companion would begin holds it up."""
    run = play(setup(), [*line(8, 14.0), key(7.55, 64), key(8.9, 64, 0)], until=12.0)
    assert onsets(run)[0] >= 17.8
