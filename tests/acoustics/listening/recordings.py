"""Recordings for tests, coded by PyAV."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

KINDS = {
    "wav": ("wav", "pcm_s16le"),
    "flac": ("flac", "flac"),
    "ogg": ("ogg", "libopus"),
    "mp3": ("mp3", "libmp3lame"),
    "m4a": ("ipod", "aac"),
}
"""Container and codec by the ending of a file's name."""


def write(path: Path, sound: NDArray[np.floating[Any]], rate: int = 48000) -> Path:
    """Write `sound`, (m,) or (m, channels), full scale 1, coded as the name's ending says."""
    container, codec = KINDS[path.suffix[1:]]
    sound = sound.reshape(len(sound), -1)
    layout = {1: "mono", 2: "stereo", 6: "5.1"}[sound.shape[1]]
    whole = (np.clip(sound, -1, 1) * 32767).astype(np.int16)
    with av.open(str(path), "w", format=container) as file:
        stream = file.add_stream(codec, rate=rate, layout=layout)
        to_coder = av.AudioResampler(format=stream.codec_context.format, layout=layout, rate=rate)
        for begin in range(0, len(whole), 1024):
            packed = np.ascontiguousarray(whole[begin : begin + 1024]).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(packed, format="s16", layout=layout)
            frame.sample_rate, frame.pts = rate, begin
            for part in to_coder.resample(frame):
                file.mux(stream.encode(part))
        file.mux(stream.encode(None))
    return path
