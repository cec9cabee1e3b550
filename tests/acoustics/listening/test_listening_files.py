"""Recordings of every kind, and files that mean no good."""

import json
import resource
import struct

import numpy as np
import pytest

from acoustics.__main__ import main
from acoustics.errors import InvalidInput
from acoustics.listening.command import command
from acoustics.listening.notes import listen
from acoustics.listening.recording import Limits
from acoustics.notes.music import cents
from tests.acoustics.listening import recordings, sounds

RATE = 48000


@pytest.fixture(scope="module")
def tune():
    silence = np.zeros(RATE // 4)
    tones = [silence, sounds.tone(440.0, 1.0, seed=1), silence, sounds.tone(659.26, 0.8, seed=2), silence]
    return sounds.mixed(np.concatenate(tones), sounds.breath(3, seed=3), 25)


@pytest.fixture(scope="module")
def files(tune, tmp_path_factory):
    folder = tmp_path_factory.mktemp("recordings")
    return {kind: recordings.write(folder / f"tune.{kind}", tune) for kind in recordings.KINDS}


def refusal(path, **limits):
    with pytest.raises(InvalidInput) as refused:
        listen(path, limits=Limits(**limits))
    assert "\n" not in str(refused.value)
    return refused.value


@pytest.mark.parametrize("kind", recordings.KINDS)
def test_every_kind_is_heard_alike(files, kind):
    notes = listen(files[kind])
    assert [abs(cents(n.frequency, f)) < 0.5 for n, f in zip(notes, (440.0, 659.26), strict=True)] == [True, True]


@pytest.mark.parametrize("rate", [8000, 44100, 96000])
@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_rates(tmp_path, kind, rate):
    path = recordings.write(tmp_path / f"tone.{kind}", 0.3 * sounds.tone(880.0, 0.8, rate), rate)
    (note,) = listen(path)
    assert abs(cents(note.frequency, 880.0)) < 0.5


@pytest.mark.parametrize("right", [1.0, 0.0, -1.0])
def test_stereo_of_any_polarity(tmp_path, right):
    tone = 0.3 * sounds.tone(587.33, 1.0)
    (note,) = listen(recordings.write(tmp_path / "tone.flac", np.stack([tone, right * tone], axis=1)))
    assert abs(cents(note.frequency, 587.33)) < 0.5


def test_the_name_does_not_count(files, tmp_path):
    path = tmp_path / "song.txt"
    path.write_bytes(files["flac"].read_bytes())
    assert len(listen(path)) == 2


@pytest.mark.parametrize("kind", recordings.KINDS)
@pytest.mark.parametrize("keep", [0.02, 0.3, 0.5, 0.9, 0.999])
def test_a_truncated_file_is_refused(files, tmp_path, kind, keep):
    whole = files[kind].read_bytes()
    path = tmp_path / f"cut.{kind}"
    path.write_bytes(whole[: int(keep * len(whole))])
    assert refusal(path).field in ("FILE", "seconds")


@pytest.mark.parametrize("kind", recordings.KINDS)
def test_garbage_inside_is_refused_or_harmless(files, tmp_path, kind):
    whole = bytearray(files[kind].read_bytes())
    rng = np.random.default_rng(4)
    for trial in range(6):
        broken = bytearray(whole)
        for at in rng.integers(0, len(whole), 30):
            broken[at] = rng.integers(0, 256)
        path = tmp_path / f"{trial}.{kind}"
        path.write_bytes(broken)
        try:
            listen(path)
        except InvalidInput as refused:
            assert "\n" not in str(refused)


def wav(data: bytes, says: int, channels=1, rate=RATE, riff=None) -> bytes:
    body = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, channels, rate, rate * 2 * channels % 2**32, 2 * channels, 16)
    body += struct.pack("<4sI", b"data", says) + data
    return struct.pack("<4sI4s", b"RIFF", 4 + len(body) if riff is None else riff, b"WAVE") + body


@pytest.mark.parametrize(
    ("content", "field"),
    [
        (b"", "FILE"),
        (b"A4 440 Hz, and so on, as it was measured.\n" * 100, "FILE"),
        (wav(bytes(2000), 4000), "FILE"),
        (wav(bytes(2000), 2**32 - 1), "FILE"),
        (wav(bytes(2000), 100), "FILE"),
        (wav(bytes(2000), 0), "FILE"),
        (wav(bytes(2000), 2000, riff=2**32 - 1), "FILE"),
        (wav(bytes(2000), 2000, riff=0), "FILE"),
        (wav(bytes(2000), 2000, rate=1), "rate"),
        (wav(bytes(2000), 2000, rate=2**31), "FILE"),
        (wav(bytes(2400), 2400, channels=12), "channels"),
        (wav(bytes(2000), 2000, channels=0), "channels"),
        (b"RIFF\x04\x00\x00\x00WAVE", "FILE"),
        (b"fLaC" + bytes(100), "FILE"),
        (b"OggS" + bytes(100), "FILE"),
        (b"ID3" + bytes(100), "FILE"),
        (struct.pack(">I4sQ", 16, b"ftyp", 0) + bytes(50), "FILE"),
        (b"#EXTM3U\n/etc/passwd\n", "FILE"),
    ],
)
def test_files_that_are_no_recording(tmp_path, content, field):
    path = tmp_path / "odd.wav"
    path.write_bytes(content)
    assert refusal(path).field == field


