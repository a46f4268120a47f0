import av
import numpy as np

from tests.bench.film import loop_film, order_with_rests


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


def test_longer_rests_give_the_wanted_share_and_leave_reps_whole():
    reps_s = [(1.0, 2.0), (3.0, 4.0)]
    order = order_with_rests(150, 30.0, reps_s, 0.2)
    assert 0.18 < 60 / len(order) < 0.22
    text = ",".join(map(str, order))
    for start, stop in ((30, 60), (90, 120)):
        assert text.count(",".join(map(str, range(start, stop)))) == 1
    assert set(np.abs(np.diff(order))) <= {0, 1}
    assert order_with_rests(150, 30.0, reps_s, 0.9) == list(range(150))
