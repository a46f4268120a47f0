"""Writing on pictures has no accents, and no question marks in their place."""

import numpy as np

from pipeline.report.pictures.drawing import text_size, with_caption


def test_a_text_with_accents_is_drawn_as_the_same_letters_without_them():
    picture = np.zeros((120, 960, 3), np.uint8)
    accents, bare = (
        "repetición 3: más rápido, ñ, ± 0,04 m",
        "repeticion 3: mas rapido, n, +/- 0,04 m",
    )
    assert text_size(picture, accents) == text_size(picture, bare)
    assert np.array_equal(with_caption(picture, accents), with_caption(picture, bare))
    assert not np.array_equal(with_caption(picture, accents), with_caption(picture, bare[:-3]))
