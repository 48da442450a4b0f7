"""Files that are broken, lie or hold no stars: refused or answered in words, soon, and in bounded memory."""

from __future__ import annotations

import json
import struct
import subprocess
import sys
import zlib
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import tifffile
from astropy.io import fits
from PIL import Image
from scipy.ndimage import gaussian_filter

from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.measured import Light, Measured
from server.domain.frames.measuring import FrameTroubleError, measure_set
from server.frames.reading import FrameRefusedError, open_frame
from tests.frames.simulator import Field, Night, Optics, frame

SMALL = Optics(columns=600, rows=400)
LIGHT = Light(focal_ratio=5.0, obstruction=0.0, pixel_um=3.76)
NOW = datetime(2026, 1, 1, tzinfo=UTC)


def measured(folder: Path, *pictures: np.ndarray, mosaic: bool = False) -> Measured:
    """Return what a set of pictures says, the focuser at -60 um, 60 um and so on."""
    asked = []
    for number, picture in enumerate(pictures):
        path = folder / f"{number}.fits"
        fits.PrimaryHDU(picture).writeto(path)
        asked.append(FrameAsked(file=str(path), name=path.name, focuser=-60.0 + 120.0 * number))
    return measure_set(SetAsked(frames=tuple(asked), light=LIGHT, step_um=1.0, mosaic=mosaic), NOW)


def assert_refused(path: Path, words: str) -> None:
    with pytest.raises(FrameRefusedError, match=words), open_frame(path) as opened:
        opened.rows(0, opened.height_px)


# What is read, and holds nothing to be measured.


def pair(night: Night, there: Field) -> list[np.ndarray]:
    return [frame(SMALL, night, there, at, number) for number, at in enumerate((-60.0, 60.0))]


def test_frames_without_stars_are_told_to_have_none(tmp_path: Path):
    found = measured(tmp_path, *pair(Night(), Field(stars=0)))
    assert found.surface is None
    assert found.trouble in ("no_stars", "few_stars")


def test_five_stars_are_told_to_be_too_few(tmp_path: Path):
    found = measured(tmp_path, *pair(Night(), Field(stars=5, faintest_e=50_000)))
    assert (found.surface, found.trouble) == (None, "few_stars")
    assert found.frames[0].clean <= 5


@pytest.mark.parametrize("value", [0.0, 1234.0, np.nan, np.inf])
@pytest.mark.parametrize("mosaic", [False, True])
def test_a_frame_of_one_value_has_no_stars(tmp_path: Path, value: float, mosaic: bool):
    one = np.full((400, 600), value, dtype=np.float32)
    found = measured(tmp_path, one, one, mosaic=mosaic)
    assert (found.surface, found.trouble) == (None, "no_stars")


def test_clouds_give_no_surface(tmp_path: Path):
    chance = np.random.default_rng(1)
    blobs = [gaussian_filter(chance.normal(0.0, 1.0, (400, 600)), 12.0) for _ in range(2)]
    skies = [2000.0 + 20_000.0 * one + chance.normal(0.0, 45.0, one.shape) for one in blobs]
    found = measured(tmp_path, *(one.clip(0, 65535).astype(np.uint16) for one in skies))
    assert found.surface is None
    assert found.trouble in ("no_stars", "few_stars", "no_match")


def test_stars_that_are_cut_off_at_the_top_are_left_out_and_counted(tmp_path: Path):
    pictures = pair(Night(full_e=2000.0), Field(stars=150, faintest_e=60_000))
    found = measured(tmp_path, *pictures)
    assert found.surface is None
    assert found.trouble == "few_stars"
    assert found.frames[0].cut_off > 20


def test_frames_that_are_wholly_white_have_no_stars(tmp_path: Path):
    white = np.full((400, 600), 65535, dtype=np.uint16)
    assert measured(tmp_path, white, white).trouble == "no_stars"


def test_trailed_stars_give_no_surface_that_claims_to_be_sure(tmp_path: Path):
    found = measured(tmp_path, *pair(Night(drift_px=40.0, drift_deg=20.0), Field(stars=150)))
    assert found.surface is None
    assert found.trouble in ("few_stars", "no_match")


