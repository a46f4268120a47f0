"""A team's own layer over the shipped move classifier: learned from corrections in seconds.

What the last layer of the shipped networks sees, and the probabilities that they give, go into one
more logistic layer. Its weights are drawn towards 0, at which it changes nothing: so the shipped
classifier is the prior, and few corrections change little but what is like them. Moments of the
corrected films that nobody corrected keep it near the shipped classifier's output on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.moves.classifier import MoveClassifier, softmax
from pipeline.core.messages import message
from pipeline.core.types import FloatArray

TOWARDS_NOTHING = 0.3
"""Strength of the prior: half of it times the sum of squared weights is added to the loss."""

WEIGHT_OF_LESSON, WEIGHT_OF_ANCHOR = 3.0, 1.5
"""How much a correction counts, however many moments it has, and a moment that nobody corrected.
Chosen on rendered film that is named without its defender, and so worse than usual: with 7
corrections of one move in 4 films 82 instead of 37 of 89 of its reps in other films were named
rightly, 232 instead of 230 of 237 others, and 0.6 instead of 0.3 % of the moments between reps were
taken for one (means of three draws)."""

LEAST_PROBABILITY = 1e-6
BIAS = 0.3
"""A constant among the inputs, small, so that a class as such is not soon preferred."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """Some moments and what they are.

    Attributes
    ----------
    features
        (m, n_features) moments about one key moment.
    label
        A class of the classifier.
    clip
        Digest of the film.
    """

    features: FloatArray
    label: str
    clip: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TeamLayer:
    """What was learned.

    Attributes
    ----------
    centre, scale
        (n_hidden,) by which the inputs are standardised.
    weights
        (n_hidden + 1, n_classes); the last row belongs to the constant.
    """

    centre: FloatArray
    scale: FloatArray
    weights: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TeamClassifier(MoveClassifier):
    """The shipped classifier with a team's own layer over it.

    Attributes
    ----------
    layer
        What was learned.
    version
        Number under which it is kept; 0 = it is not.
    """

    layer: TeamLayer
    version: int = 0

    def probabilities(self, features: FloatArray) -> FloatArray:
        """As `MoveClassifier.probabilities`, after the corrections."""
        return self.taught(features, MoveClassifier.probabilities(self, features))

    def taught(self, features: FloatArray, probabilities: FloatArray) -> FloatArray:
        """As `MoveClassifier.taught`: the corrections have the last word, over definitions too."""
        inputs = _inputs(self, features, self.layer.centre, self.layer.scale)
        return softmax(_logarithms(probabilities) + inputs @ self.layer.weights)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOut:
    """How a layer does on films from which nothing was learned.

    Attributes
    ----------
    n
        Corrections that were held out, one film at a time.
    right_before, right_after
        How many of them are named rightly without the layer and with it.
    n_films
        Films.
    changed
        Share of the moments nobody corrected that are named otherwise; NaN without any.
    """

    n: int
    right_before: int
    right_after: int
    n_films: int
    changed: float


def with_layer(base: MoveClassifier, layer: TeamLayer, version: int = 0) -> TeamClassifier:
    """Put a layer over a classifier."""
    return TeamClassifier(
        classes=base.classes,
        centre=base.centre,
        scale=base.scale,
        naming=base.naming,
        reaching=base.reaching,
        temperature=base.temperature,
        layer=layer,
        version=version,
    )


def fit_layer(
    base: MoveClassifier, lessons: Sequence[Lesson], anchors: Sequence[Lesson]
) -> TeamLayer:
    """Learn a layer.

    Parameters
    ----------
    base
        The shipped classifier.
    lessons
        What was corrected; each counts once, however many moments it has. At least one.
    anchors
        Moments that nobody corrected; their labels are not used.

    Returns
    -------
    TeamLayer
        The least loss: cross-entropy of the lessons, of the anchors against what the shipped
        classifier gives, and the prior.
    """
    from scipy.optimize import minimize

    features = np.concatenate([one.features for one in (*lessons, *anchors)])
    hidden = base.hidden(features)
    centre, scale = hidden.mean(axis=0), hidden.std(axis=0)
    scale = scale + 0.1 * float(hidden.std()) + 1e-9
    inputs = _inputs(base, features, centre, scale)
    shipped = MoveClassifier.probabilities(base, features)
    start = _logarithms(shipped)
    wanted, weight = shipped.copy(), np.full(len(features), WEIGHT_OF_ANCHOR)
    row = 0
    for lesson in lessons:
        rows = slice(row, row + len(lesson.features))
        wanted[rows] = np.array(base.classes) == lesson.label
        weight[rows] = WEIGHT_OF_LESSON / len(lesson.features)
        row = rows.stop
    shape = inputs.shape[1], len(base.classes)

    def loss(flat: FloatArray) -> tuple[float, FloatArray]:
        weights = flat.reshape(shape)
        likely = softmax(start + inputs @ weights)
        entropy = -np.sum(weight[:, None] * wanted * np.log(np.maximum(likely, 1e-12)))
        slope = inputs.T @ (weight[:, None] * (likely - wanted)) + TOWARDS_NOTHING * weights
        return float(entropy + 0.5 * TOWARDS_NOTHING * np.sum(weights**2)), slope.ravel()

    best = minimize(loss, np.zeros(shape[0] * shape[1]), jac=True, method="L-BFGS-B")
    return TeamLayer(centre=centre, scale=scale, weights=best.x.reshape(shape))


def hold_out(base: MoveClassifier, lessons: Sequence[Lesson], anchors: Sequence[Lesson]) -> HeldOut:
    """Leave out one film at a time, learn from the others, and see how it is named.

    Parameters
    ----------
    base, lessons, anchors
        As for `fit_layer`; the lessons come from two films at least, or nothing is held out.
    """
    films = list(dict.fromkeys(lesson.clip for lesson in lessons))
    n = before = after = moments = changed = 0
    if len(films) > 1:
        for film in films:
            layer = fit_layer(
                base,
                [lesson for lesson in lessons if lesson.clip != film],
                [anchor for anchor in anchors if anchor.clip != film],
            )
            other = with_layer(base, layer)
            for lesson in lessons:
                if lesson.clip == film:
                    n += 1
                    before += named(base, lesson.features) == lesson.label
                    after += named(other, lesson.features) == lesson.label
            for anchor in anchors:
                if anchor.clip == film:
                    here = [c.probabilities(anchor.features).argmax(axis=1) for c in (base, other)]
                    moments += len(anchor.features)
                    changed += int((here[0] != here[1]).sum())
    return HeldOut(
        n=n,
        right_before=before,
        right_after=after,
        n_films=len(films),
        changed=changed / moments if moments else float("nan"),
    )


def named(classifier: MoveClassifier, features: FloatArray) -> str:
    """Tell the likeliest class of some moments together."""
    mean = classifier.probabilities(features).mean(axis=0)
    return classifier.classes[int(np.argmax(mean))]


def named_by(classifier: MoveClassifier | None) -> tuple[str, ...]:
    """Note for an analysis: that the moves were named by what was learned, if they were."""
    if not isinstance(classifier, TeamClassifier):
        return ()
    return (message("film.taught", version=classifier.version),)


def _inputs(
    base: MoveClassifier, features: FloatArray, centre: FloatArray, scale: FloatArray
) -> FloatArray:
    """(m, n_hidden + 1) standardised, of about unit length together, and the constant."""
    hidden = (base.hidden(features) - centre) / scale / np.sqrt(centre.size)
    return np.column_stack([hidden, np.full(len(hidden), BIAS)])


def _logarithms(probabilities: FloatArray) -> FloatArray:
    return np.asarray(np.log(np.maximum(probabilities, LEAST_PROBABILITY)))
