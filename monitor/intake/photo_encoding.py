"""Makes a small JPEG of a photo; a program of its own, run for one photo, from stdin to stdout.

Whoever sends a photo chooses its bytes, and what decodes them is written in C: so it runs in a
process that has little memory and little time, and takes nothing with it when it ends. It imports
nothing of laidup. What it cannot use it names in one word on stderr, with exit status 3.
"""

import resource
import sys
from contextlib import suppress
from io import BytesIO

from PIL import Image, ImageCms, UnidentifiedImageError

LONGEST_SIDE = 1280  # pixels: a label's lot can be read, and a winter of photos stays small
_QUALITY = 80
_MEMORY_BYTES = 1024**3
_PROCESSOR_S = 15
# A JPEG is read at a half, a quarter or an eighth of its size, unless it is progressive: then all
# of it is held at once, as of the others.
_MOST_PIXELS = {"JPEG": 80_000_000, "MPO": 80_000_000}
_MOST_PIXELS_AT_ONCE = 24_000_000
_MOST_SCANS = 60  # of a progressive JPEG; cameras write some ten, each is decoded over all of it
_SIXTEEN_BITS = frozenset({"I", "I;16", "I;16B", "I;16L", "I;16N"})
_REFUSED = 3
# Brands of ISO base media files that phones write pictures in (ISO/IEC 23008-12, AVIF).
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif", b"avis")


class UnusablePhotoError(Exception):
    """Bytes of which no photo is made; the word says why."""


def encode_photo(sent: bytes) -> bytes:
    """A JPEG of what was sent: upright, at most 1280 pixels long, without anything but the picture.

    Parameters
    ----------
    sent : bytes
        A JPEG, PNG or WebP file.

    Raises
    ------
    UnusablePhotoError
        Its word is one of ``heic``, ``animated``, ``huge``, ``cut-off``, ``no-picture``.
    """
    if sent[4:8] == b"ftyp" and any(brand in sent[8:64] for brand in _HEIC_BRANDS):
        raise UnusablePhotoError("heic")
    Image.MAX_IMAGE_PIXELS = None  # the bounds here are narrower, and say which was met
    try:
        with Image.open(BytesIO(sent), formats=("JPEG", "PNG", "WEBP")) as image:
            _refuse_unbounded(image, sent)
            turned = _orientation_of(image)
            image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            image.load()
            upright = _turned(_in_plain_colours(image), turned)
    except UnidentifiedImageError as error:
        raise UnusablePhotoError("no-picture") from error
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        raise UnusablePhotoError("cut-off" if _says_cut_off(error) else "no-picture") from error
    # Of a new image, so that no note, profile or place of the old one goes along.
    made = Image.new("RGB", upright.size)
    made.paste(upright)
    out = BytesIO()
    made.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()


def _refuse_unbounded(image: Image.Image, sent: bytes) -> None:
    """Look at what its header says before any of it is decoded."""
    form = image.format or ""
    if form not in _MOST_PIXELS and getattr(image, "n_frames", 1) > 1:
        raise UnusablePhotoError("animated")
    at_once = form not in _MOST_PIXELS or bool(image.info.get("progressive"))
    most = _MOST_PIXELS_AT_ONCE if at_once else _MOST_PIXELS[form]
    if image.width * image.height > most or max(image.size) > 40 * min(image.size):
        raise UnusablePhotoError("huge")
    if form in _MOST_PIXELS and sent.count(b"\xff\xda") > _MOST_SCANS:
        raise UnusablePhotoError("huge")


def _says_cut_off(error: Exception) -> bool:
    return any(word in str(error).lower() for word in ("truncated", "broken", "unrecognized data"))


def _orientation_of(image: Image.Image) -> int:
    """How the camera was held (Exif 2.32, tag 0x0112); 1 where it does not say, or nonsense."""
    with suppress(Exception):
        return int(image.getexif().get(0x0112, 1))
    return 1


def _turned(image: Image.Image, orientation: int) -> Image.Image:
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    how = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }.get(orientation)
    return image if how is None else image.transpose(how)


def _in_plain_colours(image: Image.Image) -> Image.Image:
    """The same in sRGB of 8 bits, on white where it is see-through: a jug's colour is evidence."""
    if image.mode in _SIXTEEN_BITS:
        # Sixteen bits of grey; Pillow's own conversion would make all but the darkest white.
        image = image.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    profile = image.info.get("icc_profile")
    if profile and image.mode in {"RGB", "CMYK"}:
        with suppress(Exception):  # a profile that is none leaves the colours as they are
            srgb = ImageCms.createProfile("sRGB")
            own = ImageCms.ImageCmsProfile(BytesIO(profile))
            same = ImageCms.profileToProfile(image, own, srgb, outputMode="RGB")
            image = same or image
    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        clear = image.convert("RGBA")
        white = Image.new("RGBA", clear.size, "white")
        image = Image.alpha_composite(white, clear)
    return image.convert("RGB")


def main() -> int:
    """Read a photo from stdin and write what is made of it to stdout."""
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (_PROCESSOR_S, _PROCESSOR_S))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))  # it writes no file, whatever it is told
    try:
        made = encode_photo(sys.stdin.buffer.read())
    except (UnusablePhotoError, MemoryError) as error:
        sys.stderr.write(str(error) if isinstance(error, UnusablePhotoError) else "huge")
        return _REFUSED
    sys.stdout.buffer.write(made)
    return 0


if __name__ == "__main__":
    sys.exit(main())
