"""The audit can fail: every rule broken once is caught, and a clean log passes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from . import cells, made, report
from .chords import FAMILIES, SPELLINGS, UnknownSymbolError, read
from .claims import disagreements
from .findings import Finding
from .integrity import audit_log
from .made import LINE, Row
from .measures import Landed, landed, line_measures
from .reading import session
from .roles import Ear, Terms
from .rules import audit_rules, landings

TERMS = Terms(low=55, high=84, breath_sec=9.0)
C_MAJOR_SCALE = [60, 62, 64, 65, 67, 69, 71]


def found(rows: list[Row], terms: Terms = TERMS) -> list[Finding]:
    """Return everything found in a log."""
    read_in = session(rows)
    return [*audit_log(read_in), *audit_rules(read_in, terms)]


def rules(rows: list[Row], terms: Terms = TERMS) -> list[str]:
    """Return the rules that a log breaks, once each."""
    return sorted({finding.rule for finding in found(rows, terms)})


def line(*changes: tuple[int, dict[int, Any]], drop: Sequence[int] = ()) -> list[tuple[Any, ...]]:
    """Return the clean line with fields of some notes changed and some notes left out."""
    rows = [list(row) for row in LINE]
    for index, fields in changes:
        for place, value in fields.items():
            rows[index][place] = value
    return [tuple(row) for i, row in enumerate(rows) if i not in drop]


BEAT, BEATS, PITCH = 0, 1, 2


# --- chords ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("symbol", "tones", "tensions"),
    [
        # Chord tones: rows of chord spelling on which pychord and music21 agree; tensions: the
        # table of available tensions (Nettles & Graf 1997; Levine 1995, by way of reader notes).
        ("Cmaj7", "0 4 7 11", "2 6 9"),
        ("C6", "0 4 7 9", "2 6 11"),
        ("C6/9", "0 4 7 9", "2 6 11"),
        ("Dm7", "0 2 5 9", "4 7 11"),
        ("G7", "2 5 7 11", "0 1 3 4 8 9 10"),
        ("Bbm7b5", "1 4 8 10", "3 6"),
        ("F#dim7", "0 3 6 9", "2 5 8 11"),
        ("Ebm(maj7)", "2 3 6 10", "0 5 8"),
        ("EbmMaj7", "2 3 6 10", "0 5 8"),
        ("C7alt", "0 4 10", "1 3 6 8"),
        ("Caug7", "0 4 8 10", "1 2 3 6"),
        ("G7sus4", "0 2 5 7", "4 9"),
        ("G7sus4(b9)", "0 2 5 7", "4 8"),
        ("Cmaj7(#11)", "0 4 7 11", "2 6 9"),
        ("Ab/C", "0 3 8", "2 5 7 10"),
        ("F/G", "0 5 7 9", "2 4 11"),
    ],
)
def test_chords_have_their_textbook_notes(symbol: str, tones: str, tensions: str) -> None:
    """A symbol has the chord tones and tensions of the table."""
    sound = read(symbol)
    if symbol == "G7":  # 11 and the major 7th are the two that a dominant never takes
        assert sound.strong == frozenset(range(12)) - {0, 6}
        return
    assert sound.tones == {int(tone) for tone in tones.split()}
    assert sound.strong - sound.tones == {int(tension) for tension in tensions.split()}


def test_a_named_alteration_rules_out_its_natural() -> None:
    """G7(b9,b13) takes neither A nor E; G13 has its 13; N.C. judges nothing."""
    assert not read("G7(b9,b13)").passes(69)
    assert not read("G7(b9,b13)").passes(64)
    assert read("G13(b9)").passes(64)
    assert read("N.C.").passes(61)


def test_modes_and_slashes_are_read() -> None:
    """A mode's name is a chord, and the note under the slash belongs to it."""
    assert read("D dorian").strong == {2, 4, 5, 7, 9, 11, 0}
    assert read("Edorian").root == 4
    assert read("Am7/G").bass == 7
    assert read("C7(#5,#9)").tones == {0, 4, 8, 10}


@pytest.mark.parametrize("symbol", ["H7", "Cfoo", "C7(b7)", "", "/C"])
def test_what_is_no_symbol_is_refused(symbol: str) -> None:
    """A text that is no chord symbol raises an error and is not guessed at."""
    with pytest.raises(UnknownSymbolError):
        read(symbol)


