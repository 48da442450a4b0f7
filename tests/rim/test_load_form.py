"""The form of a planned lift."""

from __future__ import annotations

import pytest

from server.domain.errors import FieldErrors
from server.domain.load.plan import LoadPlan
from server.rim.load_form import with_lift


def test_how_long_the_lifting_goes_on_can_be_typed_and_is_an_hour_where_it_is_not() -> None:
    def hours(typed: str) -> float:
        return with_lift(LoadPlan(), {"name": "tube", "hours": typed}, [1]).lifts[0].hours

    assert hours("2") == pytest.approx(2.0)
    assert hours("") == pytest.approx(1.0)
    for beyond in ("0", "8.5"):
        with pytest.raises(FieldErrors):
            hours(beyond)
