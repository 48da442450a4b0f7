"""CSV in and out, without loss; a bad row is told by line and column, and no bytes break the reader.

Form of the file: RFC 4180 (2005). Cells that a spreadsheet would run: OWASP, CSV Injection.
"""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.domain.observer import Holding
from server.domain.parts import KINDS, specs_of
from server.rim.forms import read_part
from server.rim.tables import (
    BYTES_MAXIMUM,
    PROBLEMS_MAXIMUM,
    ROWS_MAXIMUM,
    CsvRow,
    all_columns,
    columns_of,
    read_csv,
    write_csv,
)
from tests.rim.strategies import parts_of, rows

SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


def without_lines(good: tuple[CsvRow, ...]) -> list[CsvRow]:
    return [CsvRow(row.part, row.holding) for row in good]


@pytest.mark.parametrize("kind", sorted(KINDS))
@settings(max_examples=15, deadline=None, suppress_health_check=SLOW)
@given(data=st.data())
def test_every_kind_goes_out_and_comes_back_the_same(kind: str, data: st.DataObject) -> None:
    row = CsvRow(data.draw(parts_of(kind)))
    reading = read_csv(write_csv([row]).encode())
    assert reading.problems == ()
    assert without_lines(reading.good) == [row]


@settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
@given(table=st.lists(rows, max_size=4), bom=st.booleans())
def test_one_file_holds_many_kinds_with_what_is_owned(table: list[CsvRow], bom: bool) -> None:
    text = write_csv(table)
    reading = read_csv(text.encode("utf-8-sig" if bom else "utf-8"))
    assert reading.problems == ()
    assert without_lines(reading.good) == table


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(table=st.lists(rows, min_size=1, max_size=3))
def test_no_cell_of_an_export_begins_like_a_formula(table: list[CsvRow]) -> None:
    for cells in csv.reader(io.StringIO(write_csv(table), newline="")):
        assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


@pytest.mark.parametrize("name", ["=1+1", "@x", "+3", "-10", "'quoted", "'=x", "''=x", "'"])
def test_a_name_like_a_formula_survives_the_round_trip(name: str) -> None:
    part = read_part("shim", {"model": name})
    reading = read_csv(write_csv([CsvRow(part)]).encode())
    assert reading.good[0].part.model == name


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_found(separator: str) -> None:
    lines = [["kind", "model", "length_mm", "owned"], ["spacer ring", "R5", "5.0 mm", "2"]]
    text = "\n".join(separator.join(line) for line in lines)
    reading = read_csv(text.encode())
    assert reading.problems == ()
    assert [(row.part.kind, row.part.model, row.holding, row.line) for row in reading.good] == [
        ("spacer_ring", "R5", Holding(owned=2), 2)
    ]


def test_a_decimal_comma_is_read_in_a_file_with_semicolons() -> None:
    reading = read_csv(b"kind;model;length_mm\nshim;S;0,3\n")
    assert reading.good[0].part.length_mm.nominal == 0.3


def test_a_file_without_the_column_kind_is_read_as_the_kind_it_is_said_to_hold() -> None:
    data = b"model,length_mm\nS,0.3\n"
    assert read_csv(data).good == ()
    assert read_csv(data).problems[0].column == "kind"
    assert read_csv(data, "shim").good[0].part.kind == "shim"


def test_a_bad_row_is_told_by_line_and_column_and_the_good_ones_are_offered() -> None:
    text = (
        "kind,model,length_mm,pixel_um,note,owned\n"
        "shim,S1,0.3,,,1\n"
        'shim,S2,5 kg,,"a note\nof two lines",\n'
        "shim,S3,0.5,3.76,,\n"
        "shim,S4,0.5,,,many\n"
        "sextant,S5,,,,\n"
        ",S6,,,,\n"
        "shim,,0.5,,,\n"
        "\n"
        "shim,S8,0.5,,,,stray\n"
        "shim,S9,0.9,,,\n"
    )
    reading = read_csv(text.encode())
    assert [(row.part.model, row.line) for row in reading.good] == [("S1", 2), ("S9", 12)]
    told = [(problem.line, problem.column) for problem in reading.problems]
    assert told == [
        (3, "length_mm"),
        (5, "pixel_um"),
        (6, "owned"),
        (7, "kind"),
        (8, "kind"),
        (9, "model"),
        (11, ""),
    ]
    assert "this field is a length" in reading.problems[0].sentence
    assert "no such field" in reading.problems[1].sentence