@pytest.mark.parametrize("mosaic", [False, True])
def test_a_patch_without_numbers_leaves_the_rest_to_be_measured(tmp_path: Path, mosaic: bool):
    optics = Optics(tilt=30)
    pictures = [
        frame(optics, Night(), Field(), at, n).astype(np.float32) for n, at in enumerate((-60.0, 60.0))
    ]
    for one in pictures:
        one[400:600, 700:900] = np.nan
        one[::97, ::89] = np.nan
    found = measured(tmp_path, *pictures, mosaic=mosaic)
    assert found.surface is not None
    # The light goes by rays here, which the set takes to be waves: the tilt's size is another test's.
    assert abs(np.angle(found.surface.tilt)) < 0.15
    assert all(
        not (700 < x < 900 and 400 < y < 600) for x, y in zip(found.stars.x, found.stars.y, strict=True)
    )


def test_frames_of_two_fields_do_not_match(tmp_path: Path):
    one, _ = pair(Night(), Field(seed=1, stars=150))
    _, other = pair(Night(), Field(seed=2, stars=150))
    assert measured(tmp_path, one, other).trouble == "no_match"


def test_frames_of_two_sizes_are_no_set(tmp_path: Path):
    with pytest.raises(FrameTroubleError, match="600 x 300") as told:
        measured(tmp_path, np.ones((400, 600), np.uint16), np.ones((300, 600), np.uint16))
    assert told.value.name == "1.fits"


# What cannot be read.


def card(text: str) -> bytes:
    return text.ljust(80).encode()


def fits_header(*axes: object, bits: int = 16) -> bytes:
    lines = ["SIMPLE  =                    T", f"BITPIX  = {bits:20d}", f"NAXIS   = {len(axes):20d}"]
    lines += [f"NAXIS{number + 1:<3d}= {size!s:>20}" for number, size in enumerate(axes)]
    raw = b"".join(card(line) for line in (*lines, "END"))
    return raw.ljust(-(-len(raw) // 2880) * 2880)


LYING_FITS: dict[str, tuple[bytes, str]] = {
    "more than it holds": (fits_header(600, 400) + bytes(2880), "cut short"),
    "40,000 squared": (fits_header(40_000, 40_000) + bytes(2880), "40000 x 40000"),
    "more than there are numbers": (fits_header(10**18, 10**18) + bytes(2880), "FITS|pixels"),
    "less than none": (fits_header(-5, -5) + bytes(2880), "FITS|pixels"),
    "nothing": (fits_header(0, 0) + bytes(2880), "pixels|FITS"),
    "words for sizes": (fits_header("'many'", "'more'") + bytes(2880), "FITS|pixels"),
    "999 axes": (fits_header(*[1] * 999) + bytes(2880), "FITS|pixels"),
    "a million planes": (fits_header(600, 400, 1_000_000) + bytes(2880), "planes"),
    "bits of no kind": (fits_header(600, 400, bits=13) + bytes(600 * 400 * 2), "FITS"),
    "no end": (b"SIMPLE  =                    T".ljust(80) * 500, "FITS"),
    "only its first word": (b"SIMPLE", "FITS"),
}


@pytest.mark.parametrize("name", LYING_FITS)
def test_a_fits_header_that_lies_is_found_out(tmp_path: Path, name: str):
    content, words = LYING_FITS[name]
    (tmp_path / "one.fits").write_bytes(content)
    assert_refused(tmp_path / "one.fits", words)


def test_a_fits_table_is_no_picture(tmp_path: Path):
    table = fits.BinTableHDU.from_columns([fits.Column("a", "J", array=[1, 2])])
    fits.HDUList([fits.PrimaryHDU(), table]).writeto(tmp_path / "one.fits")
    assert_refused(tmp_path / "one.fits", "no picture")


@pytest.mark.parametrize("content", [b"", b"SIMPLY a text\n" * 50, b"GIF89a" + bytes(100), b"\0" * 5000])
def test_what_is_no_frame_is_named_as_such(tmp_path: Path, content: bytes):
    (tmp_path / "one").write_bytes(content)
    assert_refused(tmp_path / "one", "no FITS, TIFF, PNG or JPEG")


def test_a_file_that_is_not_there_is_told(tmp_path: Path):
    assert_refused(tmp_path / "none.fits", "cannot be opened")


def written(folder: Path, kind: str) -> bytes:
    """Return a sound file of a kind."""
    picture = frame(SMALL, Night(), Field(stars=40))
    path = folder / f"sound-{kind.replace(' ', '-')}"
    if kind == "FITS":
        fits.PrimaryHDU(picture).writeto(path)
    elif kind.startswith("FITS"):
        how = kind.split()[1]
        fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(picture, compression_type=how)]).writeto(path)
    elif kind.startswith("TIFF"):
        tifffile.imwrite(path, picture, compression="zlib" if "zlib" in kind else None)
    else:
        Image.fromarray((picture // 256).astype(np.uint8)).save(path, format=kind)
    return path.read_bytes()


KINDS = ("FITS", "FITS RICE_1", "FITS GZIP_2", "TIFF", "TIFF zlib", "PNG", "JPEG")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.999, 0.6, 0.05])
def test_a_file_that_is_cut_short_is_refused(tmp_path: Path, kind: str, share: float):
    sound = written(tmp_path, kind)
    # FITS is filled up to whole blocks: what is cut must reach the pixels.
    cut = min(int(share * len(sound)), len(sound) - 3000)
    (tmp_path / "cut").write_bytes(sound[:cut])
    assert_refused(tmp_path / "cut", "cannot be read|cut short|no picture|pixels")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.filterwarnings("ignore")  # What the libraries mutter at such files.
