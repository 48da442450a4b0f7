from __future__ import annotations

import pytest

from server.domain.findings import Amount
from server.domain.said import Named, Quantity, said
from server.store.clauses import read_done, write_done


def test_what_was_done_is_kept_with_its_facts():
    done = said(
        "did.set_length",
        part=Named(7, "Brask {Ring}"),
        length=Amount(value=12.5, dimension="length", digits=3),
        power=Quantity(11.4, "V", digits=1),
        why=said("did.moved", part=Named(8, "Quill")),
        names=("a", Named(9, "b")),
        turned=True,
        count=3,
        nobody=None,
    )
    assert read_done(write_done(done)) == done


@pytest.mark.parametrize("text", ["", "set Brask Ring to 12 mm", "added {x}"])
def test_text_of_an_older_day_stays_as_it_is(text: str):
    assert read_done(text) == text == write_done(text)


def test_nothing_is_no_words():
    assert read_done(None) == ""


@pytest.mark.parametrize(
    "damaged",
    [
        '{"said":',
        '{"said":5}',
        '{"said":"did.added","facts":[1]}',
        '{"said":"did.added","facts":{"part":{"part":1}}}',
        '{"said":"did.added","facts":{"length":{"amount":1.0,"dimension":"colour","digits":1}}}',
    ],
)
def test_a_damaged_clause_costs_its_words_and_not_the_rig(damaged):
    assert read_done(damaged) == ""
