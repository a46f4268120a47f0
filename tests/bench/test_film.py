import av
import numpy as np

from tests.bench.film import loop_film


def test_looped_film_has_the_same_frames_again_and_rising_times(tmp_path):
    short = tmp_path / "short.mp4"
    with av.open(str(short), "w") as sink:
        stream = sink.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for i_frame in range(15):
            picture = np.full((48, 64, 3), 10 * i_frame, np.uint8)
            sink.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        sink.mux(stream.encode(None))
    with av.open(str(loop_film(short, tmp_path / "long.mp4", seconds=1.8))) as film:
        frames = [
            (frame.time, frame.to_ndarray(format="gray").mean()) for frame in film.decode(video=0)
        ]
    times, grey = np.array(frames).T
    assert len(frames) == 60
    assert np.allclose(np.diff(times), 1 / 30, atol=1e-3)
    assert np.allclose(grey[:15], grey[45:], atol=1.0)