def test_a_file_with_wrong_bytes_is_read_or_refused_in_words(tmp_path: Path, kind: str):
    sound = written(tmp_path, kind)
    chance = np.random.default_rng(len(kind))
    head = 9000 if kind.startswith("FITS") else 300
    told = ["read"]
    for number in range(40):
        wrong = bytearray(sound)
        for place in chance.integers(8, head if number % 2 else len(wrong), 4):
            wrong[place] = chance.integers(256)
        (tmp_path / "wrong").write_bytes(wrong)
        try:
            with open_frame(tmp_path / "wrong") as opened:
                opened.rows(0, opened.height_px)
        except FrameRefusedError as refused:
            told.append(str(refused))
    assert all(told)


# What would burst: tried in a process of its own, which tells its memory at the peak.

TRIED = """
import json, sys, time
from pathlib import Path
from server.frames.reading import FrameRefusedError, open_frame
import astropy.io.fits, tifffile, PIL.Image, PIL.PngImagePlugin
def peak():
    (line,) = (one for one in Path("/proc/self/status").read_text().splitlines() if one.startswith("VmHWM"))
    return int(line.split()[1]) / 1000.0
before = peak()
begun = time.process_time()
try:
    with open_frame(Path(sys.argv[1])) as opened:
        opened.rows(0, opened.height_px)
    told = "read"
except FrameRefusedError as refused:
    told = str(refused)
print(json.dumps([told, peak() - before, time.process_time() - begun]))
"""
MOST_MB, MOST_S = 150.0, 5.0


def png(width: int, height: int, packed: bytes) -> bytes:
    def chunk(name: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


def zeros(megabytes: int) -> bytes:
    """Return so many zeros, packed: a thousandth of it."""
    packer = zlib.compressobj(9)
    return b"".join(packer.compress(bytes(1_000_000)) for _ in range(megabytes)) + packer.flush()


def tiff(width: int, height: int, packed: bytes) -> bytes:
    """Return a TIFF of one deflated strip, by the standard's own layout (TIFF 6.0, section 2)."""
    entries = [(256, 4, width), (257, 4, height), (258, 3, 8), (259, 3, 8), (262, 3, 1), (273, 4, 8)]
    entries += [(277, 3, 1), (278, 4, height), (279, 4, len(packed))]
    at = 8 + len(packed) + len(packed) % 2
    table = struct.pack("<H", len(entries)) + b"".join(
        struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in entries
    )
    return b"II*\0" + struct.pack("<I", at) + packed.ljust(at - 8, b"\0") + table + struct.pack("<I", 0)


BOMBS = {
    "a PNG of 40,000 squared": lambda: png(40_000, 40_000, zeros(10)),
    "a PNG of 13,000 squared with no pixels": lambda: png(13_000, 13_000, b""),
    "a PNG that unpacks to more": lambda: png(600, 400, zeros(1500)),
    "a TIFF of 40,000 squared": lambda: tiff(40_000, 40_000, zeros(10)),
    "a TIFF that unpacks to more": lambda: tiff(600, 400, zeros(1500)),
    "a FITS of 40,000 squared": lambda: fits_header(40_000, 40_000) + bytes(2880),
}


@pytest.mark.skipif(sys.platform != "linux", reason="Linux alone tells a process's own peak so.")
@pytest.mark.parametrize("name", BOMBS)
def test_what_would_burst_is_told_soon_and_takes_little_memory(tmp_path: Path, name: str):
    (tmp_path / "bomb").write_bytes(BOMBS[name]())
    run = subprocess.run(
        [sys.executable, "-c", TRIED, str(tmp_path / "bomb")], capture_output=True, text=True, check=True
    )
    told, grown_mb, seconds = json.loads(run.stdout)
    assert told == "read" if name == "a PNG that unpacks to more" else told != "read"
    assert grown_mb < MOST_MB, told
    assert seconds < MOST_S
