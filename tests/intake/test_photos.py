"""What is kept of a photo: the picture and nothing else, or a refusal that says what to do."""

import itertools
import struct
import time
import zlib
from hashlib import sha256
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, PngImagePlugin

from monitor.errors import BadValueError
from monitor.intake.photo_encoding import LONGEST_SIDE, UnusablePhotoError, encode_photo
from monitor.intake.photos import MOST_BYTES, read_photo

PLACE = {2: (44.0, 30.0, 12.5)}  # Exif 2.32, 0x8825: latitude in the GPS block


def file_of(image, form="JPEG", **said):
    out = BytesIO()
    image.save(out, form, **said)
    return out.getvalue()


def kept(sent):
    """The photo that is kept, and its bytes; made in this process, which costs less."""
    made = encode_photo(sent)
    return Image.open(BytesIO(made)), made


def half_red(size=(400, 200)):
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    return image


def is_red(pixel):
    return pixel[0] > 200 and pixel[2] < 60


def test_place_time_camera_and_notes_are_gone():
    exif = Image.Exif()
    exif[0x010F], exif[0x0132], exif[0x8825] = "Camera", "2026:11:04 10:42:00", PLACE
    sent = file_of(half_red(), exif=exif, comment=b"Lake Ossawin", dpi=(72, 72))
    assert b"Camera" in sent
    image, made = kept(sent)
    assert not dict(image.getexif())
    assert not {"comment", "exif", "icc_profile", "photoshop", "xmp"} & set(image.info)
    for word in (b"Camera", b"Lake Ossawin", b"Exif", b"2026:11:04"):
        assert word not in made


# Where the red half of a picture, red on its left, lies once it is shown as the camera was held.
@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [
        (1, (400, 200), (10, 100)),
        (2, (400, 200), (390, 100)),
        (3, (400, 200), (390, 100)),
        (4, (400, 200), (10, 100)),
        (5, (200, 400), (100, 10)),
        (6, (200, 400), (100, 10)),
        (7, (200, 400), (100, 390)),
        (8, (200, 400), (100, 390)),
        (77, (400, 200), (10, 100)),
    ],
)
def test_it_stands_as_the_camera_was_held(orientation, size, red_at):
    exif = Image.Exif()
    exif[0x0112] = orientation
    image, _ = kept(file_of(half_red(), exif=exif, quality=95))
    assert image.size == size
    assert is_red(image.getpixel(red_at))
    assert not is_red(image.getpixel((size[0] - 1 - red_at[0], size[1] - 1 - red_at[1])))


