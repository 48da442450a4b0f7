"""A specification as people copy or type it, read for the form of a part. All makers are invented."""

from __future__ import annotations

from time import process_time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from server.domain.parts import KINDS, specs_of
from server.rim.cells import read_cell
from server.rim.forms import part_texts
from server.rim.spec_reading import SpecReading, kinds_spoken_of, read_specification
from server.rim.spec_reading.labels import labels_of
from tests.rim.strategies import parts_of

CAMERA = """Quillmoor cooled camera
• Sensor size: 23.5 x 15.7 mm
• Resolution: 6248 × 4176
Pixel size
3.76 µm
Peak QE: 91 %
Read noise: 1.5 e-
Full well: 51 ke-
Gain: 100
Conversion gain: 0.25 e-/ADU
Thread: M54x0.75
Back focus: 17.5 mm
Weight: 0.7 kg (1.54 lb)
Dark current: 0.002 e-/s at -10 °C
Cooling: up to 35 °C below ambient
ADC: 16 bit
Shipping weight: 3 kg"""


def read(text: str, kind: str) -> SpecReading:
    assert kinds_spoken_of(text)[1] == kind
    return read_specification(text, kind)


def why(reading: SpecReading) -> dict[str, str]:
    return {one.words: one.why for one in reading.left}


def test_the_short_form_of_a_tube_is_understood_with_the_words_of_each_value() -> None:
    reading = read("80 mm f/6 apochromat, 480 mm, 2.4 kg, M63x1", "optical_tube")
    assert {one.field: (one.text, one.words) for one in reading.taken} == {
        "design": ("apochromat", "80 mm f/6 apochromat"),
        "aperture_mm": ("80 mm", "80 mm f/6 apochromat"),
        "focal_length_mm": ("480 mm", "480 mm"),
        "mass_kg": ("2.4 kg", "2.4 kg"),
        "camera_side": ("M63x1", "M63x1"),
    }
    assert not reading.left
    assert not reading.offers


def test_a_copied_list_is_understood_with_labels_and_units_in_any_order() -> None:
    reading = read(CAMERA, "camera")
    assert {one.field: one.text for one in reading.taken} == {
        "width_px": "6248",
        "height_px": "4176",
        "pixel_um": "3.76 µm",
        "quantum_efficiency": "91 %",
        "gains": "100: 1.5 e-: 51 ke-: 0.25 e-/ADU",
        "sky_side": "M54x0.75",
        "flange_mm": "17.5 mm",
        "mass_kg": "0.7 kg",
        "dark_current": "-10 °C: 0.002 e-/s",
        "cooling_k": "35 °C",
        "bits": "16",
    }
    assert reading.note == "Quillmoor cooled camera\nShipping weight: 3 kg"
    lines = CAMERA.splitlines()
    backwards = "\n".join([*reversed(lines[5:]), *lines[3:5], *reversed(lines[:3])])
    assert read(backwards, "camera").texts.keys() == reading.texts.keys()


def test_a_focal_length_that_follows_is_offered_and_not_put_in() -> None:
    reading = read("80 mm f/6 apochromat", "optical_tube")
    assert "focal_length_mm" not in reading.texts
    # 80 mm times 6 is 480 mm.
    assert [(one.field, one.text, one.how) for one in reading.offers] == [
        ("focal_length_mm", "480 mm", "80 mm × 6")
    ]
    assert read_specification("80 mm f/6 apochromat", "optical_tube", "imperial").offers[0].text == "18.9 in"


def test_which_length_stands_before_a_focal_ratio_stays_open_where_nothing_tells() -> None:
    reading = read_specification("135 mm f/2", "optical_tube")
    assert "aperture or the focal length" in why(reading)["135 mm f/2"]
    assert reading.texts == {"note": "135 mm f/2"}
    lens = read("135 mm f/2 camera lens", "optical_tube")
    assert lens.texts["focal_length_mm"] == "135 mm"


