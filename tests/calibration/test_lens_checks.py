"""Results that are not to be used are refused; the refusals of films are in ``test_lens``."""

import numpy as np
import pytest

from calibration.board_views import BoardView
from calibration.lens_checks import check_result, check_variety
from pipeline.core.errors import CalibrationError
from pipeline.core.messages import shipped
from tests.fixtures.lenses import PHONE, phone


def test_a_good_result_passes():
    check_result(PHONE)


@pytest.mark.parametrize(
    ("lens", "says"),
    [
        (phone(u_focal_px=(30.0, 1.0)), r"only known to 2\.0%.*steeper angles"),
        (phone(u_focal_px=(float("nan"),) * 2), "only known to nan"),
        (phone(reprojection_px=1.2), r"1\.20 px.*1\.00 px is the most.*stabilisation"),
        (phone(reprojection_px=float("nan")), "do not fit together"),
        (phone(principal_px=(-40.0, 531.0)), "no lens explains.*flat and stiff"),
        (phone(principal_px=(975.0, 1200.0)), "no lens explains"),
    ],
)
def test_a_result_that_is_not_to_be_used_is_refused(lens, says):
    with pytest.raises(CalibrationError, match=says):
        check_result(lens)


def test_every_bare_edge_is_told_in_the_language_that_is_read():
    middle = np.array([[0.4, 0.4], [0.5, 0.5], [0.45, 0.6], [0.9, 0.9]]) * (1920, 1080)
    view = BoardView(frame=0, corner=np.arange(4), image_px=middle, square_px=100.0, blur_px=0.0)
    with pytest.raises(CalibrationError, match="near the left and the top edge of") as caught:
        check_variety([view], 60.0, (1920, 1080))
    assert "al borde izquierdo y al superior de la imagen" in caught.value.translate(shipped("es"))
