"""A drill in a folder of its own.

==============  ===============================================================================
``drill.mid``   a track with the line, one with the band; a marker a chord, second 0 is tick 0
``drill.txt``   the recipe in words, then each round note by note with its degrees
``recipe.yaml`` the recipe as it was used
``drill.wav``   the sound, if it was asked for
==============  ===============================================================================

The line is as even as it is written, and so is the band.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from jam.events import PartNote
from jam.players.band import BandPlayer, Span
from jam.players.bass import Bass
from jam.players.channels import COMPANION, PROGRAMS
from jam.players.click import Click
from jam.players.comping import Comping
from jam.players.soloist.slots import TICKS
from jam.session.drill import Drill, DrillOptions, drill
from jam.session.drill_notes import notes_on
from jam.session.drill_text import cautions, drill_text, recipe_text
from jam.session.folder import new_folder
from jam.session.write_midi import MidiNote, write_session_midi
from jam.sound.mixer import SoundNote, mix, tail_sec
from jam.sound.wav import write_wav
from jam.styles.text import describe
from jam.transport.timeline import Timeline

MIDI, TEXT, RECIPE, WAV = "drill.mid", "drill.txt", "recipe.yaml", "drill.wav"
_PIANO = 0
_VELOCITY = 84
_DETACHED = 0.92


def leave_drill(options: DrillOptions, folder: Path) -> str:
    """Write the drill into ``folder``, which must be new or empty, and tell what it is."""
    made = drill(options)
    folder = new_folder(folder)
    band = _band(made, options.seed)
    time = Timeline(made.bpm, 0.0, 0.0)
    said = notes_on(made)
    text = "\n".join([recipe_text(made.recipe), "", drill_text(made), *_apart(said)]) + "\n"
    (folder / TEXT).write_text(text, encoding="utf-8", newline="\n")
    copy = f"{describe(made.recipe)}\n"
    (folder / RECIPE).write_text(copy, encoding="utf-8", newline="\n")
    _write_midi(folder / MIDI, made, band, time)
    if options.wav:
        _write_wav(folder / WAV, made, band, time, options.seed)
    length_sec = time.sec(made.end)
    told = (
        f"{folder}: {made.recipe.name} in {', '.join(one.tonic for one in made.rounds)},"
        f" {len(made.notes)} notes, {length_sec:.0f} s at {made.bpm:g} bpm"
    )
    return "\n".join([told, *said, *cautions(length_sec)])


def _apart(lines: list[str]) -> list[str]:
    return ["", *lines] if lines else []


def _band(made: Drill, seed: int) -> list[PartNote]:
    """Return what bass, comping and click play from the count-in to the end."""
    players: tuple[BandPlayer, ...] = (Bass(), Comping(), Click())
    bar = made.metre.bar_beats
    notes: list[PartNote] = []
    for number in range(round(made.end / bar)):
        for index, player in enumerate(players):
            if number == 0 and not isinstance(player, Click):
                continue
            rng = np.random.default_rng((seed, number, index))
            start = number * bar
            span = Span(
                start,
                start + bar,
                made.changes,
                made.bars,
                made.metre,
                made.bpm,
                "straight",
                rng,
            )
            notes += player.play(span)
    return notes


def _write_midi(path: Path, made: Drill, band: list[PartNote], time: Timeline) -> None:
    line = [
        MidiNote(
            time.sec(note.tick / TICKS),
            time.sec((note.tick + note.ticks * _DETACHED) / TICKS),
            COMPANION,
            note.pitch,
            _VELOCITY,
        )
        for note in made.notes
    ]
    backing = [
        MidiNote(
            time.sec(note.beat),
            time.sec(note.beat + note.beats),
            note.channel,
            note.pitch,
            note.velocity,
        )
        for note in band
    ]
    sounds = {note.channel: PROGRAMS[note.part] for note in band if note.part in PROGRAMS}
    write_session_midi(
        path,
        {"line": line, "band": backing},
        [(0.0, 0.0), (1.0, time.sec(1.0))],
        [(time.sec(change.beat), change.chord.symbol) for change in made.changes],
        made.metre,
        {"line": {COMPANION: _PIANO}, "band": sounds},
    )


def _write_wav(path: Path, made: Drill, band: list[PartNote], time: Timeline, seed: int) -> None:
    notes = [
        SoundNote(
            time.sec(note.tick / TICKS),
            time.sec((note.tick + note.ticks * _DETACHED) / TICKS),
            "companion",
            note.pitch,
            _VELOCITY,
            program=_PIANO,
        )
        for note in made.notes
    ]
    notes += [
        SoundNote(
            max(0.0, time.sec(note.beat)),
            time.sec(note.beat + note.beats),
            note.part,
            note.pitch,
            note.velocity,
        )
        for note in band
    ]
    sound = mix(notes, max(1.0, tail_sec(notes)), rng=np.random.default_rng(seed))
    with path.open("wb") as stream:
        write_wav(sound, stream)
