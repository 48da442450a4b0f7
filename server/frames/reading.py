"""A frame's file: its pixels strip by strip, and what it says of itself.

FITS by astropy (mono, colour mosaic, scaled integers, floats, compressed tiles, several extensions), TIFF by
tifffile, PNG and JPEG by Pillow. The size that a file claims is looked at before a pixel is read.
"""

from __future__ import annotations

import lzma
import math
import warnings
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from server.frames.finding import Pixels
from server.frames.plate import Plate, plate_of
from server.out_of_range import OutOfRangeError

if TYPE_CHECKING:
    from PIL import Image

MOST_PIXELS = 200_000_000
LEAST_SIDE = 100
#: What is unpacked whole (a PNG, a packed TIFF) takes at most so much memory.
_MOST_TILE = 40_000_000
_MOST_UNPACKED = 900_000_000
#: Of a FITS file, beyond which no picture is looked for.
_MOST_PARTS = 1000
Kind = Literal["FITS", "TIFF", "PNG", "JPEG"]


class FrameRefusedError(ValueError):
    """A file that cannot be measured: a sentence that says why, and what to do."""


@dataclass(frozen=True)
class Header:
    """What a file says of itself; None where it does not. Offered to a person, never used unasked.

    Attributes:
        exposure_s, temperature_c: of the sensor. focuser: its position, in steps. step_um: of one step.
        binning: along a row. pixel_um: as the file has it; whether that is before or after binning no
            standard says.
        plate: world coordinates. mosaic: the colour pattern's name. stacked: how many exposures it is made
            of.
        filter, taken: as the file has them.
    """

    exposure_s: float | None = None
    temperature_c: float | None = None
    focuser: float | None = None
    step_um: float | None = None
    binning: int | None = None
    pixel_um: float | None = None
    plate: Plate | None = None
    mosaic: str = ""
    stacked: int | None = None
    filter: str = ""
    taken: str = ""


@dataclass(frozen=True)
class Frame:
    """An open frame.

    Attributes:
        bits: of a pixel as the file holds it. colours: planes of a colour
            picture,
            of which the green one is read; 1 otherwise.
        rows: gives the pixels of rows from a to below b as float32, shape (b - a, width_px).
    """

    kind: Kind
    width_px: int
    height_px: int
    bits: int
    colours: int
    header: Header
    rows: Callable[[int, int], Pixels] = field(repr=False)