def test_a_large_one_is_made_small_and_a_small_one_is_left_so():
    assert kept(file_of(half_red((4000, 3000))))[0].size == (LONGEST_SIDE, LONGEST_SIDE * 3 // 4)
    assert kept(file_of(half_red((40, 30))))[0].size == (40, 30)


def test_the_same_photo_sent_twice_is_one_and_is_known_by_its_bytes():
    sent = file_of(half_red())
    assert read_photo(sent) == read_photo(sent)
    assert read_photo(sent).sha256 == sha256(encode_photo(sent)).hexdigest()


@pytest.mark.parametrize(
    ("mode", "form"),
    [
        *itertools.product(["L", "RGB"], ["JPEG", "PNG", "WEBP"]),
        *itertools.product(["P", "RGBA", "LA", "I;16"], ["PNG"]),
        ("CMYK", "JPEG"),
        ("RGBA", "WEBP"),
    ],
)
def test_any_mode_becomes_plain_colours(mode, form):
    image = half_red().convert("L" if mode == "I;16" else mode)
    if mode == "I;16":
        image = image.convert("I").point(lambda v: v * 257).convert("I;16")
    shown, _ = kept(file_of(image, form))
    assert shown.mode == "RGB"
    left, right = shown.getpixel((50, 100)), shown.getpixel((350, 100))
    assert left != right
    if mode in {"CMYK", "P", "RGBA"}:
        assert is_red(left)


def test_sixteen_bits_of_grey_keep_their_middle():
    image = Image.new("I;16", (64, 64), 32768)
    middle = kept(file_of(image, "PNG"))[0].getpixel((30, 30))
    assert all(abs(one - 128) <= 2 for one in middle)


def test_what_is_see_through_stands_on_white():
    image, _ = kept(file_of(Image.new("RGBA", (64, 64), (0, 0, 0, 0)), "PNG"))
    assert min(image.getpixel((30, 30))) > 250


def test_a_colour_profile_is_worked_in_and_goes():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    nonsense = file_of(half_red(), icc_profile=b"no profile at all" * 20)
    assert is_red(kept(nonsense)[0].getpixel((50, 100)))
    other = file_of(half_red(), icc_profile=profile.tobytes())
    assert "icc_profile" not in kept(other)[0].info


def test_whatever_hangs_behind_a_photo_is_not_kept():
    script = b"<script>alert(1)</script>PK\x03\x04<?php echo 1 ?>"
    for form in ("JPEG", "PNG", "WEBP"):
        _, made = kept(file_of(half_red(), form) + script)
        assert made.startswith(b"\xff\xd8\xff")
        assert b"script" not in made
        assert b"php" not in made


def heic(brand):
    return struct.pack(">I", 24) + b"ftyp" + brand + b"\0\0\0\0" + b"mif1" + b"heic" + b"\0" * 200


def of_many_pixels(width, height):
    """A PNG that says it has so many pixels, of which a few bytes are zeros."""

    def chunk(kind, body):
        told = struct.pack(">I", len(body)) + kind + body
        return told + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 100_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def moving(form):
    frames = [Image.new("RGB", (40, 40), colour) for colour in ("red", "green", "blue")]
    return file_of(frames[0], form, save_all=True, append_images=frames[1:])


def text_bomb():
    """A PNG of which a note unpacks to a thousand times its length."""
    notes = PngImagePlugin.PngInfo()
    notes.add_text("note", "a" * 500_000, zip=True)
    return file_of(half_red(), "PNG", pnginfo=notes)


@pytest.mark.parametrize(
    ("sent", "why"),
    [
        (b"", "the file is empty"),
        (b"no photo at all", "no photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "no photo"),
        (b"<html><script>alert(1)</script>", "no photo"),
        (b"GIF89a" + b"\0" * 100, "no photo"),
        (b"%PDF-1.7", "no photo"),
        (heic(b"heic"), "HEIC"),
        (heic(b"mif1"), "HEIC"),
        (of_many_pixels(30_000, 30_000), "more pixels"),
        (of_many_pixels(2_000_000_000, 1), "more pixels"),
        (of_many_pixels(2000, 2000), "end is missing"),
        (moving("PNG"), "moving picture"),
        (moving("WEBP"), "moving picture"),
        (moving("GIF"), "no photo"),
        (file_of(half_red((3000, 2000)), quality=95)[:5000], "end is missing"),
        (file_of(half_red((300, 200)), "TIFF"), "no photo"),
        (b"\0" * (MOST_BYTES + 1), "more than 12 MB"),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_refused_with_what_to_do(sent, why):
    began = time.monotonic()
    with pytest.raises(BadValueError, match=why) as refused:
        read_photo(sent)
    assert refused.value.remedy
    assert time.monotonic() - began < 30  # the bound of the process itself, not a measure


def test_a_note_that_unpacks_to_much_is_kept_out_with_all_other_notes():
    try:
        _, made = kept(text_bomb())
    except UnusablePhotoError:
        return  # refused is as good
    assert b"aaaaaaaa" not in made


def test_a_progressive_photo_of_endless_scans_is_refused_before_it_is_decoded():
    sent = file_of(half_red((64, 64)), progressive=True)
    scan = sent[sent.index(b"\xff\xda"):-2]  # fmt: skip
    with pytest.raises(BadValueError, match="more pixels"):
        read_photo(sent[:-2] + scan * 400 + sent[-2:])


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([file_of(half_red((90, 60)), form) for form in ("JPEG", "PNG", "WEBP")]),
    st.lists(st.tuples(st.integers(0, 10_000), st.binary(min_size=1, max_size=8)), max_size=6),
)
def test_spoiled_bytes_make_a_plain_photo_or_are_refused(sent, spoils):
    spoiled = bytearray(sent)
    for place, put in spoils:
        place %= len(spoiled)
        spoiled[place : place + len(put)] = put
    try:
        made = encode_photo(bytes(spoiled))
    except UnusablePhotoError:
        return
    image = Image.open(BytesIO(made))
    assert (image.format, image.mode) == ("JPEG", "RGB")
    assert max(image.size) <= LONGEST_SIDE
    assert not dict(image.getexif())
