"""When a cue counts: early and late, in one place.

Nobody presses a pedal on the bar line. A cue is *early* when it comes before the place it means,
and counts for the next one. It is *late* when it comes less than a pulse after that place (half a
bar at most, where the pulse is a bar), and still counts for it.

- *take it* counts for the next bar line; late, for the bar just begun. In the last bar of a
  section it counts for the next section, from the first beat of that bar on: nobody asks for a
  solo that begins with the last bar of a section. In a head it counts for what follows the head.
- *trade* counts for the top of the next chorus; late, for the chorus just begun. Without a chart
  it counts for the seams of so many bars.
- *lay out*, *stop*, *cut off*, *panic*, *hold tempo* and *follow* count at once.
- *last time*, *tag* and *fermata* are said beforehand: see `jam.core.form`.

Before the first downbeat everything counts for that.
"""

from __future__ import annotations

from jam.core.form import Form
from jam.transport.metre import Metre

_EPS = 1e-6


def late_beats(metre: Metre) -> float:
    """Return how long after a bar line a cue still counts for it."""
    return min(metre.pulse_beats, metre.bar_beats / 2.0)


def take_beat(form: Form, beat: float) -> float:
    """Return where the turn begins that is taken at ``beat``: it may be a little before."""
    if beat < 0.0:
        start = 0.0
    else:
        bar, into = form.bars.at(beat)
        late = into < late_beats(form.metre) - _EPS and not form.closes_section(bar)
        start = form.bars.start(bar if late else bar + 1)
    laid = form.at(start)
    return start if laid.phase == "chorus" else laid.end


def trade_beat(form: Form, beat: float, bars: int) -> float:
    """Return where trades of ``bars`` bars begin that are asked for at ``beat``."""
    if beat < 0.0:
        beat = 0.0
    late = late_beats(form.metre) - _EPS
    laid = form.at(beat)
    if laid.passage is not None:
        just_begun = laid.phase == "chorus" and beat - laid.start < late
        return laid.start if just_begun else laid.end
    bar, into = form.bars.at(beat)
    if bar % bars == 0 and into < late:
        return form.bars.start(bar)
    return form.bars.start(bar - bar % bars + bars)
