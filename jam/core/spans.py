"""Declared spans of a reply, and what becomes of them when its tail is planned anew.

Like notes, spans from the beat of the new tail on are gone, and one that reaches over it ends
there. In the log a span stands until another one of its reply with the same beat is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from jam import log
from jam.players.soloist.request import ImpliedSpan

_EPS = 1e-6


def kept_spans(
    spans: Sequence[ImpliedSpan], from_beat: float, fresh: Iterable[ImpliedSpan]
) -> tuple[ImpliedSpan, ...]:
    """Return what is left of ``spans`` before ``from_beat``, and the ``fresh`` ones after it."""
    kept = [_part(span, span.beat, min(_end(span), from_beat)) for span in spans]
    tail = [_part(span, max(span.beat, from_beat), _end(span)) for span in fresh]
    return tuple(span for span in (*kept, *tail) if span.beats > _EPS)


def span_records(
    reply: int, before: Sequence[ImpliedSpan], after: Sequence[ImpliedSpan], at: float
) -> list[log.Record]:
    """Return what the log has to be told when the spans of ``reply`` change."""
    places = {span.beat for span in after}
    gone = [span for span in before if span.beat not in places]
    told = [log.span(at, reply, span.beat, 0.0, span.chord.symbol) for span in gone]
    news = [span for span in after if span not in before]
    return told + [log.span(at, reply, s.beat, s.beats, s.chord.symbol) for s in news]


def _part(span: ImpliedSpan, beat: float, end: float) -> ImpliedSpan:
    return ImpliedSpan(beat, end - beat, span.chord)


def _end(span: ImpliedSpan) -> float:
    return span.beat + span.beats
