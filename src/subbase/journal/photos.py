"""Photos made harmless: known by their content, decoded under limits, written anew without anything but the picture."""

from __future__ import annotations

import hashlib
import io
import struct
import threading
import warnings
import zlib
from dataclasses import dataclass

from PIL import Image, ImageOps

from subbase.errors import Fault, InputError
from subbase.words import _

MOST_BYTES = 25_000_000
"""Of a photo as it comes from the camera."""
MOST_PIXELS = 60_000_000
"""Of a photo as it comes: above it, it is not even decoded."""
LONG_SIDE = 2000
"""Pixels of the longer side as kept: a terminal's letters can still be read from a metre away (judgement)."""
PREVIEW_SIDE = 360
QUALITY, PREVIEW_QUALITY = 82, 70
_DECODERS_RAISE = (
    OSError, SyntaxError, ValueError, TypeError, LookupError, ArithmeticError, EOFError, MemoryError,
    struct.error, zlib.error, Image.DecompressionBombError,
)  # fmt: skip
"""What Pillow's decoders let out on damaged files."""
_KEPT_INFO = {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
"""What Pillow says of a JPEG that holds a picture and nothing else."""
_ONE_AT_A_TIME = threading.Lock()
"""A large picture takes 200 MB while it is decoded."""
_MAGIC = ((b"\xff\xd8\xff", "JPEG"), (b"\x89PNG\r\n\x1a\n", "PNG"))


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A photo that was written here, so that nothing of the original file is left but what it shows."""

    data: bytes
    """JPEG."""
    width: int
    height: int
    preview: bytes
    """Small JPEG."""
    mime: str = "image/jpeg"

    @property
    def hash(self) -> str:
        """Return the SHA-256 under which it is kept."""
        return hashlib.sha256(self.data).hexdigest()


def clean_photo(raw: bytes, *, file: str = "") -> CleanPhoto:
    """Return a photo turned upright, made smaller where it is large, without place, time, camera or any other hidden data.

    Raises
    ------
    InputError
        When it is no JPEG, PNG or WebP by its content, too large, or damaged.
    """
    if len(raw) > MOST_BYTES:
        raise _fault(
            _("The photo has {count:.0f} MB; at most {most_bytes:.0f} MB are taken.").format(
                count=len(raw) / 1e6, most_bytes=MOST_BYTES / 1e6
            ),
            file,
        )
    kind = _kind(raw)
    if kind is None:
        raise _fault(_("This is no JPEG, PNG or WebP picture; take or choose a photo."), file)
    try:
        with _ONE_AT_A_TIME, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # Pillow warns of odd metadata, which is thrown away anyway.
            return _written_anew(raw, kind, file)
    except _DECODERS_RAISE:
        raise _fault(_("The picture cannot be decoded; it is damaged or cut off. Take it again."), file) from None


def clean_already(data: bytes) -> CleanPhoto:
    """Return a photo that ``clean_photo`` wrote, from its bytes alone.

    Raises
    ------
    InputError
        When it holds anything but a picture of the size and kind that are kept here.
    """
    if len(data) > MOST_BYTES or not data.startswith(_MAGIC[0][0]):
        raise _fault(_("This is no photo that was kept by subbase."), "")
    try:
        with _ONE_AT_A_TIME, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
                parts = {name for name, __ in getattr(image, "applist", ())}
                hidden = set(image.info) - _KEPT_INFO or parts - {"APP0"} or not data.endswith(b"\xff\xd9")
                if hidden or image.format != "JPEG" or image.mode != "RGB" or max(image.size) > LONG_SIDE:
                    raise _fault(
                        _("The photo holds more than a picture; add the original photo to the job instead."), ""
                    )
                image.load()
                return CleanPhoto(data, *image.size, _preview(image.convert("RGB")))
    except _DECODERS_RAISE:
        raise _fault(_("The picture cannot be decoded; it is damaged or cut off."), "") from None


def _preview(picture: Image.Image) -> bytes:
    small = picture.copy()
    small.thumbnail((PREVIEW_SIDE, PREVIEW_SIDE), Image.Resampling.LANCZOS)
    return _jpeg(small, PREVIEW_QUALITY)


def _written_anew(raw: bytes, kind: str, file: str) -> CleanPhoto:
    with Image.open(io.BytesIO(raw), formats=(kind,)) as image:
        width, height = image.size
        if width * height > MOST_PIXELS:
            raise _fault(
                _("The picture has {width} x {height} pixels; at most {most_pixels:.0f} million are taken.").format(
                    width=width, height=height, most_pixels=MOST_PIXELS / 1e6
                ),
                file,
            )
        # A JPEG can be decoded at a fraction of its size, which saves time and memory.
        image.draft("RGB", (LONG_SIDE, LONG_SIDE))
        image.load()
        upright = ImageOps.exif_transpose(image)
        picture = _on_white(upright)
    picture.thumbnail((LONG_SIDE, LONG_SIDE), Image.Resampling.LANCZOS)
    return CleanPhoto(_jpeg(picture, QUALITY), *picture.size, _preview(picture))


def _on_white(image: Image.Image) -> Image.Image:
    """Return the pixels alone, in RGB, what was transparent in white."""
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        layered = image.convert("RGBA")
        plain = Image.new("RGB", layered.size, "white")
        plain.paste(layered, mask=layered.getchannel("A"))
        return plain
    plain = Image.new("RGB", image.size)
    plain.paste(image.convert("RGB"))
    return plain


def _jpeg(image: Image.Image, quality: int) -> bytes:
    held = io.BytesIO()
    image.save(held, "JPEG", quality=quality, optimize=True, progressive=False)
    return held.getvalue()


def _kind(raw: bytes) -> str | None:
    if raw[:4] == b"RIFF" and raw[8:12] == b"WEBP":
        return "WEBP"
    return next((kind for magic, kind in _MAGIC if raw.startswith(magic)), None)


def _fault(message: str, file: str) -> InputError:
    return InputError((Fault(message, file=file),))
