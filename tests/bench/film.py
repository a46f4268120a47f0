"""Makes a long film out of a short one, frame for frame the same, without decoding."""

from __future__ import annotations

from pathlib import Path


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
