"""The player comes in early: the companion gives way as its style says, and the log tells why."""

from __future__ import annotations

from itertools import pairwise

import pytest
from sessions import STYLE, Run, cue, line, note, play, setup, tune

from jam.core.setup import Turns
from jam.events import Input
from jam.log import Record
from jam.styles.profile import Style

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
CALL = line(8, 14.5)
EIGHTH, BAR = 0.5, 4.0
SWUNG = 0.2
"""An off-beat eighth sounds later than it is written, by so many beats at most."""


def giving_way(how: str) -> Style:
    """Return the style of the tests, giving way in this manner."""
    return STYLE.model_copy(update={"barge_in": how})


def trades(how: str, inputs: list[Input], seed: int = 1, until: float = 19.0, bars: int = 4) -> Run:
    """Return a session of trades over twelve bars; the companion's first turn is 16 to 32."""
    made = setup(
        chart=LONG, seed=seed, style=giving_way(how), styles=(), turns=Turns("trade", bars)
    )
    return play(made, inputs, until=until)


def first_reply(run: Run) -> list[Record]:
    """Return the notes of the first reply as they were left."""
    return run.notes()[run.replies[0]["id"]]


def end(notes: list[Record]) -> float:
    """Return the beat on which they end."""
    return float(max(n["beat"] + n["beats"] for n in notes))


def reasons(run: Run) -> list[str]:
    """Return what the log was told of replies that were cut."""
    return [r["reason"] for r in run.of("reply") if "replans" in r]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("entry", [18.5, 20.0, 23.25, 26.5])
def test_it_yields_within_an_eighth(seed: int, entry: float) -> None:
    """In trades as in free playing, on a note that may end a reply; and the log says why. Where
    no such note begins in time, the next one that may end it is the last, and short."""
    run = trades("yield", [*CALL, *line(entry, entry + 4)], seed)
    notes = first_reply(run)
    # a key may be a chord's for 40 ms, which is 0.08 of a beat here
    resolves = notes[-1]["beat"] > entry + 0.08 + EIGHTH - 0.25
    assert end(notes) <= entry + EIGHTH + 0.1 + (0.25 if resolves else 0.0)
    assert notes[-1]["role"] in ("chord tone", "tension", "anticipation")
    if end(first_reply(trades("yield", CALL, seed))) > entry + EIGHTH + 0.1:
        assert reasons(run)[0] == "the player came in: it yields"
    off = [2.0 * e for t, e, _ in run.sounded() if 2.0 * t < entry + 1.0]
    assert max(off) <= end(notes) + SWUNG


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("entry", [18.5, 20.0, 23.25])
def test_it_finishes_its_figure(seed: int, entry: float) -> None:
    """Not a note of what was planned is left out before the figure's end, a bar on at most."""
    alone = first_reply(trades("finish", CALL, seed))
    run = trades("finish", [*CALL, *line(entry, entry + 4)], seed)
    kept = first_reply(run)
    assert [n["pitch"] for n in kept] == [n["pitch"] for n in alone[: len(kept)]]
    assert end(kept) <= entry + BAR + 0.1
    said = max((n for n in alone if n["beat"] <= entry), key=lambda n: n["beat"])
    figure = [n for n in alone if n["move"] == said["move"] and n["beat"] >= said["beat"]]
    together = [a for a, b in pairwise([*figure, {"beat": 99.0}]) if b["beat"] - a["beat"] > 2.0]
    # A note that waits for its step gets it, an eighth after the player at the latest.
    assert end(kept) <= max(together[0]["beat"] + together[0]["beats"], entry + EIGHTH + 0.25)
    if len(kept) < len(alone):
        assert reasons(run)[0] == "the player came in: it finishes its figure"


def test_a_figure_takes_longer_than_an_eighth() -> None:
    """To finish is never less than to yield, and more where a figure goes on."""
    inputs = [*CALL, *line(20.0, 24)]
    ends = [
        [end(first_reply(trades(way, inputs, seed))) for way in ("finish", "yield")]
        for seed in range(16)
    ]
    assert all(finished >= yielded - 1e-6 for finished, yielded in ends)
    assert sum(finished > yielded for finished, yielded in ends) >= 3


def test_fours_become_twos() -> None:
    """The turn ends at once, and from the next seam of two bars on they trade twos."""
    run = trades("shorten", [*CALL, *line(20.0, 23.0)], until=31.0)
    assert run.turns() == [
        (0.0, "player"), (16.0, "companion"), (21.0, "player"), (24.0, "companion"),
        (32.0, "player"), (40.0, "companion"), (48.0, "player"), (56.0, "companion"),
    ]  # fmt: skip
    assert end(first_reply(run)) <= 20.6
    assert "shorter" in reasons(run)[0]
    assert run.replies[1]["answers"] == run.of("call")[1]["id"]
    assert run.of("call")[1]["notes"][0]["beat"] == pytest.approx(20.0)


