"""Declared spans: told with the reply, and taken back with the notes they were made for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sessions import Run, chord, cue, line, play, setup

from jam.core import anew, conversation
from jam.core.spans import kept_spans
from jam.events import Input
from jam.harmony.symbols import parse_chord
from jam.log import read_log, to_line
from jam.players.soloist.request import ImpliedSpan, Prefix, Reply, Request

EBM7, AB7 = parse_chord("Ebm7"), parse_chord("Ab7")
CALL = line(8, 14.5)


def declared(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every reply declare two spans of two beats in its turn, and every new tail one."""
    answer, answer_anew = conversation.answer, anew.answer_anew

    def answers(request: Request) -> Reply:
        start = request.window.start
        spans = ImpliedSpan(start + 4.0, 2.0, EBM7), ImpliedSpan(start + 8.0, 2.0, AB7)
        return replace(answer(request), spans=spans)

    def tail(request: Request, reply: Reply, prefix: Prefix) -> Reply:
        span = ImpliedSpan(request.window.start + 12.0, 1.0, EBM7)
        return replace(answer_anew(request, reply, prefix), spans=(span,))

    monkeypatch.setattr(conversation, "answer", answers)
    monkeypatch.setattr(anew, "answer_anew", tail)


def standing(run: Run) -> list[tuple[float, float, str]]:
    """Return the spans that stand at the end: beat, beats and chord."""
    latest = {(r["reply"], r["beat"]): r for r in run.of("span")}
    spans = [latest[key] for key in sorted(latest)]
    return [(s["beat"], s["beats"], s["implied"]) for s in spans if s["beats"] > 0]


def test_a_span_is_told_with_its_reply(monkeypatch: pytest.MonkeyPatch) -> None:
    """Right after it, under its number, and a log that holds it can be read again."""
    declared(monkeypatch)
    run = play(setup(), CALL, until=16.0)
    place = run.records.index(run.replies[0])
    told = run.records[place + 1 : place + 3]
    assert [record["kind"] for record in told] == ["span", "span"]
    assert {record["reply"] for record in told} == {run.replies[0]["id"]}
    assert standing(run) == [(20.0, 2.0, "Ebm7"), (24.0, 2.0, "Ab7")]
    header = {"kind": "session", "format": 1, "program": "0", "machine": "-", "seed": 1}
    header |= {"style": "made", "chart": None, "clock": "internal"}
    lines = [to_line(record) + "\n" for record in [header, *run.records]]
    assert len(read_log(lines, "made").of("span")) == 2


@pytest.mark.parametrize("beat", [17.0, 19.0, 20.5, 21.0, 23.0, 25.0])
def test_a_span_ends_where_its_reply_is_cut(beat: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of it stands where the notes have gone."""
    declared(monkeypatch)
    run = play(setup(), [*CALL, cue(beat / 2.0, "lay out")], until=16.0)
    cut = min(r["from_beat"] for r in run.of("reply") if "replans" in r)
    whole = ((20.0, 2.0, "Ebm7"), (24.0, 2.0, "Ab7"))
    left = [(b, min(n, cut - b), name) for b, n, name in whole if b < cut]
    assert standing(run) == left


def test_a_reply_taken_back_leaves_no_span(monkeypatch: pytest.MonkeyPatch) -> None:
    """What never sounded went over no other chord."""
    declared(monkeypatch)
    run = play(setup(), [*CALL, *line(15.2, 40)], until=15.0)
    assert run.of("span")
    assert not standing(run)


def test_a_new_tail_brings_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those of the old tail are gone."""
    declared(monkeypatch)
    inputs: list[Input] = [*chord(0, 21.9, (48, 52, 55, 59), port="band"), *CALL]
    inputs += chord(22, 16, (49, 53, 56, 59), port="band")
    run = play(setup(chart=None), inputs, until=15.5)
    assert [r for r in run.of("reply") if r.get("replans") and r["notes"]]
    assert standing(run) == [(20.0, 2.0, "Ebm7"), (28.0, 1.0, "Ebm7")]


def test_what_reaches_over_the_new_tail_is_split() -> None:
    """The part before it stays; a new span does not begin before it."""
    old, new = ImpliedSpan(4.0, 3.0, EBM7), ImpliedSpan(4.0, 4.0, AB7)
    assert kept_spans((old,), 6.0, ()) == (ImpliedSpan(4.0, 2.0, EBM7),)
    assert kept_spans((old,), 4.0, (new,)) == (new,)
    assert kept_spans((), 6.0, (new,)) == (ImpliedSpan(6.0, 2.0, AB7),)
