"""What is sent as a picture: told by its content, upright, stripped, bounded."""

import io
from pathlib import Path

import pytest
from PIL import Image, ImageCms, PngImagePlugin
from pypdf import PdfWriter

from webapp.decoding import papers, pictures
from webapp.decoding.made import Made
from webapp.decoding.opening import opened
from webapp.models import FileKind
from webapp.shop.base.errors import Invalid
from webapp.shop.blanks import photo_files
from webapp.shop.blanks.pictures import FIELD, Ready, prepare as prepared_by

LARGEST = 3_000_000


class Here:
    """Opens files in the test's own process, as a worker does in its."""

    def opened(self, sent: bytes) -> Made:
        return opened(sent)


def prepare(file: io.BytesIO, largest: int) -> Ready:
    return prepared_by(file, largest, Here())


def sent(picture: Image.Image, kind: str = "JPEG", **how: object) -> io.BytesIO:
    into = io.BytesIO()
    picture.save(into, kind, **how)
    into.seek(0)
    return into


def half_red(size: tuple[int, int] = (60, 30)) -> Image.Image:
    """Red on its left half, white on its right."""
    made = Image.new("RGB", size, "white")
    made.paste("red", (0, 0, size[0] // 2, size[1]))
    return made


def pdf(pages: int) -> io.BytesIO:
    writer = PdfWriter()
    for _ in range(pages):
        writer.add_blank_page(200, 200)
    into = io.BytesIO()
    writer.write(into)
    into.seek(0)
    return into


def test_a_picture_is_turned_upright_and_says_nothing_of_where_it_was_taken() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # Orientation: turn a quarter to the right (Exif 2.32, 4.6.4)
    exif[0x010F] = "a phone"
    exif.get_ifd(0x8825)[1] = "N"  # GPS
    ready = prepare(sent(half_red(), exif=exif, comment=b"from home", quality=95), LARGEST)
    assert (ready.kind, ready.width, ready.height) == (FileKind.PICTURE, 30, 60)
    with Image.open(io.BytesIO(ready.content)) as kept:
        assert kept.format == "JPEG"
        assert not kept.getexif()
        assert "comment" not in kept.info and "icc_profile" not in kept.info
        top, foot = kept.getpixel((15, 5)), kept.getpixel((15, 55))
        assert isinstance(top, tuple) and isinstance(foot, tuple)
        assert top[0] > 200 > 60 > top[1] and min(foot) > 220  # red came to lie on top


def test_every_kind_of_picture_is_kept_as_a_jpeg_no_larger_than_needed() -> None:
    clear = Image.new("RGBA", (50, 40), (0, 0, 0, 0))
    told = PngImagePlugin.PngInfo()
    told.add_text("Author", "nobody's business")
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for file in (
        sent(clear, "PNG", pnginfo=told),
        sent(half_red(), "WEBP", icc_profile=srgb),
        sent(half_red().convert("P"), "PNG"),
        sent(half_red().convert("CMYK"), "JPEG"),
        sent(Image.new("I;16", (40, 40)), "PNG"),
    ):
        ready = prepare(file, LARGEST)
        assert b"nobody's business" not in ready.content
        with Image.open(io.BytesIO(ready.content)) as kept:
            assert (kept.format, kept.mode) == ("JPEG", "RGB")
    with Image.open(io.BytesIO(prepare(sent(clear, "PNG"), LARGEST).content)) as kept:
        assert kept.getpixel((20, 20)) == (255, 255, 255)  # what is clear lies on white
    large = prepare(sent(Image.new("RGB", (4000, 1000), "tan")), LARGEST)
    assert (large.width, large.height) == (2400, 600)
    assert large.small is not None
    with Image.open(io.BytesIO(large.small)) as small:
        assert small.size == (480, 120)


def test_what_is_no_picture_too_large_or_damaged_is_refused_in_plain_words(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = sent(Image.effect_noise((300, 300), 60)).getvalue()
    heic = b"\x00\x00\x00\x18ftypheic" + bytes(100)
    for content, says in [
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "Send a picture"),
        (b"GIF89a" + bytes(40), "Send a picture"),
        (b"MZ" + bytes(400), "Send a picture"),
        (whole[: len(whole) // 2], "damaged"),
        (heic, "HEIC"),
        (b"%PDF-1.7\nnothing in it", "PDF can't be read"),
        (bytes(LARGEST + 1), "at most 3 megabytes"),
    ]:
        with pytest.raises(Invalid) as refused:
            prepare(io.BytesIO(content), LARGEST)
        assert says in refused.value.errors[FIELD], content[:20]
    # A picture that is small as a file and huge once unpacked; Pillow's own guard warns at one limit and stops at two.
    monkeypatch.setattr(pictures, "MOST_PIXELS", 1000)
    for guard in (10_000, 500, 100):
        monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", guard)
        with pytest.raises(Invalid, match="too many pixels"):
            prepare(sent(Image.new("1", (40, 30)), "PNG"), LARGEST)


def test_a_pdf_is_kept_as_it_is_with_its_pages_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = pdf(3)
    ready = prepare(whole, LARGEST)
    assert (ready.kind, ready.pages, ready.small, ready.content) == (FileKind.PAPER, 3, None, whole.getvalue())
    monkeypatch.setattr(papers, "MOST_PAGES", 2)
    with pytest.raises(Invalid, match="between 1 and 2 pages"):
        prepare(pdf(3), LARGEST)


def test_files_are_whole_or_not_there_and_what_no_row_names_is_swept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ready = prepare(sent(half_red()), LARGEST)
    name, other = (photo_files.write(tmp_path, ready) for _ in range(2))
    folder = photo_files.folder_of(tmp_path)
    assert name != other and (folder / name).read_bytes() == ready.content
    assert (folder / photo_files.small_name(name)).read_bytes() == ready.small
    (folder / "half.jpg.partial").write_bytes(b"cut short")
    assert photo_files.sweep(tmp_path, [name]) == 0  # all is too new to be judged
    monkeypatch.setattr(photo_files, "GRACE", -1.0)
    assert photo_files.sweep(tmp_path, [name]) == 3
    assert sorted(path.name for path in folder.iterdir()) == sorted([name, photo_files.small_name(name)])
    photo_files.remove(tmp_path, name)
    assert list(folder.iterdir()) == []
    assert photo_files.sweep(tmp_path / "nowhere", []) == 0
