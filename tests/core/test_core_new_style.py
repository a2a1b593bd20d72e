"""A style whose file was changed takes its place at the next bar line, and holds for the next
reply to begin, whether that was planned before or not."""

from __future__ import annotations

import json

import pytest
from asked import listen_in
from sessions import OTHER_STYLE, STYLE, Run, cue, line, play, setup, tune

from jam.core.setup import TurnKind, Turns
from jam.core.style_rack import NEW_STYLE, new_style_value
from jam.events import Intent
from jam.log import grained
from jam.styles.profile import Rhythm, Style

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
CHANGED = STYLE.model_copy(update={"rhythm": Rhythm(density=2.6, triplets=1 / 3)})
GUIDES = STYLE.model_copy(update={"material": "guide tones"})
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


def in_style(run: Run, number: int) -> list[str]:
    """Return the reasons for which the reply of that id was planned anew."""
    return [r["reason"] for r in run.of("reply") if r["id"] == number and "replans" in r]


@pytest.mark.parametrize("sec", [6.6, 7.1, 7.3, 7.6])
@pytest.mark.parametrize("manner", ["trade", "free"])
def test_a_reply_that_has_not_begun_is_in_the_new_style(sec: float, manner: TurnKind) -> None:
    """Planned before the news came or after: the same notes as if they had come long before."""
    made = setup(chart=LONG, turns=Turns(manner, 4))
    run, early, never = (
        play(made, [*line(8, 14.0), *news], until=12.5)
        for news in ([changed(sec, GUIDES)], [changed(5.0, GUIDES)], [])
    )
    assert early.replies
    assert early.replies[0]["notes"] != never.replies[0]["notes"], "a test of nothing"
    assert [n["beat"] for n in run.spoken()] == [n["beat"] for n in early.spoken()]
    assert [n["pitch"] for n in run.spoken()] == [n["pitch"] for n in early.spoken()]


def test_next_style_holds_for_a_reply_that_has_not_begun() -> None:
    """It is planned anew, with its reason in the log; nothing that was planned before is heard."""
    made = setup(chart=LONG, styles=(STYLE, GUIDES.model_copy(update={"name": "other"})))
    run = play(made, [*line(8, 13.5), cue(7.55, "next style")], until=12.0)
    early = play(made, [*line(8, 13.5), cue(5.0, "next style")], until=12.0)
    (first,) = run.replies
    assert in_style(run, first["id"]) == ["another style is played"]
    assert in_style(early, first["id"]) == []
    assert [n["pitch"] for n in run.spoken()] == [n["pitch"] for n in early.spoken()]
    assert [p for _, _, p in run.sounded()] == [p for _, _, p in early.sounded()]


def test_a_reply_that_has_begun_stays() -> None:
    """News and *next style* that come while it sounds change no note of it."""
    alone = play(setup(chart=LONG), line(8, 14.0), until=12.5)
    (first,) = alone.replies
    for news in (changed(8.6), cue(8.6, "next style")):
        run = play(setup(chart=LONG), [*line(8, 14.0), news], until=12.5)
        assert run.notes()[first["id"]] == alone.notes()[first["id"]]


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
