"""A connection picked from usual sizes is written as people write it."""

from __future__ import annotations

import pytest

from server.domain.connections import print_connection, read_connection
from server.rim.cells import CellError
from server.rim.connection_picker import USUAL, hint_of, write_picked


@pytest.mark.parametrize(
    ("size", "gender", "length", "text"),
    [
        ("M48x0.75", "female", "5 mm", "M48x0.75 female, 5 mm deep"),
        ("M48x0.75", "", "", "M48x0.75"),
        ('2"-24', "male", "", '2"-24 male'),
        ("2 in barrel", "male", "30 mm", "2 in barrel, male, 30 mm long"),
        ("dovetail 44 mm", "", "", "dovetail 44 mm"),
    ],
)
def test_what_is_picked_is_written(size: str, gender: str, length: str, text: str) -> None:
    assert write_picked(size, gender, length) == text


@pytest.mark.parametrize(
    ("size", "gender", "length"),
    [("", "male", ""), ("dovetail 44 mm", "male", ""), ("M48x0.75", "male", "5 kg"), ("M48x0.75", "", "1 m")],
)
def test_what_does_not_go_together_is_refused(size: str, gender: str, length: str) -> None:
    with pytest.raises(CellError):
        write_picked(size, gender, length)


def test_every_size_on_offer_is_written_as_it_would_be_printed() -> None:
    for _, sizes in USUAL:
        for text, _ in sizes:
            assert print_connection(read_connection(text)) == text


def test_a_usual_pitch_is_named_and_not_taken() -> None:
    assert "0.75" in hint_of(read_connection("M48"))
    assert hint_of(read_connection("M48.5")) == ""
    assert hint_of(read_connection("M48x1")) == ""


def test_a_nosepiece_is_told_where_its_length_counts_from() -> None:
    assert "from its stop" in hint_of(read_connection("2 in nosepiece"))
    assert hint_of(read_connection("2 inch focuser")) == ""
