"""Can a judge tell the replies from people's phrases? ``python -m tests.bench.soloist_judge``.

About a hundred and forty features of a phrase (`soloist_features`), a boosted-tree classifier and
a logistic one, trained on the phrases of some tunes and tested on others. Printed: the area under
the curve (0.5: cannot tell; 1: tells at once) with and without the timing features, and the most
telling features with people's and the replies' means. People and replies are put on the grid and
cut into phrases by the same means; chords and tempi are the same. ``--chain`` adds a second-order
chain learnt from the same people as a reference. Needs scikit-learn and a data folder.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from math import isnan

import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.impute import SimpleImputer
from sklearn.inspection import permutation_importance
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import GroupKFold
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler
from threadpoolctl import threadpool_limits

from tests.bench import soloist_people as people
from tests.bench.soloist_calls import PROCESSES, arguments, exchanges, parsed, styles_of
from tests.bench.soloist_chain import chain_lines
from tests.bench.soloist_features import FEWEST, features_of, is_timing
from tests.bench.soloist_held_out import strangers
from tests.bench.soloist_lines import TICKS, Line, on_grid, phrase_numbers
from tests.bench.words import load, say

FOLDS = 5
LONGEST_BEATS = 18.0
"""A reply fits its turn: people's longer phrases are left out."""


@dataclass(frozen=True)
class Sample:
    """Rows of features with the tune each phrase is from."""

    rows: np.ndarray
    tunes: tuple[str, ...]
    names: tuple[str, ...]

    def without_timing(self) -> Sample:
        """Return the sample without the timing features."""
        kept = [i for i, name in enumerate(self.names) if not is_timing(name)]
        return Sample(self.rows[:, kept], self.tunes, tuple(self.names[i] for i in kept))


def regridded(line: Line) -> Line:
    """Return a line on the tools' own grid, cut into phrases by their own rule."""
    ticks = tuple(on_grid(line.heard, line.bpm))
    return replace(line, ticks=ticks, phrases=phrase_numbers(ticks, line.lengths))


def phrases_of(line: Line) -> list[Line]:
    """Return the phrases of a line that can be judged."""
    found = []
    for a, b in line.spans:
        if b - a >= FEWEST and line.ticks[b - 1] - line.ticks[a] <= LONGEST_BEATS * TICKS:
            found.append(cut(line, a, b))
    return found


def cut(line: Line, a: int, b: int) -> Line:
    """Return notes ``a`` to before ``b``."""
    return Line(
        line.name, line.bpm, line.ticks[a:b], line.heard[a:b], line.lengths[a:b],
        line.pitches[a:b], line.phrases[a:b], line.harmony, line.bar, line.velocities[a:b],
    )  # fmt: skip


def turns_of(solo: people.Solo) -> list[Line]:
    """Return what a person played in each turn of four bars."""
    return [people.ticks_in(solo.line, *turn) for turn in people.turns(solo)]


def sample_of(lines: Sequence[Line], *, whole: bool = False) -> Sample:
    """Return the features of every phrase of ``lines``, or of each line as a whole."""
    placed = [regridded(line) for line in lines if len(line) >= FEWEST]
    phrases = placed if whole else [phrase for line in placed for phrase in phrases_of(line)]
    with ProcessPoolExecutor(PROCESSES) as pool:
        rows = list(pool.map(features_of, phrases, chunksize=32))
    names = tuple(rows[0])
    values = np.array([[float(row[name]) for name in names] for row in rows])
    return Sample(values, tuple(phrase.name for phrase in phrases), names)


def every_second(sample: Sample, first: int) -> Sample:
    """Return every second phrase of a sample."""
    return Sample(sample.rows[first::2], sample.tunes[first::2], sample.names)


def balanced(human: Sample, machine: Sample, seed: int) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Return rows, labels (1: a person) and tunes, as many of one as of the other."""
    rng = np.random.default_rng((seed, 3))
    count = min(len(human.rows), len(machine.rows))
    picked = [rng.permutation(len(s.rows))[:count] for s in (human, machine)]
    rows = np.concatenate([human.rows[picked[0]], machine.rows[picked[1]]])
    tunes = [human.tunes[i] for i in picked[0]] + [machine.tunes[i] for i in picked[1]]
    return rows, np.repeat([1, 0], count), tunes


def judged(human: Sample, machine: Sample, seed: int = 1) -> dict[str, float]:
    """Return the area under the curve of each judge on tunes it was not trained on."""
    rows, labels, tunes = balanced(human, machine, seed)
    judges = {
        "trees": _trees(seed),
        "logistic": make_pipeline(
            SimpleImputer(), StandardScaler(), LogisticRegression(C=0.05, max_iter=2000)
        ),
    }  # fmt: skip
    found = {}
    for name, judge in judges.items():
        scores = np.zeros(len(labels))
        with threadpool_limits(limits=1):
            for train, test in GroupKFold(FOLDS).split(rows, labels, tunes):
                judge.fit(rows[train], labels[train])
                scores[test] = judge.predict_proba(rows[test])[:, 1]
        found[name] = float(roc_auc_score(labels, scores))
    return found


def _trees(seed: int) -> HistGradientBoostingClassifier:
    return HistGradientBoostingClassifier(
        max_iter=150, learning_rate=0.06, max_leaf_nodes=12, l2_regularization=1.0,
        random_state=seed,
    )  # fmt: skip


def leaned_on(human: Sample, machine: Sample, seed: int) -> list[tuple[float, str]]:
    """Return what the trees lean on, the others being there too: how much area is lost when a
    feature is shuffled in the phrases they are tested on; the most first."""
    rows, labels, tunes = balanced(human, machine, seed)
    lost = np.zeros(rows.shape[1])
    folds = list(GroupKFold(FOLDS).split(rows, labels, tunes))[:3]
    with threadpool_limits(limits=1):
        for train, test in folds:
            judge = _trees(seed).fit(rows[train], labels[train])
            found = permutation_importance(
                judge, rows[test], labels[test], scoring="roc_auc", n_repeats=3, random_state=seed
            )
            lost += found.importances_mean / len(folds)
    order = np.argsort(-lost)
    return [(float(lost[i]), human.names[i]) for i in order]


def telling(human: Sample, machine: Sample) -> list[tuple[float, str, float, float, float]]:
    """Return by itself how far each feature tells: area, name, people's mean and spread, the
    replies' mean; the most telling first."""
    found = []
    for index, name in enumerate(human.names):
        a, b = human.rows[:, index], machine.rows[:, index]
        a, b = a[~np.isnan(a)], b[~np.isnan(b)]
        if len(a) < 20 or len(b) < 20:
            continue
        labels = np.repeat([1, 0], [len(a), len(b)])
        area = float(roc_auc_score(labels, np.concatenate([a, b])))
        found.append((area, name, float(a.mean()), float(a.std()), float(b.mean())))
    return sorted(found, key=lambda row: -abs(row[0] - 0.5))


