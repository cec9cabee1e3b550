"""A process of its own that decodes one recording: whatever a hostile file makes a decoder do ends with it.

Run by `acoustics.listening.recording` as a script with an order (JSON) as its argument, the file as standard input. It
first limits its own memory and processor time. Standard output: one line of JSON with rate, channels and the length
that the file claims, then the samples, 32-bit floats, channels interleaved. A refusal is one line of JSON on standard
error, exit status 2. It imports nothing of the package, so that it starts quickly.
"""

from __future__ import annotations

import json
import os
import resource
import sys
from typing import Any, BinaryIO

import av
from av.audio.resampler import AudioResampler

CODECS = ("aac", "alac", "flac", "mp3", "mp3float", "opus", "vorbis")
_MOST_IN_A_FRAME = "200000"


class Refused(Exception):
    """A file that cannot be decoded: field, value and limit."""


def decode(file: BinaryIO, order: dict[str, Any], out: BinaryIO) -> None:
    """Write the sound of `file` to `out`. Raises Refused."""
    with av.open(file, "r", format=order["container"], metadata_errors="ignore") as container:
        if not container.streams.audio:
            raise Refused("FILE", "no sound", "must contain a sound track")
        stream = container.streams.audio[0]
        context = stream.codec_context
        if context.name not in CODECS and not context.name.startswith("pcm_"):
            raise Refused("FILE", context.name, f"must be coded as PCM or one of {', '.join(CODECS)}")
        rate, channels = context.sample_rate, context.channels
        if not order["lowest_rate"] <= rate <= order["highest_rate"]:
            raise Refused("rate", rate, f"must be {order['lowest_rate']} to {order['highest_rate']} samples a second")
        if not 1 <= channels <= order["channels"]:
            raise Refused("channels", channels, f"must be 1 to {order['channels']}")
        claimed = None if stream.duration is None else float(stream.duration * (stream.time_base or 0))
        if claimed is not None and claimed > order["seconds"]:
            raise Refused("seconds", claimed, f"must be at most {order['seconds']:g}")
        context.thread_count = 1
        context.options = {"max_samples": _MOST_IN_A_FRAME}
        out.write(json.dumps({"rate": rate, "channels": channels, "claimed": claimed}).encode() + b"\n")
        as_floats = AudioResampler(format="flt")
        most, heard = int(order["seconds"] * rate), 0
        for packet in container.demux(stream):
            if packet.is_corrupt:
                raise Refused("FILE", f"damaged after {heard / rate:.2f} s", "must be complete")
            for frame in packet.decode():
                if frame.sample_rate != rate or frame.layout.nb_channels != channels:
                    raise Refused("FILE", f"{frame.sample_rate} Hz", "must keep its rate and channels")
                for part in as_floats.resample(frame):
                    heard += part.samples
                    if heard > most:
                        raise Refused("seconds", round(heard / rate, 2), f"must be at most {order['seconds']:g}")
                    out.write(memoryview(part.planes[0])[: 4 * channels * part.samples])
        out.flush()


def main() -> int:
    """Decode standard input and return the exit status."""
    order = json.loads(sys.argv[1])
    # What it takes for itself, and not the libraries that it shares, where the system counts so.
    resource.setrlimit(resource.RLIMIT_DATA, (order["memory"], order["memory"]))
    resource.setrlimit(resource.RLIMIT_CPU, (order["processor_seconds"], order["processor_seconds"]))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    av.logging.set_level(av.logging.PANIC)
    with os.fdopen(0, "rb") as file, os.fdopen(1, "wb", buffering=1 << 16, closefd=False) as out:
        try:
            decode(file, order, out)
            return 0
        except Refused as refused:
            answer = refused.args
        except (MemoryError, av.error.MemoryError):
            answer = ("memory", "too much", f"must be decoded within {order['memory'] // 1_000_000} MB")
        except (av.error.FFmpegError, ValueError, OverflowError) as failed:
            reason = getattr(failed, "strerror", None) or type(failed).__name__
            answer = ("FILE", reason, "must be a whole recording that can be decoded")
    sys.stderr.write(json.dumps(answer))
    return 2


if __name__ == "__main__":
    sys.exit(main())
