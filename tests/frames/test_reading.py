"""One picture in every form that is read, against what astropy, tifffile and Pillow themselves make of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from astropy.io import fits
from PIL import Image

from server.frames.reading import Frame, FrameRefusedError, open_frame

HIGH, WIDE = 130, 210


def picture() -> np.ndarray:
    """Numbers up to beyond half of 16 bits, no two rows or columns alike."""
    chance = np.random.default_rng(4)
    return (chance.integers(0, 20_000, (HIGH, WIDE)) + 300 * np.arange(HIGH)[:, None]).astype(np.uint16)


def planes() -> np.ndarray:
    return np.stack([picture() // 2, picture(), picture() // 3])


def whole(path: Path, extension: int | None = None) -> tuple[Frame, np.ndarray]:
    """Return a frame and its pixels, read in strips that do not divide it."""
    with open_frame(path, extension) as frame:
        strips = [frame.rows(low, min(low + 37, frame.height_px)) for low in range(0, frame.height_px, 37)]
        assert all(one.dtype == np.float32 for one in strips)
        return frame, np.concatenate(strips)


def fits_of(*parts: Any) -> Callable[[Path], None]:
    return lambda path: fits.HDUList(list(parts)).writeto(path)


def scaled() -> fits.PrimaryHDU:
    part = fits.PrimaryHDU((picture() // 2).astype(np.int16))
    part.header["BSCALE"], part.header["BZERO"] = 0.25, 100.0
    return part


def blank() -> fits.PrimaryHDU:
    pixels = (picture() // 2).astype(np.int16)
    pixels[10:14, 20:30] = -5
    part = fits.PrimaryHDU(pixels)
    part.header["BLANK"] = -5
    return part


FITS: dict[str, tuple[Callable[[], list[Any]], int]] = {
    "16 bits with their zero": (lambda: [fits.PrimaryHDU(picture())], 0),
    "8 bits": (lambda: [fits.PrimaryHDU((picture() // 256).astype(np.uint8))], 0),
    "32 bits": (lambda: [fits.PrimaryHDU(picture().astype(np.int32) * 7)], 0),
    "floats": (lambda: [fits.PrimaryHDU((picture() / 65535).astype(np.float32))], 0),
    "doubles": (lambda: [fits.PrimaryHDU(picture() / 3.0)], 0),
    "scaled by its header": (lambda: [scaled()], 0),
    "with blank pixels": (lambda: [blank()], 0),
    "packed tiles": (
        lambda: [fits.PrimaryHDU(), fits.CompImageHDU(picture(), compression_type="RICE_1")],
        1,
    ),
    "packed floats": (
        lambda: [
            fits.PrimaryHDU(),
            fits.CompImageHDU((picture() / 65535).astype(np.float32), compression_type="RICE_1"),
        ],
        1,
    ),
    "floats packed without loss": (
        lambda: [
            fits.PrimaryHDU(),
            fits.CompImageHDU(
                (picture() / 65535).astype(np.float32), compression_type="GZIP_2", quantize_level=0
            ),
        ],
        1,
    ),
    "large packed tiles": (
        lambda: [
            fits.PrimaryHDU(),
            fits.CompImageHDU(picture(), compression_type="RICE_1", tile_shape=(64, 64)),
        ],
        1,
    ),
    "a table before the picture": (
        lambda: [
            fits.PrimaryHDU(),
            fits.BinTableHDU.from_columns([fits.Column("a", "J", array=[1, 2])]),
            fits.ImageHDU(picture()),
        ],
        2,
    ),
    "an axis of one": (lambda: [fits.PrimaryHDU(picture()[None])], 0),
}


@pytest.mark.parametrize("name", FITS)
def test_a_fits_picture_is_read_as_astropy_reads_it(tmp_path: Path, name: str):
    parts, number = FITS[name]
    fits_of(*parts())(tmp_path / "one.fits")
    theirs = np.squeeze(fits.getdata(tmp_path / "one.fits", number)).astype(np.float32)
    frame, ours = whole(tmp_path / "one.fits")
    assert (frame.kind, frame.width_px, frame.height_px, frame.colours) == ("FITS", WIDE, HIGH, 1)
    np.testing.assert_allclose(ours, theirs, rtol=1e-6)


def test_of_a_fits_files_parts_the_named_one_is_read(tmp_path: Path):
    second = fits.ImageHDU(picture() // 5)
    fits_of(fits.PrimaryHDU(picture()), second)(tmp_path / "two.fits")
    assert (whole(tmp_path / "two.fits")[1] == picture()).all()
    assert (whole(tmp_path / "two.fits", 1)[1] == picture() // 5).all()
    with pytest.raises(FrameRefusedError, match="as part 2"):
        whole(tmp_path / "two.fits", 2)


def test_of_three_planes_the_green_one_is_read(tmp_path: Path):
    fits_of(fits.PrimaryHDU(planes()))(tmp_path / "one.fits")
    fits_of(fits.PrimaryHDU(), fits.CompImageHDU(planes()))(tmp_path / "packed.fits")
    for name in ("one.fits", "packed.fits"):
        frame, ours = whole(tmp_path / name)
        assert frame.colours == 3
        assert (ours == planes()[1]).all()


TIFF: dict[str, tuple[Callable[[], np.ndarray], dict[str, Any]]] = {
    "plain": (picture, {}),
    "the other byte order": (picture, {"byteorder": ">"}),
    "zlib": (picture, {"compression": "zlib"}),
    "zlib with differences": (picture, {"compression": "zlib", "predictor": True}),
    "tiles": (picture, {"tile": (64, 64)}),
    "floats": (lambda: (picture() / 65535).astype(np.float32), {}),
    "8 bits": (lambda: (picture() // 256).astype(np.uint8), {}),
    "of the large kind": (picture, {"bigtiff": True}),
}


@pytest.mark.parametrize("name", TIFF)
def test_a_tiff_picture_is_read_as_tifffile_reads_it(tmp_path: Path, name: str):
    pixels, how = TIFF[name]
    order = {key: how[key] for key in how if key in ("byteorder", "bigtiff")}
    tifffile.imwrite(
        tmp_path / "one.tif",
        pixels(),
        photometric="minisblack",
        **order,
        **{key: how[key] for key in how if key not in order},
    )
    frame, ours = whole(tmp_path / "one.tif")
    assert (frame.kind, frame.width_px, frame.height_px, frame.colours) == ("TIFF", WIDE, HIGH, 1)
    assert frame.bits == pixels().dtype.itemsize * 8
    assert (ours == tifffile.imread(tmp_path / "one.tif").astype(np.float32)).all()


@pytest.mark.parametrize("layout", ["contig", "separate"])
@pytest.mark.parametrize("packed", [None, "zlib"])
def test_of_a_tiff_picture_in_colour_the_green_is_read(tmp_path: Path, layout: str, packed: str | None):
    pixels = planes() if layout == "separate" else np.moveaxis(planes(), 0, -1)
    path = tmp_path / "colour.tif"
    tifffile.imwrite(
        path, np.ascontiguousarray(pixels), photometric="rgb", planarconfig=layout, compression=packed
    )
    frame, ours = whole(path)
    assert frame.colours == 3
    assert (ours == planes()[1]).all()


@pytest.mark.parametrize("kind", ["png", "jpg", "png in colour", "jpg in colour", "png with 16 bits"])
def test_a_picture_is_read_as_pillow_reads_it(tmp_path: Path, kind: str):
    pixels = picture() if "16" in kind else (picture() // 256).astype(np.uint8)
    if "colour" in kind:
        pixels = np.moveaxis(planes() // 256, 0, -1).astype(np.uint8)
    path = tmp_path / f"one.{kind[:3]}"
    Image.fromarray(pixels).save(path)
    frame, ours = whole(path)
    with Image.open(path) as theirs:
        there = np.asarray(theirs)
    assert frame.kind == ("PNG" if kind.startswith("png") else "JPEG")
    assert frame.bits == (16 if "16" in kind else 8)
    assert frame.colours == (3 if "colour" in kind else 1)
    assert (ours == (there[..., 1] if there.ndim == 3 else there)).all()


def test_a_header_is_offered_as_it_stands(tmp_path: Path):
    part = fits.PrimaryHDU(picture())
    cards = {
        "EXPTIME": 30.0,
        "FOCUSPOS": 12_345,
        "FOCUSSZ": 1.5,
        "CCD-TEMP": -10.0,
        "XBINNING": 2,
        "XPIXSZ": 7.52,
        "BAYERPAT": "RGGB",
        "FILTER": "L",
        "NCOMBINE": 12,
        "CD1_1": -5e-4,
        "CD1_2": 0.0,
        "CD2_1": 0.0,
        "CD2_2": 5e-4,
    }
    part.header.update(cards)
    fits_of(part)(tmp_path / "one.fits")
    header = whole(tmp_path / "one.fits")[0].header
    assert (header.exposure_s, header.focuser, header.step_um) == (30.0, 12_345.0, 1.5)
    assert (header.temperature_c, header.binning, header.pixel_um) == (-10.0, 2, 7.52)
    assert (header.mosaic, header.filter, header.stacked) == ("RGGB", "L", 12)
    assert header.plate is not None
    # Half a thousandth of a degree, in arc seconds.
    assert header.plate.scale_arcsec == pytest.approx(1.8)


def test_header_figures_that_cannot_be_are_not_offered(tmp_path: Path):
    part = fits.PrimaryHDU(picture())
    for key, value in (("EXPTIME", -3.0), ("XPIXSZ", "large"), ("XBINNING", 900), ("CD1_1", 0.0)):
        part.header[key] = value
    fits_of(part)(tmp_path / "one.fits")
    header = whole(tmp_path / "one.fits")[0].header
    assert (header.exposure_s, header.pixel_um, header.binning, header.plate) == (None, None, None, None)