def groups(human: Sample, machine: Sample, seed: int) -> list[tuple[str, int, float]]:
    """Return the trees' area on each group of features by itself."""
    heads = sorted({_head(name) for name in human.names})
    found = []
    for head in heads:
        kept = [i for i, name in enumerate(human.names) if _head(name) == head]
        parts = [Sample(s.rows[:, kept], s.tunes, ()) for s in (human, machine)]
        found.append((head, len(kept), judged(parts[0], parts[1], seed)["trees"]))
    return sorted(found, key=lambda row: -row[2])


def _head(name: str) -> str:
    return name.replace(",", " ").replace(":", " ").split(" ")[0]


def say_judgement(title: str, human: Sample, machine: Sample, seed: int) -> None:
    """Print the areas of one set of phrases."""
    plain = judged(human.without_timing(), machine.without_timing(), seed)
    timed = judged(human, machine, seed)
    say(f"{title:<26}{len(machine.rows):6} phrases   notes alone: trees {plain['trees']:.3f},"
        f" logistic {plain['logistic']:.3f}   with timing: trees {timed['trees']:.3f},"
        f" logistic {timed['logistic']:.3f}")  # fmt: skip


def main(given: Sequence[str] | None = None) -> int:
    """Judge and print."""
    parser = arguments("soloist_judge", __doc__ or "", replies=1000)
    parser.add_argument("--most", type=int, default=40, help="features printed")
    parser.add_argument("--turns", action="store_true", help="whole turns instead of phrases")
    parser.add_argument(
        "--held-out", action="store_true", help="by an idiom that does not know these people"
    )
    parser.add_argument("--chain", action="store_true", help="judge a second-order chain too")
    options = parsed(parser, given, 350)
    everybody = people.solos(people.folder(options.data))
    human = [one for one in everybody if one.mainstream]
    if not human:
        say("no human solos: name their folder by --data or JAM_SOLOS")
        return 2
    known = {one.name for one in human}
    if options.held_out:
        found = strangers(human, everybody, styles_of(options), options)
    else:
        found = [one for one in exchanges(options) if one.tune in known or options.charts]
    whole = options.turns
    said = [turn for one in human for turn in turns_of(one)] if whole else [o.line for o in human]
    person = sample_of(said, whole=whole)
    machine = sample_of([one.reply for one in found], whole=whole)
    kind = "turns" if whole else "phrases"
    say(f"{len(person.rows)} {kind} of {len(human)} people's solos, {len(person.names)} features;"
        f" replies of {', '.join(styles_of(options))}; 0.5: cannot tell, 1: at once")  # fmt: skip
    say_judgement("replies", person, machine, options.seed)
    if not options.quick:
        say_judgement(
            "the same people (floor)",
            every_second(person, 0),
            every_second(person, 1),
            options.seed,
        )
        for style in styles_of(options) if "," in options.styles or options.styles == "all" else ():
            own = sample_of([one.reply for one in found if one.style == style], whole=whole)
            say_judgement(style, person, own, options.seed)
    if options.chain:
        made = sample_of(chain_lines(human, options.seed), whole=whole)
        say_judgement("second-order chain", person, made, options.seed)
    say("\ngroup of features by itself (trees)")
    for head, count, area in groups(person, machine, options.seed):
        say(f"  {head:<12}{count:4} features  {area:.3f}")
    heads = f"{'area':>6}{'people':>9}{'spread':>9}{'replies':>9}"
    say(f"\n{'the most telling by themselves':<46}{heads}")
    for area, name, mean, spread, other in telling(person, machine)[: options.most]:
        way = "too low" if other < mean else "too high"
        if isnan(other):
            continue
        say(f"  {name:<44}{area:6.2f}{mean:9.2f}{spread:9.2f}{other:9.2f}  {way}")
    say("\nwhat the trees lean on, notes alone (area lost when it is shuffled)")
    bare = person.without_timing(), machine.without_timing()
    means = {name: (a, b) for _, name, a, _, b in telling(*bare)}
    for lost, name in leaned_on(*bare, options.seed)[: options.most // 2]:
        a, b = means.get(name, (float("nan"), float("nan")))
        say(f"  {name:<44}{lost:6.3f}{a:9.2f}{'':9}{b:9.2f}")
    say(load())
    return 0


if __name__ == "__main__":
    sys.exit(main())