def test_a_flac_that_lies_about_its_length(files, tmp_path):
    """STREAMINFO's 36 bits of total samples (RFC 9639, section 8.2) end 26 bytes into the file."""
    whole = bytearray(files["flac"].read_bytes())
    true = int.from_bytes(whole[22:26], "big")
    for said in (true // 2, true * 2, 2**32 - 1):
        whole[22:26] = said.to_bytes(4, "big")
        path = tmp_path / "lie.flac"
        path.write_bytes(whole)
        assert refusal(path).field == "seconds"


def test_a_decompression_bomb(files, tmp_path):
    """An hour of silence in a few hundred kB, its claimed length zeroed, which FLAC takes for unknown."""
    path = recordings.write(tmp_path / "bomb.flac", np.zeros(RATE * 120), RATE)
    whole = bytearray(path.read_bytes())
    assert len(whole) < 200_000
    whole[21] &= 0xF0
    whole[22:26] = bytes(4)
    path.write_bytes(whole)
    assert listen(path) == ()
    refused = refusal(path, seconds=60.0)
    assert (refused.field, refused.limit) == ("seconds", "must be at most 60")


def test_an_index_of_a_billion_samples(files, tmp_path):
    """M4A: the sample-size box (ISO/IEC 14496-12, section 8.7.3.2) claims a fixed size and a billion samples."""
    whole = files["m4a"].read_bytes()
    at = whole.index(b"stsz")
    path = tmp_path / "index.m4a"
    path.write_bytes(whole[: at + 8] + struct.pack(">II", 1, 10**9) + whole[at + 16 :])
    assert refusal(path).field in ("FILE", "memory", "seconds")


def test_what_claims_much_takes_little_memory(files, tmp_path):
    """The most that the decoder has held at once, in kB (getrusage(2), ru_maxrss of children that ended).

    It is compared with what the children before have held; one that took the index at its word held 440 MB.
    """
    whole = files["m4a"].read_bytes()
    at = whole.index(b"stsz")
    path = tmp_path / "index.m4a"
    path.write_bytes(whole[: at + 8] + struct.pack(">II", 1, 10**9) + whole[at + 16 :])
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    refusal(path)
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss <= max(before, 250_000)


def test_too_little_memory_is_said(files):
    assert refusal(files["flac"], memory=20_000_000).field == "memory"


def test_limits(files, tmp_path):
    assert refusal(files["wav"], bytes=1000).field == "FILE"
    assert refusal(files["wav"], seconds=1.0).field == "seconds"
    assert refusal(files["mp3"], highest_rate=44100).field == "rate"
    six = recordings.write(tmp_path / "six.flac", np.zeros((4800, 6)))
    assert refusal(six).field == "channels"
    assert refusal(tmp_path).field == "FILE"
    assert refusal(tmp_path / "none.wav").field == "FILE"


def test_not_a_number(tmp_path):
    path = tmp_path / "nan.wav"
    body = struct.pack("<4sIHHIIHH", b"fmt ", 16, 3, 1, RATE, RATE * 4, 4, 32)
    body += struct.pack("<4sI", b"data", 4000) + np.full(1000, np.nan, "<f4").tobytes()
    path.write_bytes(struct.pack("<4sI4s", b"RIFF", 4 + len(body), b"WAVE") + body)
    assert refusal(path).field == "samples"


def test_command_line(files, tmp_path, capsys):
    assert main(["listen", str(files["m4a"]), "--expect", "A4"]) == 0
    (note,) = json.loads(capsys.readouterr().out)["notes"]
    assert set(note) == {"start", "end", "frequency", "sd_cents", "level_db"}
    assert abs(cents(note["frequency"], 440.0)) < 0.5
    path = tmp_path / "text.wav"
    path.write_text("not a sound")
    for arguments in ((str(path),), (), (str(files["wav"]), "--expect"), (str(files["wav"]), "--expect", "X1")):
        assert main(["listen", *arguments]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert len(said.err.splitlines()) == 1


def test_command_takes_one_file(files):
    with pytest.raises(InvalidInput, match="FILE"):
        command([str(files["wav"]), str(files["mp3"])])
