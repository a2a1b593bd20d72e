"""Voicings against the published ii-V-I shapes."""

from __future__ import annotations

from itertools import pairwise

import pytest

from jam.harmony.pitch import COMMON_NAMES
from jam.harmony.spelling import spell
from jam.harmony.symbols import known_suffixes, parse_chord
from jam.harmony.voicings import FORMS, Form, guide_tones, rootless, rootless_after, shell


def names(pitches: tuple[int, ...], symbol: str) -> str:
    """Return the notes low to high, without octaves."""
    return " ".join(spell(pitch, parse_chord(symbol))[:-1] for pitch in pitches)


@pytest.mark.parametrize(
    ("symbol", "notes"), [("Dm7", "F C"), ("G7", "B F"), ("Cmaj7", "E B"), ("C6", "E A")]
)
def test_guide_tones_of_two_five_one(symbol: str, notes: str) -> None:
    """Guide tones are 3 and 7: F C, F B, E B through ii-V-I in C (several teaching pages)."""
    tones = guide_tones(parse_chord(symbol))
    assert names(tuple(60 + tone for tone in tones), symbol) == notes


def test_guide_tones_move_by_step() -> None:
    """In every key the 7th falls a half step to the next 3rd, the 3rd stays as the next 7th."""
    for two_root in range(12):
        two = parse_chord(COMMON_NAMES[two_root] + "m7")
        five = parse_chord(COMMON_NAMES[(two_root + 5) % 12] + "7")
        one = parse_chord(COMMON_NAMES[(two_root + 10) % 12] + "maj7")
        for before, after in pairwise((two, five, one)):
            assert guide_tones(after)[1] == guide_tones(before)[0]
            assert (guide_tones(before)[1] - guide_tones(after)[0]) % 12 == 1


# Four teaching pages that agree: start A and start B through ii-V-I.
ROOTLESS: list[tuple[str, Form, str]] = [
    ("Dm9", "A", "F A C E"),
    ("G13", "B", "F A B E"),
    ("Cmaj9", "A", "E G B D"),
    ("Dm9", "B", "C E F A"),
    ("G13", "A", "B E F A"),
    ("Cmaj9", "B", "B D E G"),
]


@pytest.mark.parametrize(("symbol", "form", "notes"), ROOTLESS)
def test_rootless_positions(symbol: str, form: Form, notes: str) -> None:
    """The A and B positions of ii-V-I in C are the published ones, on plain sevenths too."""
    plain = {"Dm9": "Dm7", "G13": "G7", "Cmaj9": "Cmaj7"}[symbol]
    assert names(rootless(parse_chord(symbol), form), symbol) == notes
    assert rootless(parse_chord(plain), form, "to_major") == rootless(parse_chord(symbol), form)


def test_rootless_dominant_to_minor_is_altered() -> None:
    """Going to minor the V has b9 and b13 in the same places (common practice)."""
    assert names(rootless(parse_chord("G7"), "B", "to_minor"), "G7") == "F Ab B Eb"
    assert names(rootless(parse_chord("G7alt"), "B"), "G7alt") == "F Ab B Eb"


def test_half_diminished_keeps_its_root() -> None:
    """Half-diminished shapes keep the root (one handout, after several books)."""
    assert names(rootless(parse_chord("Bm7b5"), "A"), "Bm7b5") == "D F A B"


def test_positions_alternate_through_two_five_one() -> None:
    """Moving least leads A B A or B A B, and from ii to V only the 7th moves, down a half step."""
    for start in FORMS:
        two = rootless(parse_chord("Dm7"), start, "two")
        five = rootless_after(two, parse_chord("G7"), "to_major")
        one = rootless_after(five, parse_chord("Cmaj7"), "tonic")
        other: Form = "B" if start == "A" else "A"
        assert five == rootless(parse_chord("G7"), other, "to_major")
        assert one == rootless(parse_chord("Cmaj7"), start, "tonic")
        moved = set(two) ^ set(five)
        assert len(moved) == 2
        assert max(moved) - min(moved) == 1


def test_every_chord_has_its_voicings() -> None:
    """Voicings rise, hold strong notes only, both guide tones, and lie where they should."""
    for suffix in known_suffixes():
        for root in ("C", "Eb", "F#", "A"):
            chord = parse_chord(root + suffix)
            for form in FORMS:
                voicing = rootless(chord, form)
                assert all(low < high for low, high in pairwise(voicing)), chord
                assert 60 <= voicing[-1] <= 71
                assert {pitch % 12 for pitch in voicing} <= chord.strong
                assert set(guide_tones(chord)) <= {pitch % 12 for pitch in voicing}
            low = shell(chord)
            assert low[0] % 12 == chord.bass
            assert set(guide_tones(chord)) <= {pitch % 12 for pitch in low}
            assert all(lower < higher for lower, higher in pairwise(low))
            assert 45 <= sum(low) / len(low) <= 65


def test_shells_stand_on_the_bass_and_move_with_near() -> None:
    """A shell has the bass below 3rd and 7th; ``near`` moves it by octaves."""
    assert names(shell(parse_chord("Dm7/G")), "Dm7/G").startswith("G")
    assert shell(parse_chord("Dm7"), near=67) == tuple(p + 12 for p in shell(parse_chord("Dm7")))


def test_no_chord_is_not_voiced() -> None:
    """N.C. has no guide tones and no voicing."""
    silence = parse_chord("N.C.")
    assert guide_tones(silence) == shell(silence) == rootless(silence, "A") == ()
