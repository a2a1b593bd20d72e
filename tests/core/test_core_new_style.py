"""A style whose file was changed takes its place at the next bar line, for the next reply."""

from __future__ import annotations

import json

import pytest
from asked import listen_in
from sessions import OTHER_STYLE, STYLE, cue, line, play, setup, tune

from jam.core.setup import Turns
from jam.core.style_rack import NEW_STYLE, new_style_value
from jam.events import Intent
from jam.log import grained
from jam.styles.profile import Rhythm, Style

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
CHANGED = STYLE.model_copy(update={"rhythm": Rhythm(density=2.6, triplets=1 / 3)})
CALLS = [*line(8, 14.5), *line(40, 46.5)]


def changed(t: float, style: Style = CHANGED, replaces: str = "made") -> Intent:
    """Return the news of a changed style."""
    return Intent(t, NEW_STYLE, new_style_value(replaces, style))


def test_the_next_reply_is_in_the_new_style(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the next bar line on; the reply that is being played stays as it was planned."""
    asked = listen_in(monkeypatch)
    run = play(setup(chart=LONG), [*CALLS, changed(9.1)], until=31.0)
    alone = play(setup(chart=LONG), CALLS, until=31.0)
    first = run.replies[0]["id"]
    assert run.notes()[first] == alone.notes()[first]
    assert asked[0].style == STYLE
    assert asked[1].style.rhythm.density == 2.6
    told = [r for r in run.of("cue") if r["name"] == NEW_STYLE]
    # beat 18.2 lies in the bar that ends on beat 20, which is second 10
    assert [(r["t"], r["style"]) for r in told] == [(10.0, "made")]


def test_a_style_may_change_its_name() -> None:
    """The new name is shown from the bar line on, and *next style* goes on from there."""
    renamed = CHANGED.model_copy(update={"name": "renamed"})
    run = play(setup(chart=LONG), [changed(1.1, renamed), cue(4.0, "next style")], until=6.0)
    shown = [(shot.now, shot.style) for shot in run.shots]
    assert max(now for now, style in shown if style == "made") == pytest.approx(2.0, abs=0.13)
    assert shown[-1][1] == "other"


def test_a_style_that_is_not_played_changes_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is heard when it is asked for."""
    asked = listen_in(monkeypatch)
    other = OTHER_STYLE.model_copy(update={"landing": ["5"]})
    inputs = [*CALLS, changed(1.0, other, "other"), cue(12.0, "next style")]
    play(setup(chart=LONG), inputs, until=31.0)
    assert asked[0].style == STYLE
    assert asked[1].style == other


def test_before_the_clock_starts_it_changes_at_once() -> None:
    """There is no bar line to wait for."""
    renamed = CHANGED.model_copy(update={"name": "renamed"})
    run = play(setup(chart=LONG, autostart=False), [changed(0.5, renamed)], until=1.0)
    assert run.shots[-1].style == "renamed"


@pytest.mark.parametrize(
    "value",
    [None, "made", {}, {"replaces": "made"}, {"replaces": "made", "style": {"name": "x"}},
     {"replaces": "made", "style": {**CHANGED.model_dump(mode="json"), "landing": ["14"]}}],
)  # fmt: skip
def test_what_is_no_style_is_told_and_changes_nothing(
    value: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The edge hands on what it has read and checked; even so the core minds."""
    asked = listen_in(monkeypatch)
    run = play(setup(chart=LONG), [*CALLS, Intent(9.0, NEW_STYLE, value)], until=31.0)
    assert len(run.of("fault")) == 1
    assert "the one before is kept" in run.of("fault")[0]["what"]
    assert all(request.style == STYLE for request in asked)


def test_the_log_holds_the_whole_style() -> None:
    """Performed again from what the log keeps, the notes are the same."""
    inputs = [*CALLS, changed(9.1)]
    run = play(setup(chart=LONG, turns=Turns("trade", 2)), inputs, until=31.0)
    kept = [json.loads(json.dumps(grained(r))) for r in run.of("intent")]
    again = [*CALLS, *(Intent(r["t"], r["name"], r["value"]) for r in kept)]
    assert play(setup(chart=LONG, turns=Turns("trade", 2)), again, until=31.0).plays == run.plays