@pytest.mark.parametrize(
    ("text", "field", "shown"),
    [
        ("Focal length: 1,250.5 mm", "focal_length_mm", "1,250.5 mm"),
        ("Focal length: 480,5 mm", "focal_length_mm", "480,5 mm"),
        ("Focal length (mm): 480", "focal_length_mm", "480 mm"),
        ("focal length 480 mm", "focal_length_mm", "480 mm"),
        ("480 mm focal length", "focal_length_mm", "480 mm"),
        ("Focal length\t480 mm", "focal_length_mm", "480 mm"),
        ("Obstruction: 30 %", "obstruction_share", "30 %"),
        ("Obstruction: 60 mm", "obstruction_mm", "60 mm"),
        ('Clear aperture = 8"', "aperture_mm", '8"'),
        ("Net weight ≈ 2,4 kg", "mass_kg", "2,4 kg"),
        ("Type: apochromatic refractor", "design", "apochromat"),
    ],
)
def test_numbers_and_labels_are_read_as_people_write_them(text: str, field: str, shown: str) -> None:
    assert read_specification(text, "optical_tube").texts.get(field) == shown


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("Focal length: 1,250 mm", "can be read two ways"),
        ("Focal length: 480", "No unit is written"),
        ("Focal length: 5 kg", "is a mass"),
        ("Weight: 2.4 kg (9 lb)", "do not agree"),
        ("Pixel size: 3.76 um", "no field for “pixel size”"),
        ("80 mm f/6 apochromat, 500 mm", "length without a name"),
    ],
)
def test_what_cannot_be_taken_stays_in_the_note_and_says_why(text: str, reason: str) -> None:
    reading = read_specification(text, "optical_tube")
    assert reason in " ".join(one.why for one in reading.left)
    assert all(one.words in reading.note for one in reading.left)


def test_of_two_values_that_contradict_each_other_neither_is_put_in() -> None:
    reading = read_specification(
        "Aperture: 80 mm\nAperture: 102 mm\nFocal length: 480 mm, f/6", "optical_tube"
    )
    assert "aperture_mm" not in reading.texts
    assert "neither is put in" in why(reading)["Aperture: 102 mm"]


def test_a_focal_ratio_that_does_not_agree_is_told() -> None:
    reading = read_specification("Aperture: 80 mm, focal length: 480 mm, focal ratio: f/7", "optical_tube")
    assert "make f/6" in why(reading)["focal ratio: f/7"]


def test_a_sensor_by_its_size_and_its_pixel_offers_the_count() -> None:
    reading = read_specification("Sensor size: 23.5 x 15.7 mm, pixel size: 3.76 um", "camera")
    # 23.5 mm / 0.00376 mm = 6250; 15.7 mm / 0.00376 mm = 4175.5.
    assert {one.field: one.text for one in reading.offers} == {"width_px": "6250", "height_px": "4176"}


def test_a_thread_that_names_no_side_is_not_given_one() -> None:
    reading = read("0.8x reducer/flattener, back focus 55 mm, M48x0.75", "corrector")
    assert reading.texts["factor"] == "0.8x"
    assert "which side" in why(reading)["M48x0.75"]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Pixel size: 3.75 µm; resolution 1280 x 960", ""),
        ("Guide camera, pixel size: 3.75 µm; resolution 1280 x 960", "guide_camera"),
        ("Aperture: 60 mm, focal length: 240 mm", ""),
        ("Guide scope, aperture: 60 mm, focal length: 240 mm", "guide_scope"),
        ("Filter wheel for the camera, positions: 7", "filter_wheel"),
        ("Periodic error: 5 arcsec", "mount"),
        ("A thing, 3 kg", ""),
        ("M48 spacer ring 20 mm", "spacer_ring"),
        ("LiFePO4 battery, 50 Ah, 12.8 V", "power_source"),
        ("Focuser for a telescope, travel 20 mm", "focuser"),
        ("Tripod, capacity 40 kg", "support"),
    ],
)
def test_the_kind_is_recognised_or_left_open(text: str, kind: str) -> None:
    assert kinds_spoken_of(text)[1] == kind


def test_what_speaks_for_each_kind_is_told() -> None:
    likely, sure = kinds_spoken_of("Pixel size: 3.75 µm; resolution 1280 x 960")
    assert not sure
    assert {one.kind: one.labels for one in likely} == {
        "camera": ("pixel size", "resolution"),
        "guide_camera": ("pixel size", "resolution"),
    }


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_field_of_a_kind_is_known_by_its_own_label(kind: str) -> None:
    meant = {name.partition(".")[0] for names in labels_of(kind).values() for name in names}
    assert meant >= {spec.name for spec in specs_of(kind)}


LABELLED = {"measure", "count", "connection", "choice", "flag"}


