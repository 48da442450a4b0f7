"""What templates call, and what they are handed by it."""

from __future__ import annotations

from jinja2 import DictLoader, Environment, StrictUndefined, pass_context
from jinja2.runtime import Context

from server.web.plain_output import PlainOutput


class Callee:
    """Has one method that wants the context, and one that does not."""

    def plain(self, given: str, more: str = "") -> str:
        """What was given."""
        return f"<{given}{more}>"

    @pass_context
    def told(self, context: Context, given: str) -> str:
        """What was given, with what the page holds."""
        return f"{given}{context['held']}"


@pass_context
def function(context: Context, given: str) -> str:
    return f"{given}{context['held']}"


TEMPLATE = """
{% macro shown(given, more="") %}<b>{{ given }}{{ more }}</b>{{ caller() if caller is defined }}{% endmacro %}
{% macro inner(given) %}{{ shown(given, more="&") }}{% endmacro %}
{{ inner("<a>") }}{% call shown("x") %}<i>{{ callee.plain("y") }}</i>{% endcall %}
{% for one in [1, 2] %}{{ callee.plain("a", more=one) }}{{ callee.told("b") }}{{ function("c") }}{% endfor %}
{% block part %}{{ "text".startswith("te") }}{{ {"k": "v"}.get("k") }}{{ range(3) | list }}{% endblock %}
"""


def test_what_is_called_gets_what_jinja_itself_would_hand_it():
    pages = []
    for kind in (Environment, PlainOutput):
        made = kind(loader=DictLoader({"page": TEMPLATE}), autoescape=True, undefined=StrictUndefined)
        held = {"held": "&", "callee": Callee(), "function": function}
        pages.append(made.get_template("page").render(held))
    assert pages[0] == pages[1]
    assert "<b>&lt;a&gt;&amp;</b><b>x</b><i>&lt;y&gt;</i>" in pages[0]
