"""Verdicts as values: inputs that are put together when they are asked for.

Source: none needed; it is what the house promises.
"""

from __future__ import annotations

from collections.abc import Iterator

from server.domain.verdicts import Given, Later, Verdict
from server.rim.phrasebook.tell import tell

GIVEN = (Given("spacing", None, "typed"), Given("window", None, "typed"))


def test_inputs_are_put_together_when_somebody_asks_for_them_and_once():
    asked: list[int] = []

    def inputs(number: int) -> Iterator[Given]:
        asked.append(number)
        yield from GIVEN

    verdict = Verdict("spacing.long", "stop", (), inputs=Later(inputs, 7))
    tell.short(verdict)
    assert asked == []
    assert [one.label for one in tell(verdict).inputs] == ["spacing", "window"]
    assert (len(verdict.inputs), verdict.inputs[0], verdict.inputs[1:]) == (2, GIVEN[0], GIVEN[1:])
    assert asked == [7]


def test_inputs_are_the_same_whenever_they_were_put_together():
    early = Verdict("spacing.long", "stop", (), inputs=GIVEN)
    late = Verdict("spacing.long", "stop", (), inputs=Later(lambda: GIVEN))
    assert early == late
    assert hash(early) == hash(late)
    assert late != Verdict("spacing.long", "stop", (), inputs=Later(lambda: GIVEN[:1]))


def test_a_short_finding_says_what_the_whole_one_says_and_has_no_inputs():
    verdict = Verdict("spacing.long", "stop", (), inputs=GIVEN)
    short, whole = tell.short(verdict), tell(verdict)
    assert not hasattr(short, "inputs")
    assert short.model_dump() == whole.model_dump(exclude={"inputs"})
