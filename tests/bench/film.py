"""Makes long films out of short ones: the same frames again, or longer rests between reps."""

from __future__ import annotations

from pathlib import Path

import numpy as np

QUIET_S = (0.55, 0.1)
"""From the first to the second of these times before a rep, the athlete stands quietly."""
NOISE, N_NOISES = 4.0, 8
"""Standard deviation of the grain that is added, of 255, and how many pictures of it there are."""


def loop_film(clip: Path, target: Path, *, seconds: float) -> Path:
    """Write the pictures of a clip one time after the other until the film is long enough.

    Parameters
    ----------
    clip
        A film whose first frame is a keyframe.
    target
        Where to write.
    seconds
        Least length.

    Returns
    -------
    Path
        `target`.
    """
    import av

    with av.open(str(clip)) as source, av.open(str(target), "w") as sink:
        stream = source.streams.video[0]
        copy = sink.add_stream_from_template(stream)
        packets = [packet for packet in source.demux(stream) if packet.dts is not None]
        first = min(packet.pts for packet in packets)
        step = stream.time_base
        length = max(packet.pts for packet in packets) + packets[-1].duration - first
        times = [(bytes(packet), packet.pts, packet.dts, packet.is_keyframe) for packet in packets]
        offset = 0
        while offset * step < seconds:
            for content, pts, dts, is_keyframe in times:
                packet = av.Packet(content)
                packet.pts, packet.dts = pts + offset, dts + offset
                packet.time_base, packet.is_keyframe = step, is_keyframe
                packet.stream = copy
                sink.mux(packet)
            offset += length
    return target


def order_with_rests(
    n_frames: int, fps: float, reps_s: list[tuple[float, float]], share: float
) -> list[int]:
    """Return frame numbers of a film in which reps fill a given share, or the film as it is.

    What stands before each rep is played backwards and forwards, again and again.

    Parameters
    ----------
    n_frames, fps
        Of the film.
    reps_s
        Start and stop of each rep.
    share
        Share of the new film that is inside reps.
    """
    inside = sum(stop - start for start, stop in reps_s) * fps
    missing = max(0, round(inside / share) - n_frames)
    order: list[int] = []
    done = 0
    for number, (start_s, _) in enumerate(reps_s):
        first, last = (round((start_s - away_s) * fps) for away_s in QUIET_S)
        order += range(done, last)
        done = last
        there_and_back = [*range(last - 1, first - 1, -1), *range(first, last)]
        wanted = missing * (number + 1) // len(reps_s) - missing * number // len(reps_s)
        n_rounds = round(wanted / len(there_and_back))
        order += there_and_back * n_rounds
    return [*order, *range(done, n_frames)]


def rest_film(
    clip: Path, target: Path, reps_s: list[tuple[float, float]], *, share: float, height_px: int
) -> Path:
    """Write a film of a clip with longer rests between its reps, enlarged and with grain.

    Parameters
    ----------
    clip, target
        The film, and where to write.
    reps_s, share
        As for `order_with_rests`.
    height_px
        Of the new film; its width follows.

    Returns
    -------
    Path
        `target`.
    """
    import av

    with av.open(str(clip)) as source:
        stream = source.streams.video[0]
        rate = stream.average_rate or 30
        pictures = [frame.to_ndarray(format="yuv420p") for frame in source.decode(stream)]
        width_px = round(height_px * stream.width / stream.height / 2) * 2
    order = order_with_rests(len(pictures), float(rate), reps_s, share)
    generator = np.random.default_rng(0)
    grain = generator.normal(0.0, NOISE, (N_NOISES, height_px, width_px)).astype(np.int16)
    with av.open(str(target), "w") as sink:
        options = {"preset": "veryfast", "crf": "21", "g": str(round(float(rate)))}
        out = sink.add_stream("libx264", rate=rate, options=options)
        out.width, out.height, out.pix_fmt = width_px, height_px, "yuv420p"
        for number, index in enumerate(order):
            frame = av.VideoFrame.from_ndarray(pictures[index], format="yuv420p")
            large = frame.reformat(width_px, height_px).to_ndarray()
            brightness = large[:height_px].astype(np.int16) + grain[number % N_NOISES]
            large[:height_px] = np.clip(brightness, 0, 255)
            sink.mux(out.encode(av.VideoFrame.from_ndarray(large, format="yuv420p")))
        sink.mux(out.encode(None))
    return target
