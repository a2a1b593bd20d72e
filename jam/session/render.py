"""`jam render`: the companion plays along with files, as fast as the machine goes."""

from __future__ import annotations

from jam.session.options import RenderOptions
from jam.session.perform import Performance, perform
from jam.session.plan import plan_render

RenderResult = Performance
"""What a render returns: ``folder``, ``log``, ``length_sec``, ``wall_sec`` and ``text``."""


def render(options: RenderOptions) -> RenderResult:
    """Render into ``options.out``; raises InputError for what cannot be used.

    Everything is read and checked before the folder is made.
    """
    return perform(options.out, plan_render(options), wav=options.wav)
