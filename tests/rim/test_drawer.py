"""A drawer of small parts as it is counted -> parts with plain names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.connections import print_connection, read_connection
from server.domain.parts import Filter, Shim, SpacerRing
from server.rim.drawer import ADAPTERS, RINGS, SHIMS, read_drawer, short_size

FIELDS = (
    "maker",
    "material",
    "ring.ends",
    "ring.M48x0.75.10",
    "ring.M48x0.75.more",
    "ring.other.thread",
    "ring.other.more",
    "shim.M48.0.2",
    "shim.M48.more",
    "shim.other.thread",
    "shim.other.more",
    "filter.bands",
    "filter.maker",
    "filter.format",
    "filter.width",
    "filter.thickness",
    "adapter.ends",
    "adapter.0.count",
    "adapter.0.length",
    "adapter.a.sky",
    "adapter.a.camera",
    "adapter.a.length",
    "adapter.a.count",
)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("M48x0.75 male", "M48"),
        ("M42x0.75", "M42x0.75"),
        ("M42x1", "M42x1"),
        ("M56x1", "M56x1"),
        ("M48x1", "M48x1"),
        ("2 in barrel male", "2 in"),
        ('2"-24 female', '2"-24'),
    ],
)
def test_a_size_is_named_short_where_only_one_can_be_meant(typed: str, name: str) -> None:
    assert short_size(read_connection(typed)) == name


def test_every_length_of_every_ruler_makes_a_part_of_that_length_and_thread() -> None:
    texts = {name: "1" for ruler in (*RINGS, *SHIMS) for name, _ in ruler.marks}
    reading = read_drawer(texts)
    assert not reading.errors
    assert len(reading.rows) == len(texts)
    for (part, count), name in zip(reading.rows, texts, strict=True):
        kind, thread, length = name.split(".", 1)[0], *name.split(".", 1)[1].rsplit(".", 1)
        assert count == 1
        assert part.mass_kg is None
        if kind == "ring":
            assert isinstance(part, SpacerRing)
            assert part.sky_side is not None
            assert part.length_mm is not None
            assert print_connection(part.sky_side) == f"{thread} female"
            assert part.length_mm.nominal == float(length)
        else:
            # A shim of M48 lets a thread of 48 mm pass.
            assert isinstance(part, Shim)
            assert part.fits_from_mm is not None
            assert thread.startswith(f"M{part.fits_from_mm.nominal:g}")


def test_an_inch_thread_and_inches_are_taken_as_they_are_typed() -> None:
    reading = read_drawer({"shim.other.thread": '2"-24', "shim.other.more": "0.02 in; 2 x 0.5"})
    assert not reading.errors
    names = {part.name: (count, part.model_dump()) for part, count in reading.rows}
    assert {name: count for name, (count, _) in names.items()} == {
        'Shim 2"-24, 0.02 in': 1,
        'Shim 2"-24, 0.5 mm': 2,
    }
    # NIST SP 811: an inch is 25.4 mm.
    assert names['Shim 2"-24, 0.5 mm'][1]["fits_from_mm"]["nominal"] == pytest.approx(50.8)


def test_every_usual_adapter_has_two_different_ends() -> None:
    reading = read_drawer({f"adapter.{at}.count": "1" for at in range(len(ADAPTERS))})
    assert not reading.errors
    assert len({part.name for part, _ in reading.rows}) == len(ADAPTERS)


def test_a_broad_filter_takes_no_band_width() -> None:
    reading = read_drawer({"filter.bands": "red; oiii", "filter.width": "6 nm"})
    red, narrow = (part for part, _ in reading.rows)
    assert isinstance(red, Filter)
    assert isinstance(narrow, Filter)
    assert (red.band_width_nm, red.band_centre_nm, red.broadband) == (None, None, True)
    # NIST Atomic Spectra Database: the stronger line of OIII in air.
    assert narrow.band_centre_nm is not None
    assert narrow.band_centre_nm.nominal == 500.7
    assert narrow.basis_of(narrow.band_centre_nm) == "assumed"


@given(
    st.dictionaries(
        st.sampled_from(FIELDS),
        st.one_of(
            st.text(max_size=20),
            st.sampled_from(
                [
                    "1",
                    "2 x 5 mm",
                    "M48",
                    "M56x1 male",
                    "dovetail 44 mm",
                    "5 kg",
                    "0",
                    "unknown",
                    "ha; red",
                    "2 in",
                ]
            ),
        ),
    )
)
def test_whatever_is_typed_is_taken_or_told_and_never_an_error_of_ours(texts: dict[str, str]) -> None:
    reading = read_drawer(texts)
    assert reading.rows or reading.errors
    assert set(reading.errors) <= {*FIELDS, "adapter.a.sky", "adapter.a.camera"}