def test_a_row_with_two_faults_tells_both() -> None:
    reading = read_csv(b"kind,model,length_mm,mass_kg\nshim,S,x,3 mm\n")
    assert [problem.column for problem in reading.problems] == ["mass_kg", "length_mm"]


def test_a_column_that_no_part_has_is_told_and_left_out() -> None:
    reading = read_csv(b"kind,model,colour_of_box\nshim,S,red\n")
    assert [(one.line, one.column) for one in reading.problems] == [(1, "colour_of_box")]
    assert [row.part.model for row in reading.good] == ["S"]


def test_a_column_that_stands_there_twice_stops_the_reading() -> None:
    reading = read_csv(b"kind,model,model\nshim,A,B\n")
    assert reading.good == ()
    assert "twice" in reading.problems[0].sentence


def test_an_open_quotation_mark_is_told_where_its_row_begins() -> None:
    reading = read_csv(b'kind,model\nshim,A\nshim,"B\nshim,C\n')
    assert [row.part.model for row in reading.good] == ["A"]
    assert [(one.line, one.column) for one in reading.problems] == [(3, "")]
    assert "quotation mark" in reading.problems[0].sentence


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n", "empty"),
        (b"kind,model\nshim,\xff\n", "not UTF-8"),
        (b"\x00" * (BYTES_MAXIMUM + 1), "at most 5 MB"),
        (b"a," * 300, "at most 200"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(data: bytes, said: str) -> None:
    reading = read_csv(data)
    assert reading.good == ()
    assert said in reading.problems[0].sentence


def test_rows_beyond_the_bound_are_told_and_not_read() -> None:
    reading = read_csv(b"kind,model\n" + b"shim,S\n" * (ROWS_MAXIMUM + 5))
    assert len(reading.good) == ROWS_MAXIMUM
    assert [one.line for one in reading.problems] == [ROWS_MAXIMUM + 2]


def test_problems_beyond_the_bound_are_counted() -> None:
    reading = read_csv(b"kind,model\n" + b"brick,S\n" * (PROBLEMS_MAXIMUM + 7))
    assert len(reading.problems) == PROBLEMS_MAXIMUM
    assert reading.problems_left_out == 7


@given(st.binary(max_size=400))
def test_no_bytes_break_the_reader(data: bytes) -> None:
    reading = read_csv(data)
    assert reading.problems or reading.good


@settings(deadline=None)
@given(
    st.lists(
        st.lists(
            st.sampled_from(
                ["kind", "shim", "model", "3", "=x", '"', '""', "\n", "\r", "\x00", "é", ",", ";"]
            )
        ),
        max_size=8,
    )
)
def test_no_torn_table_breaks_the_reader(pieces: list[list[str]]) -> None:
    text = "kind,model,length_mm\n" + "\n".join(",".join(line) for line in pieces)
    reading = read_csv(text.encode())
    assert all(row.part.kind in KINDS for row in reading.good)
    assert all(problem.sentence and problem.line >= 1 for problem in reading.problems)


def test_the_columns_of_one_kind_are_its_own_fields_and_the_quantities() -> None:
    assert set(columns_of(["shim"])) == {spec.name for spec in specs_of("shim")} | {
        "kind",
        "owned",
        "wished",
        "considered",
    }
    assert set(columns_of(KINDS)) == set(all_columns())


def test_an_export_of_nothing_is_a_form_to_fill_in() -> None:
    header = write_csv([], ["shim"]).strip().split(",")
    assert header[0] == "kind"
    assert "length_mm" in header
