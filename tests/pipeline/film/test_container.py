"""What a film file states of itself."""

import av
import pytest

from pipeline.film.container import captured_rate_hz, opened


@pytest.mark.parametrize(("stated", "rate_hz"), [("240.000000", 240.0), ("no", None), (None, None)])
def test_the_rate_at_which_a_phone_filmed_is_read(tmp_path, stated, rate_hz):
    path = tmp_path / "film.mp4"
    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as film:
        if stated is not None:
            film.metadata["com.android.capture.fps"] = stated
        stream = film.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        film.mux(stream.encode(av.VideoFrame(64, 48, "yuv420p")))
        film.mux(stream.encode())
    with opened(path) as (container, _):
        assert captured_rate_hz(container) == rate_hz