def test_the_tables_are_in_themselves_sound() -> None:
    """No pitch is twice in a family, and each semitone has a name of its own."""
    for tones, tensions, wide in FAMILIES.values():
        steps = f"{tones} {tensions} {wide}".split()
        assert len(steps) == len(set(steps))
    assert len(set().union(*SPELLINGS)) == sum(map(len, SPELLINGS))


# --- the clean log -----------------------------------------------------------------------


def test_a_clean_log_passes() -> None:
    """Nothing at all is found in the clean log, and no claim of it is disputed."""
    assert found(made.log()) == []
    read_in = session(made.log())
    assert disagreements(read_in, read_in.replies[0], TERMS) == []


def test_landings_of_the_clean_log_are_told_apart() -> None:
    """On beat 16 and 20 it lands on the beat, on 24 across it, on 28 within a pulse after it."""
    read_in = session(made.log())
    met = landings(Ear(read_in, read_in.replies[0], TERMS))
    assert [x.kind for x in met] == ["on", "on", "across", "after"]
    assert [x.point.beat for x in met] == [16, 20, 24, 28]


# --- H1 to H5, each broken once ----------------------------------------------------------

BROKEN = {
    "H1 weak on the change": (line((5, {PITCH: 72, BEATS: 0.5}), (7, {PITCH: 71})), "H1"),
    "H1 weak across the change": (line((8, {PITCH: 65, BEATS: 2.5})), "H1"),
    "H1 weak soon after it": (line((10, {PITCH: 74, BEATS: 0.5}), (12, {PITCH: 73})), "H1"),
    "H2 ends weak": (line((12, {PITCH: 74})), "H2"),
    "H2 turns weak under the change": (line((12, {PITCH: 70, BEATS: 2.5})), "H1 H2"),
    "H3 weak too long": (line((3, {BEATS: 1.0}), (4, {BEAT: 18.5, BEATS: 1.0})), "H3 length"),
    "H3 unresolved": (line((3, {PITCH: 66})), "H3"),
    "H4 too early": (line((0, {BEAT: 14.5})), "H4"),
    "H4 too late": (line((12, {BEATS: 3.5, PITCH: 69})), "H4"),
    "H5 too high": (line((2, {PITCH: 96})), "H5 range"),
    "H5 too low": (line((6, {PITCH: 45})), "H5 range"),
    "H5 two at a time": (line((1, {BEATS: 1.5})), "H5 one at a time"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_rule_is_caught(name: str) -> None:
    """One note out of place breaks its rule, and no other that it need not break."""
    notes, rule = BROKEN[name]
    assert " ".join(rules(made.log(notes))) == rule


def test_passing_by_in_silence_is_caught() -> None:
    """A reply that is silent at two of four changes lands on too few of them."""
    notes = line(drop=(7, 8, 9, 10, 11))
    assert rules(made.log(notes)) == ["H1 silence"]


def test_a_leaning_note_on_the_change_passes_if_it_resolves_within_a_pulse() -> None:
    """C over G7 leans on B; a beat and a half later it is too late."""
    assert rules(made.log(line((5, {PITCH: 72}), (6, {PITCH: 71})))) == []
    late = line((5, {PITCH: 72, BEATS: 1.5}), (6, {PITCH: 71, BEAT: 21.5}), drop=(7,))
    assert "H1" in rules(made.log(late))


def test_an_anticipation_that_has_just_ended_passes_but_is_doubtful() -> None:
    """A strong note just before a weak one on the change lands by the letter of the rule only."""
    notes = line((4, {BEAT: 18.0, BEATS: 1.5}), (5, {PITCH: 72, BEATS: 0.5}))
    notes.insert(5, (19.5, 0.5, 71, "G7", "3", "anticipation"))
    notes[7] = (21.5, 0.5, 69, "G7", "9", "tension")
    read_in = session(made.log(sorted(notes)))
    met = landings(Ear(read_in, read_in.replies[0], TERMS))
    assert (met[1].kind, met[1].doubtful) == ("anticipation", True)


def test_passing_and_short_chords_are_not_landed_on() -> None:
    """A chord marked passing, or shorter than a pulse, asks for nothing."""
    weak_on_21 = line((5, {BEATS: 0.25}), (6, {PITCH: 70}))
    plain = made.log(weak_on_21, chords=(*made.CHORDS, (21, "Am7"), (22, "G7")))
    assert rules(plain) == ["H1"]
    rows = [{**row, "passing": True} if row.get("symbol") == "Am7" else row for row in plain]
    assert "H1" not in rules(rows)
    assert "H1" not in rules(made.log(weak_on_21, chords=(*made.CHORDS, (21, "Am7"), (21.5, "G7"))))


def test_the_seams_of_a_long_chord_count() -> None:
    """Over one chord for eight bars the two-bar seam within the reply is landed on."""
    vamp = tuple((b, "D dorian") for b in (0,))
    notes = [
        (16.0 + i / 2, 0.5, 69 - (i % 2) * 2, "D dorian", "5", "chord tone") for i in range(31)
    ]
    assert rules(made.log(notes, chords=vamp)) == []
    notes[16] = (24.0, 0.5, 63, "D dorian", "b9", "approach")
    notes[19] = (25.5, 0.5, 64, "D dorian", "9", "tension")
    assert rules(made.log(notes, chords=vamp)) == ["H1"]


def test_a_chromatic_run_and_an_enclosure_resolve() -> None:
    """A weak note resolves through steps, or round its target, within three notes."""
    enclosed = line((3, {PITCH: 70}), (4, {BEAT: 18.5, BEATS: 1.0}))
    enclosed.insert(4, (18.0, 0.5, 68, "Dm7", "b5", "approach"))
    assert rules(made.log(enclosed)) == []


def test_a_declared_span_is_judged_by_its_own_chord() -> None:
    """Notes of Ebm7 over Dm7 break H3 unless they are declared, for a bar at most."""
    side = [(17.0 + i / 2, 0.5, p, "Ebm7", "1", "free") for i, p in enumerate((70, 75, 78, 73, 70))]
    notes = [LINE[1], *side, *LINE[5:]]
    span = {"kind": "span", "at": 7.5, "reply": 2, "beat": 17.0, "beats": 3.0, "implied": "Ebm7"}
    assert "H3" in rules(made.log(notes))
    assert rules(made.log(notes, more=[span])) == []
    assert "H3 span" in rules(made.log(notes, more=[{**span, "beat": 16.5, "beats": 4.5}]))


def test_blue_notes_pass_only_in_a_blues() -> None:
    """A natural 4 held over a dominant is weak, unless it is the b3 of the key of a blues; the
    fourth of the key is no blue note."""
    notes = line((7, {PITCH: 72, BEATS: 1.0}), (8, {BEAT: 23.5, BEATS: 0.5}))
    assert "H3 length" in rules(made.log(notes))
    assert rules(made.log(notes), Terms(low=55, high=84, blues=True, tonic=9)) == []
    assert "H3 length" in rules(made.log(notes), Terms(low=55, high=84, blues=True, tonic=7))


def test_talking_over_the_player_is_caught() -> None:
    """A player who holds a key into the companion's turn is waited for."""
    over = [made.key(7.0, 60, down=True), made.key(9.0, 60, down=False)]
    assert rules(made.log(more=over)) == ["H4 manners"]
    brief = [made.key(7.0, 60, down=True), made.key(7.7, 60, down=False)]
    assert rules(made.log(more=brief)) == []


def test_a_tail_is_cut_when_the_player_plays() -> None:
    """A tail of a beat may close over the bar line, but not over the player's first notes."""
    tail = line((12, {BEATS: 2.9, PITCH: 69}))
    assert rules(made.log(tail)) == []
    playing = [made.key(16.0, 60, down=True), made.key(17.0, 60, down=False)]
    assert rules(made.log(tail, more=playing)) == ["H4 manners"]


def test_breath_is_measured_between_rests() -> None:
    """A line without a rest that is longer than a breath is caught, with a rest it passes."""
    short = Terms(low=55, high=84, breath_sec=2.2)
    assert rules(made.log(), short) == ["H5 breath"]
    assert rules(made.log(), Terms(low=55, high=84, breath_sec=2.6)) == []


# --- replans and chords named late -------------------------------------------------------


def test_a_replan_takes_the_place_of_the_tail() -> None:
    """Notes from its beat on are gone, a note sounding there ends there, and the new ones count."""
    tail = made.reply([(22.0, 0.5, 72, "G7", "11", "tension")], id=3, first=200)
    rows = made.log(more=[{**tail, "replans": 2, "from_beat": 22.0, "at": 10.0}])
    reply = session(rows).replies[0]
    assert [note.beat for note in reply.notes][-3:] == [21.0, 21.5, 22.0]
    assert reply.notes[-2].end == pytest.approx(22.0)
    assert "H2" in rules(rows)


def test_an_ending_cut_short_is_told_apart() -> None:
    """A reply ended by a replan without notes is tagged, since it could not choose its end."""
    cut = {**made.reply(LINE[:1], id=3), "notes": [], "replans": 2, "from_beat": 18.0, "at": 8.9}
    endings = [f for f in found(made.log(more=[cut])) if f.rule == "H2"]
    assert [f.tags for f in endings] == [{"cut"}]


def test_the_latest_chord_for_a_beat_holds_and_null_withdraws() -> None:
    """Abmaj7 named for beat 20 at 10.2 s, after the note there began, makes a late finding."""
    late = found(made.log(more=[made.chord(20, "Abmaj7", at=10.2)]))
    assert {(f.rule, f.tags) for f in late if f.rule == "H1"} == {("H1", frozenset({"late"}))}
    assert session(made.log(more=[made.chord(20, None, at=9.0)])).harmony.at(20.0).sound.root == 2  # type: ignore[union-attr]


# --- the log in itself -------------------------------------------------------------------


def test_a_note_that_never_ends_is_caught() -> None:
    """Every note-on that was sent has its note-off."""
    messages = made.sent(made.reply()["notes"])
    assert rules(made.log(messages=messages[:-1])) == ["sent"]
    assert rules(made.log(messages=messages[:-2])) == ["sent"]


def test_a_note_sent_otherwise_than_replied_is_caught() -> None:
    """Pitch, velocity, moment and number of what was sent are those of the reply."""
    notes = [dict(row) for row in made.reply()["notes"]]
    for field, value in (("pitch", 66), ("velocity", 70), ("t", 8.05), ("id", 999)):
        changed = [{**row, field: value} if row["id"] == 101 else row for row in notes]
        assert "sent" in rules(made.log(messages=made.sent(changed))), field


def test_two_sounding_at_once_are_caught_as_sent() -> None:
    """A note-off that comes after the next note-on breaks H5, whatever the reply says."""
    messages = made.sent(made.reply()["notes"], cuts={101: 8.52})
    messages.sort(key=lambda row: float(row["t"]))
    assert rules(made.log(messages=messages)) == ["H5 one at a time"]


def test_beats_are_announced_once_and_in_time() -> None:
    """A beat announced twice, late while locked, or out of order is caught."""
    assert rules(made.log(more=[{**made.beat(9), "at": 4.5}])) == ["beats"]
    late = [
        {**r, "at": r["t"] + 0.02} if r["kind"] == "beat" and r["beat"] == 9 else r
        for r in made.log()
    ]
    late = [late[0], *sorted(late[1:], key=lambda r: float(r["at"]))]
    assert rules(late) == ["beats"]
    assert rules([r for r in made.log() if not (r["kind"] == "beat" and r["beat"] == 9)]) == [
        "beats"
    ]


def test_records_out_of_order_are_caught() -> None:
    """The log stands in order of at."""
    rows = made.log()
    rows[10], rows[40] = rows[40], rows[10]
    assert "log order" in rules(rows)


def test_a_note_far_from_its_place_on_the_grid_is_caught() -> None:
    """The grid's beat cannot be claimed where the note does not sound."""
    rows = made.log()
    for row in rows:
        if row["kind"] == "reply":
            row["notes"][4]["t"] -= 0.35
    assert "note" in rules(rows)


def test_two_notes_at_almost_the_same_moment_are_caught() -> None:
    """A swung off-beat that falls on the last note of a triplet leaves no room between them."""
    rows = made.log()
    notes = next(row for row in rows if row["kind"] == "reply")["notes"]
    notes[3]["t"] = notes[2]["t"] + 0.008
    assert "note" in rules(rows)


def test_values_out_of_midi_are_caught() -> None:
    """Velocity 0 and a pitch of 130 are no notes."""
    for field, value in (("velocity", 0), ("pitch", 130), ("beats", 0.0)):
        rows = made.log(messages=[])
        next(r for r in rows if r["kind"] == "reply")["notes"][2][field] = value
        assert "note" in rules(rows), field


def test_an_unreadable_symbol_is_told() -> None:
    """A chord the audit cannot read is found, not passed over."""
    assert "chord symbol" in rules(made.log(more=[made.chord(12, "Xyz", at=0.0)]))


# --- claims ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("index", "field", "value", "kind"),
    [
        (1, "degree", "9", "degree"),
        (1, "chord", "Ebm7", "chord"),
        (3, "role", "tension", "strong"),
        (6, "role", "chord tone", "tone or tension"),
        (2, "role", "anticipation", "anticipation"),
        (3, "role", "free", "free"),
    ],
)
def test_a_false_claim_is_disputed(index: int, field: str, value: str, kind: str) -> None:
    """A wrong degree, chord or role of one note is a disagreement about that note."""
    rows = made.log()
    next(r for r in rows if r["kind"] == "reply")["notes"][index][field] = value
    read_in = session(rows)
    heard = disagreements(read_in, read_in.replies[0], TERMS)
    assert [(d.kind, d.beat) for d in heard] == [(kind, LINE[index][BEAT])]


# --- measures ----------------------------------------------------------------------------


def test_a_transposed_cell_is_found_again_and_noise_is_not() -> None:
    """The call's own notes a fourth up share its cell; a scale in quarters does not."""
    read_in = session(made.log())
    call, reply = read_in.calls[0].notes, read_in.replies[0].notes
    moved = [made_note(n.beat + 16, n.pitch + 5) for n in call]
    scale = [made_note(i, p) for i, p in enumerate(C_MAJOR_SCALE)]
    assert cells.share(call, moved) == cells.Shared(True, True, True, True, True, 5)
    varied = [*moved[:2], made_note(moved[2].beat, moved[2].pitch + 4), *moved[3:]]
    assert cells.share(call, varied).both  # type: ignore[union-attr]
    assert not cells.share(call, scale).both  # type: ignore[union-attr]
    assert cells.share(call[:2], reply) is None


def made_note(beat: float, pitch: int) -> Any:
    """Return a note of half a beat."""
    row = (beat, 0.5, pitch, "Dm7", "1", "chord tone")
    return session(made.log([row])).replies[0].notes[0]


def test_a_rhythm_may_be_stretched_but_not_bent() -> None:
    """Twice as slow is the same rhythm; long-short for short-long is not."""
    quick = [made_note(b, 60) for b in (0.0, 0.5, 1.0, 2.5)]
    slow = [made_note(2 * n.beat, 60) for n in quick]
    other = [made_note(b, 60) for b in (0.0, 1.5, 2.0, 2.5)]
    assert cells.same_rhythm(quick, slow)
    assert not cells.same_rhythm(quick, other)


def test_strangers_are_never_the_own_call() -> None:
    """The chance baseline pairs no reply with the call that it answers."""
    pairs = [([made_note(i, 60)], [made_note(i, 70)]) for i in range(5)]
    for call, reply in cells.strangers(pairs, np.random.default_rng(1)):
        assert call[0].beat != reply[0].beat


def test_landing_rates_stand_beside_chance() -> None:
    """Four places met and landed on; a G7 is strong on ten of twelve, its 3rd and 7th are two."""
    read_in = session(made.log())
    total = Landed()
    landed(read_in, read_in.replies, TERMS, total)
    assert (total.places, total.strong, total.weak, total.silent) == (4, 4, 0, 0)
    # Dm7 and Cmaj7: 4 tones and 3 tensions; G7: 4 and 6; A7(b9): 5 and 4 (no natural 9).
    assert total.chance == pytest.approx((7 + 10 + 7 + 9) / 12)
    assert total.guide == 3
    assert total.guide_chance == pytest.approx(4 * 2 / 12)
    assert 0 < total.moved_landed < total.moved_places
    assert total.moved_clean < total.moved_replies == 11


def test_measures_of_a_line() -> None:
    """Density, steps and off-beat starts are what they are by counting."""
    read_in = session(made.log())
    measured = line_measures(read_in, read_in.replies, TERMS)
    assert measured["density, notes a beat"] == pytest.approx(13 / 15.5)
    assert measured["starts off the beat %"] == 100.0
    assert measured["steps %"] == pytest.approx(100 * 9 / 12)
    assert measured["range, semitones"] == 9


def test_the_report_reads_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It takes range and pulse from the copies, prints, and its exit code tells good from bad."""
    rows = made.log(line((2, {PITCH: 79})))
    (tmp_path / "session.jsonl").write_text("\n".join(json.dumps(row) for row in rows))
    (tmp_path / "style.yaml").write_text("instrument:\n  low: 55  # G3\n  high: 80\n")
    (tmp_path / "chart.yaml").write_text("key: Bb major\nmetre: 12/8\npulse: dotted quarter\n")
    terms = report.terms_of(tmp_path, rows[0])
    assert (terms["low"], terms["high"], terms["tonic"], terms["pulse_beats"]) == (55, 80, 10, 1.5)
    assert report.main([str(tmp_path), "--pulse", "1"]) == 0
    assert report.main([str(tmp_path), "--pulse", "1", "--high", "75"]) == 1
    assert "H5 range: 1" in capsys.readouterr().out