@contextmanager
def open_frame(path: Path, extension: int | None = None) -> Iterator[Frame]:
    """Open a file as the frame that it is, by its first bytes. Raises FrameRefusedError.

    extension: which of a FITS file's parts, counted from 0; None: the first that holds a picture.
    """
    try:
        with path.open("rb") as file:
            start = file.read(16)
    except OSError as error:
        raise FrameRefusedError(f"The file cannot be opened: {error.strerror}.") from error
    if start[:6] == b"SIMPLE":
        opened = _open_fits(path, extension)
    elif start[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        opened = _open_tiff(path)
    elif start[:8] == b"\x89PNG\r\n\x1a\n" or start[:3] == b"\xff\xd8\xff":
        opened = _open_picture(path)
    else:
        raise FrameRefusedError("This is no FITS, TIFF, PNG or JPEG file. Save the frame as FITS.")
    with opened as frame:
        yield frame


def _demand_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise FrameRefusedError(
            f"The file says {width} x {height} pixels: more than {MOST_PIXELS // 1_000_000} million are not "
            "read. Is it one frame of the camera?"
        )
    if min(width, height) < LEAST_SIDE:
        raise FrameRefusedError(
            f"The frame has {width} x {height} pixels; it takes at least {LEAST_SIDE} along each side. "
            "Send the whole frame."
        )


def _demand_unpacked(bytes_needed: int) -> None:
    if bytes_needed > _MOST_UNPACKED:
        raise FrameRefusedError(
            f"Unpacked this file takes {bytes_needed // 1_000_000} MB of memory, which is refused. Save it "
            "as FITS, which is read in strips."
        )


@contextmanager
def _in_words(sentence: str) -> Iterator[None]:
    """Say in words what a library makes of a broken file: they raise whatever they stumble over."""
    try:
        yield
    except FrameRefusedError:
        raise
    except MemoryError as error:
        raise FrameRefusedError(
            "Reading it takes more memory than there is. Save it as FITS, which is read in strips."
        ) from error
    except Exception as error:
        raise FrameRefusedError(sentence.format(str(error)[:120] or type(error).__name__)) from error


def _told(frame: Frame, sentence: str) -> Frame:
    """Return the frame with what goes wrong as its rows are read in words, too."""

    def rows(first: int, last: int) -> Pixels:
        with _in_words(sentence), np.errstate(over="ignore", invalid="ignore"):
            return frame.rows(first, last)

    return replace(frame, rows=rows)


_FITS_BROKEN = "The FITS file cannot be read ({}). Is it whole? Save it anew."


@contextmanager
def _open_fits(path: Path, extension: int | None) -> Iterator[Frame]:
    from astropy.io import fits

    with warnings.catch_warnings():
        # A header that breaks the standard in some card is read as far as it goes.
        warnings.simplefilter("ignore")
        with ExitStack() as opened:
            with _in_words(_FITS_BROKEN):
                how = {"memmap": True, "do_not_scale_image_data": True, "lazy_load_hdus": True}
                # Opened here, since astropy leaves a file open that it stumbles over.
                file = opened.enter_context(path.open("rb"))
                parts = opened.enter_context(fits.open(file, **how))
                frame = _fits_frame(path, _picture_part(parts, extension))
            yield _told(frame, _FITS_BROKEN)


def _picture_part(parts: Any, extension: int | None) -> Any:
    from astropy.io import fits

    kinds = (fits.PrimaryHDU, fits.ImageHDU, fits.CompImageHDU)
    number = 0
    for number, part in enumerate(parts):
        if number >= _MOST_PARTS:
            break
        if extension not in (None, number) or not isinstance(part, kinds):
            continue
        if len(part.shape) >= 2:
            return part
    which = "" if extension is None else f" as part {extension}"
    raise FrameRefusedError(f"The FITS file holds no picture{which} ({number + 1} parts looked at).")


def _fits_frame(path: Path, part: Any) -> Frame:
    shape = tuple(part.shape)
    planes = math.prod(shape[:-2])
    height, width = shape[-2:]
    _demand_size(width, height)
    if planes not in (1, 3):
        raise FrameRefusedError(
            f"The FITS file holds {planes} planes; one (mono, or a mosaic) or three (colours) are read."
        )
    header = part.header
    bits = int(header.get("ZBITPIX", header["BITPIX"]))
    if hasattr(part, "compression_type"):
        # A tile is unpacked again for each strip that it lies in.
        if math.prod(part.tile_shape) * abs(bits) // 8 > _MOST_TILE:
            raise FrameRefusedError(
                "The FITS file is packed in one large piece. Save it without compression."
            )
    else:
        place = part.fileinfo()["datLoc"]
        if place + planes * width * height * abs(bits) // 8 > path.stat().st_size:
            raise FrameRefusedError(
                f"The file is cut short: its header promises {width} x {height} pixels. Copy it anew."
            )
    scale, zero = float(header.get("BSCALE", 1.0)), float(header.get("BZERO", 0.0))
    blank = header.get("BLANK", header.get("ZBLANK")) if bits > 0 else None
    front: tuple[int, ...] = (0,) * (len(shape) - 2) if planes == 1 else (*(0,) * (len(shape) - 3), 1)

    def rows(first: int, last: int) -> Pixels:
        raw = part.section[(*front, slice(first, last), slice(0, width))]
        pixels = np.array(raw, dtype=np.float32)
        if scale != 1.0:
            pixels *= np.float32(scale)
        if zero:
            pixels += np.float32(zero)
        if blank is not None:
            pixels[np.asarray(raw) == blank] = np.nan
        return pixels

    return Frame("FITS", width, height, abs(bits), planes, _header(_cards(header)), rows)


#: Keywords as they are in common use beside the standard's own (FITS Standard 4.0; common practice).
_EXPOSURE = ("EXPTIME", "EXPOSURE")
_FOCUSER = ("FOCUSPOS", "FOCPOS", "FOCUSER")
_STEP = ("FOCUSSZ", "FOCSTEP")
_TEMPERATURE = ("CCD-TEMP", "SENSTEMP")
_PIXEL = ("XPIXSZ", "PIXSIZE1", "PIXSIZE")
_STACKED = ("NCOMBINE", "STACKCNT", "IMCMB")


def _cards(header: Any) -> dict[str, object]:
    """What a header's cards say, without those that break the standard."""
    found: dict[str, object] = {}
    for card in header.cards:
        with suppress(Exception):
            found[str(card.keyword)] = card.value
    return found


def _header(cards: Mapping[str, object]) -> Header:
    def number(keys: tuple[str, ...], low: float, high: float) -> float | None:
        for key in keys:
            value = cards.get(key)
            if isinstance(value, bool) or not isinstance(value, int | float):
                continue
            if math.isfinite(value) and low <= value <= high:
                return float(value)
        return None

    def text(key: str) -> str:
        value = cards.get(key)
        return value.strip()[:40] if isinstance(value, str) else ""

    binning, stacked = number(("XBINNING",), 1, 16), number(_STACKED, 2, 1e6)
    try:
        plate = plate_of(cards)
    except OutOfRangeError:
        plate = None
    return Header(
        exposure_s=number(_EXPOSURE, 0.0, 1e6),
        temperature_c=number(_TEMPERATURE, -150.0, 100.0),
        focuser=number(_FOCUSER, -1e7, 1e7),
        step_um=number(_STEP, 1e-4, 1e4),
        binning=None if binning is None else int(binning),
        pixel_um=number(_PIXEL, 0.5, 100.0),
        plate=plate,
        mosaic=text("BAYERPAT"),
        stacked=None if stacked is None else int(stacked),
        filter=text("FILTER"),
        taken=text("DATE-OBS"),
    )


_TIFF_BROKEN = "The TIFF file cannot be read ({}). Save it without compression, or as FITS."
#: What a packed piece of a TIFF file may be at most without being looked at first, bytes, and by how much
#: deflate can pack (Deutsch 1996, RFC 1951: 258 bytes by two bits).
_UNSEEN, _MOST_PACKED = 100_000_000, 1032


@contextmanager
def _open_tiff(path: Path) -> Iterator[Frame]:
    import tifffile

    with ExitStack() as opened:
        with _in_words(_TIFF_BROKEN):
            file = opened.enter_context(tifffile.TiffFile(path))
            frame = _tiff_frame(path, file)
        yield _told(frame, _TIFF_BROKEN)


def _tiff_frame(path: Path, file: Any) -> Frame:
    import tifffile

    page = file.pages[0]
    height, width, colours = page.imagelength, page.imagewidth, page.samplesperpixel
    _demand_size(width, height)
    kind = page.dtype
    if kind is None or kind.kind not in "uif":
        raise FrameRefusedError(
            "The TIFF file's pixels are of a kind that is not read. Save it with 16 bits."
        )
    if colours not in (1, 3, 4) or page.imagedepth != 1:
        raise FrameRefusedError(
            f"The TIFF file has {colours} samples a pixel; 1 (mono) or 3 (colours) can be read."
        )
    if page.is_memmappable:
        whole: Any = tifffile.memmap(path, page=0, mode="r")
    else:
        _demand_unpacked(width * height * colours * kind.itemsize)
        _demand_honest(file, page)
        whole = page.asarray()
    if whole.size != width * height * colours:
        raise FrameRefusedError("The TIFF file holds another number of pixels than it says. Save it anew.")
    if colours > 1:
        whole = whole[1] if page.planarconfig == 2 else whole.reshape(height, width, colours)[:, :, 1]
    whole = whole.reshape(height, width)
    return Frame(
        "TIFF",
        width,
        height,
        kind.itemsize * 8,
        3 if colours > 1 else 1,
        Header(),
        _rows_of(whole),
    )


def _demand_honest(file: Any, page: Any) -> None:
    """Refuse a TIFF whose packed pieces hold more than it says: they are unpacked whole by the library."""
    unpackers: dict[int, Callable[[], Any]] = {
        8: zlib.decompressobj,
        32946: zlib.decompressobj,
        34925: lzma.LZMADecompressor,
    }
    unpacker = unpackers.get(int(page.compression))
    if unpacker is None:
        return
    most = math.prod(page.chunks) * page.dtype.itemsize
    for start, count in zip(page.dataoffsets, page.databytecounts, strict=True):
        if page.compression != 34925 and count * _MOST_PACKED <= _UNSEEN:
            continue
        file.filehandle.seek(start)
        if len(unpacker().decompress(file.filehandle.read(count), most + 1)) > most:
            raise FrameRefusedError(
                "A part of the TIFF file unpacks to more than it says. Save it without compression, or as "
                "FITS."
            )


def _rows_of(whole: Any) -> Callable[[int, int], Pixels]:
    def rows(first: int, last: int) -> Pixels:
        return np.asarray(whole[first:last], dtype=np.float32)

    return rows


_PICTURE_BROKEN = "The picture cannot be read ({}). Is the file whole? Save it anew."


@contextmanager
def _open_picture(path: Path) -> Iterator[Frame]:
    from PIL import Image

    # The size is looked at by us, in words, before anything is unpacked.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        with ExitStack() as opened:
            with _in_words(_PICTURE_BROKEN):
                try:
                    picture = opened.enter_context(Image.open(path, formats=("PNG", "JPEG")))
                except Image.DecompressionBombError as error:
                    raise FrameRefusedError(
                        f"The file says more pixels than are read ({MOST_PIXELS // 1_000_000} million). Is "
                        "it one frame of the camera?"
                    ) from error
                frame = _picture_frame(picture)
            yield _told(frame, _PICTURE_BROKEN)


def _picture_frame(picture: Image.Image) -> Frame:
    width, height = picture.size
    _demand_size(width, height)
    kind: Kind = "JPEG" if picture.format == "JPEG" else "PNG"
    colours = 1 if picture.mode in ("L", "I", "I;16", "I;16B", "1") else 3
    deep = picture.mode in ("I", "I;16", "I;16B")
    _demand_unpacked(width * height * (4 if deep else colours))
    if colours == 3:
        picture = picture.convert("RGB")
        whole = np.asarray(picture.getchannel("G"))
    else:
        whole = np.asarray(picture)
    return Frame(kind, width, height, 16 if deep else 8, colours, Header(), _rows_of(whole))
