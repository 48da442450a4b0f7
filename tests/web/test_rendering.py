"""The templates' environment: whatever stands in a page has been escaped once, and only once."""

from __future__ import annotations

import pytest
from jinja2 import UndefinedError
from markupsafe import Markup

from server.web.rendering import environment

# OWASP, Cross Site Scripting Prevention Cheat Sheet, output encoding: these five are written as entities.
HOSTILE = "<script>alert(\"1\")</script> & 'more'"


def render(template: str, **values: object) -> str:
    return environment().from_string(template).render(**values)


@pytest.mark.parametrize("text", [HOSTILE, HOSTILE * 20])
@pytest.mark.parametrize(
    "template",
    [
        "{{ x }}",
        '<p title="{{ x }}"></p>',
        "{% macro m(a) %}{{ a }}{% endmacro %}{{ m(x) }}",
        "{% macro m() %}{{ caller() }}{% endmacro %}{% call m() %}{{ x }}{% endcall %}",
        "{% set y %}{{ x }}{% endset %}{{ y }}",
        "{% for one in [x] %}{{ one }}{% endfor %}",
        "{{ x ~ '' }}",
        "{{ [x] | join(', ') }}",
        "{{ x if x else '' }}",
    ],
)
def test_a_text_is_escaped_once_whatever_way_it_takes_into_the_page(template: str, text: str):
    written = render(template, x=text)
    for sign in ("<script", 'alert("', "'more"):
        assert sign not in written
    assert written.count("&lt;script&gt;") == text.count("<script>")
    assert "&amp;lt;" not in written


def test_an_object_is_escaped_by_what_it_says():
    class Named:
        def __str__(self) -> str:
            return "<b>"

    class Text(str):
        pass

    assert render("{{ x }}", x=Named()) == "&lt;b&gt;"
    assert render("{{ x }}", x=Text("<b>")) == "&lt;b&gt;"
    assert render("{{ x }}{{ y }}", x=3, y=None) == "3None"


def test_markup_stays_as_it_is():
    assert render("{{ x }}", x=Markup("<b>bold</b>")) == "<b>bold</b>"


def test_a_name_that_nobody_gave_is_an_error():
    with pytest.raises(UndefinedError):
        render("{{ nobody }}")
