"""What templates call, and what they are handed by it."""

from __future__ import annotations

import gc
import weakref

import pytest
from jinja2 import DictLoader, Environment, StrictUndefined, UndefinedError, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from server.web.plain_output import PlainOutput


class Callee:
    """Has a method."""

    def plain(self, given: str, more: str = "") -> str:
        """What was given."""
        return f"<{given}{more}>"


def function(given: str) -> str:
    return f"{given}&"


@pass_context
def told(context: Context, given: str) -> str:
    """What was given, with what the page holds."""
    return f"{given}{context['held']}"


TEMPLATE = """
{% macro shown(given, more="") %}<b>{{ given }}{{ more }}</b>{{ caller() if caller is defined }}{% endmacro %}
{% macro inner(given) %}{{ shown(given, more="&") }}{% endmacro %}
{{ inner("<a>") }}{% call shown("x") %}<i>{{ callee.plain("y") }}</i>{% endcall %}
{% for one in [1, 2] %}{{ callee.plain("a", more=one) }}{{ "b" | told }}{{ function("c") }}{% endfor %}
{{ "never" if not callee }}{{ callee.plain is defined }}{{ callee.other is defined }}{{ held is defined }}
{{ "<" ~ 1 ~ held }}{{ "<" ~ inner("x") ~ 2 }}
{% block part %}{{ "text".startswith("te") }}{{ {"k": "v"}.get("k") }}{{ range(3) | list }}{% endblock %}
"""


def test_what_is_called_gets_what_jinja_itself_would_hand_it():
    pages = []
    for kind in (Environment, PlainOutput):
        made = kind(loader=DictLoader({"page": TEMPLATE}), autoescape=True, undefined=StrictUndefined)
        made.filters["told"] = told
        held = {"held": "&", "callee": Callee(), "function": function}
        pages.append(made.get_template("page").render(held))
    assert pages[0] == pages[1]
    assert "<b>&lt;a&gt;&amp;</b><b>x</b><i>&lt;y&gt;</i>" in pages[0]


@pytest.mark.parametrize("call", ["shown()", "shown(1, 2)", "shown(1, given=2)", "shown(other=1)"])
def test_a_macro_takes_what_it_names_and_no_more(call: str):
    page = "{% macro shown(given) %}{{ given }}{% endmacro %}{{ " + call + " }}"
    made = PlainOutput(loader=DictLoader({"page": page}), autoescape=True, undefined=StrictUndefined)
    with pytest.raises((TypeError, UndefinedError)):
        made.shown("page")


def test_a_page_goes_by_itself_once_it_is_shown_whole_or_in_part():
    class Page:
        """Stands for what a page holds."""

        word = Markup("<>")

    pages = {
        "page": "{% from 'macros' import shown with context %}{% block part %}{{ shown() }}{% endblock %}!",
        "macros": "{% macro shown() %}{{ own() }}{% endmacro %}"
        "{% macro own() %}{{ page.word }}{% endmacro %}",
    }
    made = PlainOutput(loader=DictLoader(pages), autoescape=True, undefined=StrictUndefined)
    gc.disable()
    try:
        for block, text in (("", "<>!"), ("part", "<>")):
            page = Page()
            seen = weakref.ref(page)
            assert made.shown("page", block, page=page) == text
            del page
            assert seen() is None
    finally:
        gc.enable()


def test_what_goes_wrong_in_a_template_is_told_with_its_line():
    made = PlainOutput(loader=DictLoader({"page": "a\n{{ 1 // held }}"}), undefined=StrictUndefined)
    with pytest.raises(ZeroDivisionError) as caught:
        made.shown("page", held=0)
    assert caught.traceback[-1].lineno == 1
    with pytest.raises(KeyError):
        made.shown("page", "nowhere", held=1)