@given(st.sampled_from(sorted(KINDS)).flatmap(parts_of))
def test_a_list_of_labels_and_values_never_gives_a_field_another_value(part) -> None:
    texts = part_texts(part)
    specs = [spec for spec in specs_of(part.kind) if spec.shape in LABELLED and texts[spec.name]]
    reading = read_specification("\n".join(f"{one.label}: {texts[one.name]}" for one in specs), part.kind)
    for spec in specs:
        if reading.texts.get(spec.name):
            taken = read_cell(spec, reading.texts[spec.name], part.kind_words)
            assert taken == getattr(part, spec.name)


LENGTHS = ("80 mm", "M63x1", "2.4 kg", "23.5 x 15.7 mm", "½", "∞", "3.76", "µm", "at -10 °C", "f/6", "x")
LABELS = ("apochromat", "Weight:", "aperture", "dark current", "gain", "read noise", "camera", "pixel size")
WORDS = st.sampled_from((*LENGTHS, *LABELS, "\n", ", ", "; ", ": ", "("))
TEXTS = st.one_of(st.text(max_size=200), st.lists(WORDS, max_size=25).map(" ".join))


@given(TEXTS, st.sampled_from(sorted(KINDS)))
@example("f/0 80 mm f/0 apochromat", "optical_tube")
@example("Sensor size: 1e999 x 2 mm, pixel 0 um", "camera")
@example("M0x0, M99999, ½ x ½ mm", "spacer_ring")
def test_no_text_raises_and_every_text_that_is_put_in_can_be_read(text: str, kind: str) -> None:
    kinds_spoken_of(text)
    reading = read_specification(text, kind)
    specs = {spec.name: spec for spec in specs_of(kind)}
    put_in = [(one.field, one.text) for one in reading.taken]
    for field, shown in (*put_in, *((one.field, one.text) for one in reading.offers)):
        read_cell(specs[field], shown, KINDS[kind].kind_words)
    for one in reading.taken:
        for words in one.words.split("; "):
            assert all(part in " ".join(text.split()) for part in " ".join(words.split()).split(": "))


@pytest.mark.parametrize("text", ["1," * 4000, "f/6 80 mm " * 800, "aperture 1 x " * 600, " x\t" * 2600])
def test_running_text_without_an_end_is_left_as_it_is_and_takes_no_time(text: str) -> None:
    began = process_time()
    reading = read_specification(text, "optical_tube")
    kinds_spoken_of(text)
    # Far above what it takes (some hundredths), far below what reading it as one value would take (20 s).
    assert process_time() - began < 2.0
    assert not reading.taken
    assert reading.left


@pytest.mark.parametrize(
    ("text", "first", "second", "ordered"),
    [
        ("M54 male to M48 female", "M54 male", "M48 female", True),
        ("Adapter from M54x0.75 to M48x0.75", "M54x0.75", "M48x0.75", True),
        ("2 in nosepiece -> M48x0.75", "2 in nosepiece", "M48x0.75", True),
        ("M54x0.75(m) - M48x0.75(f)", "M54x0.75(m)", "M48x0.75(f)", False),
        ("Thread: M54x0.75 / M48x0.75", "M54x0.75", "M48x0.75", False),
        ("M54x0.75 male, M48x0.75 female", "M54x0.75 male", "M48x0.75 female", False),
    ],
)
def test_two_connections_of_one_part_are_asked_about_and_not_put_in(
    text: str, first: str, second: str, ordered: bool
) -> None:
    reading = read_specification(text, "adapter")
    assert reading.sides is not None
    assert (reading.sides.first, reading.sides.second) == (first, second)
    assert reading.sides.ordered == ordered
    assert not reading.taken
    # Until its owner answers it stays in the note.
    assert all(words in reading.note for words in reading.sides.words.split("; "))


@pytest.mark.parametrize(
    "text", ["M54-M48-M42", "M48x0.75, M48 to M42", "Sky side: M54, M48 to M42", "M54 M48"]
)
def test_of_more_than_two_connections_none_is_asked_about(text: str) -> None:
    reading = read_specification(text, "adapter")
    assert reading.sides is None
    assert reading.left


def test_a_part_of_one_side_is_not_asked_about_two() -> None:
    assert read_specification("M54 male to M48 female", "optical_tube").sides is None


@pytest.mark.parametrize("kind", ["filter", "filter_wheel"])
def test_a_filter_size_is_understood_where_the_words_leave_only_one(kind: str) -> None:
    for text, size in (("Filter size: 36 mm round", "round_36"), ("50mm square", "square_50")):
        assert read_specification(text, kind).texts["format"] == size
    # 50 mm filters are round and square.
    assert "format" not in read_specification("Filter size: 50 mm", kind).texts
