"""The manner of a reply: how style, call and the place in the chorus make it full, high, late."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from soloist_asking import STYLES, described, plain_request, requests

from jam.listening.phrase import PhraseDescription
from jam.players.soloist.manner import PLAIN_MANNER, Manner, at_tempo, manner_of
from jam.players.soloist.request import Request, Story
from jam.styles.profile import Style
from jam.transport.metre import Bars

LAWS = settings(
    max_examples=200,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
DRAWS = 300
HEIGHT = 0.7


def call_of(density: float, *, open_ending: bool = True) -> PhraseDescription:
    """Return a call of so many notes a beat."""
    rows = [(-4.0 + n / 2, 0.5, 62 + n) for n in range(6)]
    return replace(described(rows, Bars()), density=density, open_ending=open_ending)


def style_of(
    *, growth: float = 0.0, contrast: float = 0.0, mirror: float = 0.0, **weights: float
) -> Style:
    """Return a style that neither builds nor turns round nor mirrors, unless told to."""
    style = STYLES["bop"]
    usual = {**style.idea.moves, "answer": 0.0, "leave_space": 0.0, **weights}
    return style.model_copy(
        update={
            "growth": growth,
            "idea": style.idea.model_copy(update={"contrast": contrast, "moves": usual}),
            "rhythm": style.rhythm.model_copy(update={"mirror": mirror}),
        }
    )


def manners(request: Request, count: int = DRAWS) -> list[Manner]:
    """Return the manners of so many seeds."""
    return [manner_of(request, np.random.default_rng((seed, 6))) for seed in range(count)]


def only(request: Request) -> Manner:
    """Return the manner where nothing is left to chance."""
    found = set(manners(request, 20))
    assert len(found) == 1
    return found.pop()


@LAWS
@given(
    requests(),
    st.floats(0.0, 1.0),
    st.booleans(),
    st.floats(0.0, 1.0),
    st.floats(0.02, 12.0),
    st.booleans(),
)
def test_every_field_lies_within_its_range(request_, place, closes, growth, density, prompt):
    """Whatever is asked: 0.4 to 2.2 times the notes, no more than an octave higher or lower, two
    beats later at most and half a beat at least, a lift of -1 to 1; asked to begin at once it does
    not wait."""
    call = request_.call and replace(request_.call, density=density)
    style = request_.style.model_copy(update={"growth": growth})
    request_ = replace(
        request_, call=call, style=style, story=Story(place, 0, closes), prompt=prompt
    )
    manner = manner_of(request_, np.random.default_rng(request_.seed))
    assert 0.4 <= manner.density <= 2.2
    assert -12.0 <= manner.register <= 12.0
    assert manner.later_beats == 0.0 or (0.5 <= manner.later_beats <= 2.0 and not prompt)
    assert -1.0 <= manner.lift <= 1.0
    assert manner.ends in ("closed", "open", None)
    assert manner == manner_of(request_, np.random.default_rng(request_.seed))


def test_a_style_without_wishes_has_a_plain_manner():
    """No growth, no contrast, no mirror, no answers, no air: nothing is changed, with a call and
    without."""
    for call in (None, call_of(1.0), call_of(4.0)):
        assert only(plain_request(style=style_of(), call=call)) == PLAIN_MANNER
    assert PLAIN_MANNER.words == ""


# --- the call -----------------------------------------------------------------------------


@pytest.mark.parametrize("bpm", [70.0, 160.0, 260.0])
def test_a_mirror_takes_up_how_full_the_call_was(bpm):
    """A full mirror plays as many notes a beat as the player did, at any tempo; half of one the
    geometric mean of that and its own; none its own."""
    own = STYLES["bop"].rhythm.density * at_tempo(bpm)
    for times in (0.5, 1.0, 2.0):
        for mirror, wanted in ((1.0, times), (0.5, times**0.5), (0.0, 1.0)):
            request = plain_request(
                style=style_of(mirror=mirror), call=call_of(times * own), bpm=bpm
            )
            assert only(request).density == pytest.approx(wanted)


def test_a_contrast_turns_the_call_round():
    """Many notes get fewer and few more, in a register that is not the call's, and the words say
    so; in half of the replies of a style of nothing but contrast, and never without it."""
    own = STYLES["bop"].rhythm.density
    for times in (0.5, 2.0):
        request = plain_request(style=style_of(contrast=1.0), call=call_of(times * own))
        found = manners(request)
        turned = [manner for manner in found if manner.contrary]
        # 300 draws of a half: 150 with a deviation of 8.7 (binomial); four of them on each side.
        assert 115 <= len(turned) <= 185
        # The call lies in the lower half of the alto saxophone's range.
        assert {manner.register for manner in turned} == {9.0}
        assert all((manner.density > 1.0) == (times < 1.0) for manner in turned)
        assert all("the opposite of yours" in manner.words for manner in turned)
        kept = [manner for manner in found if not manner.contrary]
        assert {(manner.register, manner.density, manner.words) for manner in kept} == {
            (0.0, 1.0, "")
        }
    nothing = plain_request(style=style_of(contrast=1.0))
    assert not any(manner.contrary for manner in manners(nothing, 60))
    never = plain_request(style=style_of(contrast=0.0), call=call_of(1.0))
    assert not any(manner.contrary for manner in manners(never, 60))


@pytest.mark.parametrize("asks", [True, False])
def test_question_and_answer(asks):
    """An open call is brought to rest and a closed one left open, in three of five replies where
    the style gives answers all their weight, less with less; one's own phrase is no question."""
    other = "closed" if asks else "open"
    call = call_of(2.0, open_ending=asks)
    assert only(plain_request(style=style_of(answer=0.0), call=call)).ends is None
    assert only(plain_request(style=style_of(answer=1.0), call=call, own=True)).ends is None
    assert only(plain_request(style=style_of(answer=1.0))).ends is None
    # 300 draws of 0.6 and 0.3: deviations of 8.5 and 7.9 (binomial); four of them on each side.
    for weight, least, most in ((1.0, 146, 214), (0.5, 58, 122)):
        some = manners(plain_request(style=style_of(answer=weight), call=call))
        assert least <= sum(manner.ends == other for manner in some) <= most
        assert {manner.ends for manner in some} == {other, None}


