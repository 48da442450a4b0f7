"""What is looked for in the catalogue: the texts of its form."""

from __future__ import annotations

import pytest

from server.domain.sky.finding import GROUPS, KINDS, TargetQuery
from server.rim.constellations import CONSTELLATIONS
from server.rim.sky_query import MONTH_NAMES, QUERY_SPECS, read_query


def read(**texts):
    return read_query(texts, "androm", 2027, 30, 15)


def test_an_empty_form_looks_for_everything():
    query, errors = read_query({}, "", 2027, 0, 30)
    assert query == TargetQuery(year=2027)
    assert errors == {}


def test_a_filled_form_is_read_whole():
    query, errors = read(
        kind="galaxies",
        month="3",
        constellation="And",
        least_arcmin="5",
        most_arcmin="200",
        faintest_mag="12.5",
        faintest_surface="23",
        order="size",
    )
    assert errors == {}
    assert query == TargetQuery(
        text="androm",
        kind="galaxies",
        constellation="And",
        least_arcmin=5.0,
        most_arcmin=200.0,
        faintest_mag=12.5,
        faintest_surface=23.0,
        month=3,
        year=2027,
        order="size",
        offset=30,
        limit=15,
    )


@pytest.mark.parametrize("field", ["kind", "month", "constellation", "order"])
def test_every_choice_that_the_form_offers_is_read_as_it_sends_it(field):
    (spec,) = (one for one in QUERY_SPECS if one.name == field)
    for value, words in spec.choices:
        for text in (value, words):
            query, errors = read(**{field: text})
            assert errors == {}
            assert str(getattr(query, field)) == value


def test_all_kinds_groups_months_and_constellations_are_offered():
    offered = {spec.name: {value for value, _ in spec.choices} for spec in QUERY_SPECS}
    assert offered["kind"] == {*GROUPS, *KINDS}
    assert offered["month"] == {str(number) for number in range(1, 13)}
    assert len(MONTH_NAMES) == 12
    # The International Astronomical Union has 88 of them.
    assert offered["constellation"] == set(CONSTELLATIONS)
    assert len(CONSTELLATIONS) == 88


@pytest.mark.parametrize(
    ("texts", "field", "sentence"),
    [
        (
            {"least_arcmin": "10", "most_arcmin": "5"},
            "most_arcmin",
            "5' is less than at least 10'. Swap",
        ),
        ({"least_arcmin": "-1"}, "least_arcmin", "must be at least 0"),
        ({"most_arcmin": "4000"}, "most_arcmin", "4000 is too much here"),
        ({"faintest_mag": "30"}, "faintest_mag", "30 is too much here (at most 25)"),
        ({"faintest_surface": "5"}, "faintest_surface", "must be at least 10"),
        ({"month": "13"}, "month", "“13” is none of the choices. Take one of “January”"),
        ({"order": "luck"}, "order", "“luck” is none of the choices"),
        ({"constellation": "Nowhere"}, "constellation", "“Nowhere” is none of the choices"),
    ],
)
def test_a_wrong_field_says_why_and_the_rest_is_looked_for(texts, field, sentence):
    query, errors = read(kind="PN" if field != "kind" else "", **texts)
    assert list(errors) == [field]
    assert sentence in errors[field]
    assert query.kind == "PN"
    assert getattr(query, field) == TargetQuery.model_fields[field].default