def test_the_player_is_left_half_a_short_turn_at_least() -> None:
    """Who comes in right before a seam plays on over it."""
    run = trades("shorten", [*CALL, *line(23.0, 30.0)], until=16.5)
    assert run.turns()[:4] == [
        (0.0, "player"), (16.0, "companion"), (24.0, "player"), (32.0, "companion")
    ]  # fmt: skip


def test_turns_are_never_shorter_than_a_bar() -> None:
    """Twos become ones and stay so."""
    inputs = [*line(1, 7), *line(9, 12), *line(17.5, 19.5), *line(25.5, 27.5)]
    run = trades("shorten", inputs, until=24.0, bars=2)
    told = run.turns()
    assert len(told) > 8
    ones = [b - a for (a, _), (b, _) in pairwise(told[-5:])]
    assert ones == [BAR] * 4


def test_asked_to_trade_they_trade_as_they_began() -> None:
    """The cue takes shorter turns back."""
    run = trades("shorten", [*CALL, *line(20.0, 23.0), cue(16.1, "trade")], until=42.0)
    starts = [beat for beat, _ in run.turns() if beat >= 32.0]
    assert 16.0 in [b - a for a, b in pairwise(starts)]


def test_when_the_player_is_done_the_turn_goes_on() -> None:
    """After a rest the companion answers what was said, in what is left of its turn."""
    run = trades("yield", [*CALL, *line(20.0, 23.0)])
    assert [beat for beat, _ in run.turns()] == [0.0, 16.0, 32.0]
    again = run.notes()[run.replies[1]["id"]]
    assert 23.5 <= again[0]["beat"] <= 26.0
    assert run.replies[1]["answers"] == run.of("call")[1]["id"]


def test_after_a_stray_note_it_goes_on_with_what_it_was_saying() -> None:
    """One key by mistake is no call of its own."""
    run = trades("yield", [*CALL, *note(20.0, 0.4, 61)])
    assert len(run.of("call")) == 1
    assert [r["answers"] for r in run.replies] == [run.of("call")[0]["id"]] * 2
    assert run.replies[0]["notes"] != run.replies[1]["notes"]


def test_who_plays_on_has_begun_the_next_call() -> None:
    """The phrase that broke in belongs to it from its first note on."""
    run = trades("yield", [*CALL, *line(26.0, 46.0)], until=26.0)
    assert run.of("call")[1]["notes"][0]["beat"] == pytest.approx(26.0)


def test_a_pickup_into_the_next_turn_is_no_interruption() -> None:
    """A line over the companion's last pulse only makes its tail short."""
    run = trades("yield", [*CALL, *line(31.2, 38.0)])
    assert all("came in" not in reason for reason in reasons(run))


@pytest.mark.parametrize("kind", ["chorus", "solo"])
def test_a_long_solo_is_not_interrupted(kind: str) -> None:
    """A comment is a comment."""
    turns = Turns(kind, 4, "companion")  # type: ignore[arg-type]
    made = setup(chart=LONG, style=giving_way("yield"), styles=(), turns=turns)
    assert play(made, line(8, 12), until=16.0).sounded() == play(made, until=16.0).sounded()


@pytest.mark.parametrize("how", ["finish", "yield", "shorten"])
def test_a_free_player_gets_the_floor_back(how: str) -> None:
    """In free playing the rest of the turn is the player's, and what comes next is answered."""
    made = setup(chart=LONG, style=giving_way(how), styles=(), turns=Turns("free"))
    run = play(made, [*line(0, 13), *line(18.2, 26.0)], until=22.0)
    second = run.replies[1]
    limit = BAR if how == "finish" else EIGHTH
    assert end(first_reply(run)) <= 18.2 + limit + 0.1
    assert second["answers"] == run.of("call")[1]["id"]
    assert run.of("call")[1]["notes"][0]["beat"] == pytest.approx(18.2)


def test_a_free_companion_speaks_shorter_from_then_on() -> None:
    """Two bars become one."""
    lengths = {}
    for how in ("yield", "shorten"):
        made = setup(chart=LONG, style=giving_way(how), styles=(), turns=Turns("free"))
        run = play(made, [*line(0, 5), *line(9.6, 14.0)], until=16.0)
        mine = [r for r in run.of("turn") if r["who"] == "companion"]
        lengths[how] = mine[1]["beats"]
    assert lengths == {"yield": 8.0, "shorten": 4.0}