def test_the_last_word_comes_to_rest():
    """What closes a chorus is closed, whatever the call asked and the style likes."""
    for call in (None, call_of(2.0), call_of(2.0, open_ending=False)):
        for answer in (0.0, 1.0):
            request = plain_request(
                style=style_of(answer=answer), call=call, story=Story(1.0, 0, closes=True)
            )
            assert only(request).ends == "closed"


# --- the story ----------------------------------------------------------------------------


def at_place(place: float, growth: float, *, closes: bool = False) -> Manner:
    """Return the manner at a place of the chorus."""
    return only(plain_request(style=style_of(growth=growth), story=Story(place, 0, closes)))


def test_a_chorus_grows_and_comes_down():
    """Fuller, higher and tenser up to its last third, the other way from there; as low at its end
    as at its beginning, and below the middle there."""
    for rising in (True, False):
        places = np.linspace(0.0, HEIGHT, 8) if rising else np.linspace(1.0, HEIGHT, 8)
        steps = [at_place(float(place), 1.0) for place in places]
        for one, other in pairwise(steps):
            assert one.density < other.density
            assert one.register < other.register
            assert one.lift < other.lift
    top, begin, end = (at_place(place, 1.0) for place in (HEIGHT, 0.0, 1.0))
    assert begin.lift == end.lift < 0.0 < top.lift
    assert begin.density < 1.0 < top.density


def test_growth_is_as_large_as_the_style_says():
    """No growth: the same everywhere. Half of it: half the rise in register and lift."""
    assert len({at_place(place, 0.0) for place in (0.0, 0.3, 0.7, 1.0)}) == 1
    whole, half = at_place(0.7, 1.0), at_place(0.7, 0.5)
    assert half.lift == pytest.approx(whole.lift / 2)
    assert half.register == pytest.approx(whole.register / 2)


@pytest.mark.parametrize("place", [0.0, 0.5, 0.7, 1.0])
def test_what_closes_a_chorus_comes_down(place):
    """The last reply is no fuller, higher or tenser than one in its place that is not the last,
    and plainly lower where there is room below."""
    last, other = at_place(place, 0.8, closes=True), at_place(place, 0.8)
    assert last.lift <= other.lift
    assert last.density <= other.density
    assert place in (0.0, 1.0) or last.lift < other.lift - 0.1


# --- when it begins -----------------------------------------------------------------------


def test_air_before_a_reply():
    """A reply waits in proportion to the style's weight, from half a beat to two; without weight,
    or asked to begin at once, never."""
    counts = []
    for weight in (0.3, 0.9):
        found = manners(plain_request(style=style_of(leave_space=weight)), 1000)
        waits = [manner for manner in found if manner.later_beats]
        assert all("after a breath" in manner.words for manner in waits)
        assert all(0.5 <= manner.later_beats <= 2.0 for manner in waits)
        assert np.ptp([manner.later_beats for manner in waits]) > 1.0
        counts.append(len(waits))
    assert 2.2 * counts[0] < counts[1] < 4.0 * counts[0]
    assert only(plain_request(style=style_of(leave_space=0.0))).later_beats == 0.0
    eager = plain_request(style=style_of(leave_space=1.0), prompt=True)
    assert {manner.later_beats for manner in manners(eager, 60)} == {0.0}


# --- tempo and words ----------------------------------------------------------------------


def test_the_slower_the_more_notes_a_beat():
    """1 at 160 bpm, never more at a quicker tempo, the same beyond the tempi that were counted."""
    assert at_tempo(160.0) == 1.0
    factors = [at_tempo(float(bpm)) for bpm in range(40, 330, 5)]
    assert all(one >= other for one, other in pairwise(factors))
    assert at_tempo(30.0) == at_tempo(60.0) > at_tempo(90.0)
    assert at_tempo(400.0) == at_tempo(240.0) < 1.0


@pytest.mark.parametrize(
    ("manner", "words"),
    [
        (Manner(), ""),
        (Manner(later_beats=0.5), ", after a breath"),
        (Manner(ends="open"), ", left open"),
        (Manner(contrary=True, ends="closed"), ", the opposite of yours, brought to rest"),
    ],
)
def test_the_words_name_what_is_heard(manner, words):
    """Words stand behind the idea, a comma before each, none for what is as usual."""
    assert manner.words == words
