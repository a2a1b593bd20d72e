"""The cues that were learnt by pressing them, as a text file of the user's own.

``config/cues.yaml`` in the user's folder has one key, ``cues``; what stands there goes before the
cues of the configuration. ``none`` instead of a trigger: nothing asks for that cue any more.
"""

from __future__ import annotations

from collections.abc import Mapping

import yaml

from jam.session.clashes import Learnt
from jam.session.triggers import NOTHING, CuesFile, Trigger, known_cue
from jam.yaml_text import validate

HEAD = (
    "# Cues that were learnt by pressing them (`jam cue`). They go before the cues of the\n"
    "# configuration; none: nothing asks for that cue.\n"
)


def load_learnt(text: str, source: str) -> Learnt:
    """Return the learnt cues in ``text``; raises InputError for anything that is none."""
    file, lines = validate(CuesFile, text, source)
    cues = {
        name: trigger if isinstance(trigger, Trigger) else None
        for name, trigger in file.cues.items()
    }
    rows = {
        known_cue(str(path[1])): line
        for path, line in lines.items()
        if len(path) == 2 and path[0] == "cues"
    }
    return Learnt(source, cues, rows)


def learnt_text(cues: Mapping[str, Trigger | None]) -> str:
    """Return the text of the file; what is read back equals what was written."""
    values = {
        name: NOTHING if trigger is None else trigger.model_dump(exclude_none=True)
        for name, trigger in cues.items()
    }
    return HEAD + yaml.safe_dump({"cues": values}, sort_keys=False)
