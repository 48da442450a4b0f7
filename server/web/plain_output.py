"""Jinja's output without its wrapping, its calls without its questions, and its pages without what stays of
them: the one place that overrides methods of Jinja's own.

Jinja makes each output a Markup, though all that happens to it is being joined to the others; asks of each
name whether it is an attribute or a key, and of each thing that is called what it wants to be handed. Here an
output is a plain string, short texts keep their escaped form, and attributes and calls are Python's own.
Measured in turn in one process, on the block that answers a change on the bench (108 kB, CPython 3.11): half
of Jinja's time at the median, 4.5 ms of processor time instead of 8.6 on a busy machine.
Nothing is left to Python's collector, which took 0.26 ms for what a change left.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from keyword import iskeyword
from typing import Any

from jinja2 import Environment
from jinja2.compiler import CodeGenerator, Frame, MacroRef
from jinja2.nodes import Call, Concat, CondExpr, Expr, Getattr, TemplateData, Test
from jinja2.runtime import Context, markup_join
from jinja2.utils import missing
from markupsafe import Markup, escape

MADE = "contexts made"
"""Under this no template finds anything: it is no name."""
_SHORT = 200
"""Characters of a text that is worth keeping in its escaped form."""


@lru_cache(2048)
def _escaped(text: str) -> str:
    return str(escape(text))


class _Writer(CodeGenerator):
    """Compiles an output of a template into a call of `written`. Should a later Jinja no longer call one of
    these methods, its own way is taken, which is slower and as safe.
    """

    def write_commons(self) -> None:
        """What stands before all else of a page and of a block."""
        super().write_commons()
        self.writeline("written = environment.written")

    def visit_Getattr(self, node: Getattr, frame: Frame) -> None:  # noqa: N802 - Jinja's name
        """Take what an object has under this name. No page looks into a dictionary so."""
        self.write("(")
        self.visit(node.node, frame)
        self.write(f").{node.attr}")

    def visit_CondExpr(self, node: CondExpr, frame: Frame) -> None:  # noqa: N802 - Jinja's name
        """Choose. Where nothing else is named Jinja makes an object with a message, and shows nothing."""
        node.expr2 = node.expr2 or TemplateData("")
        super().visit_CondExpr(node, frame)

    def visit_Test(self, node: Test, frame: Frame) -> None:  # noqa: N802 - Jinja's name
        """Ask something, as whether an object has such a name at all."""
        if node.name == "defined" and isinstance(node.node, Getattr):
            self.write("hasattr(")
            self.visit(node.node.node, frame)
            self.write(f", {node.node.attr!r})")
        else:
            super().visit_Test(node, frame)

    def visit_Concat(self, node: Concat, frame: Frame) -> None:  # noqa: N802 - Jinja's name
        """Join texts."""
        self.write("environment.joined((")
        for one in node.nodes:
            self.visit(one, frame)
            self.write(", ")
        self.write("))")

    def visit_Call(  # noqa: N802 - Jinja's name
        self, node: Call, frame: Frame, forward_caller: bool = False
    ) -> None:
        """Call something, as nothing that is called wants the context."""
        words = any(iskeyword(one.key) for one in node.kwargs)
        if words or forward_caller or node.dyn_args or node.dyn_kwargs:
            super().visit_Call(node, frame, forward_caller=forward_caller)
            return
        self.visit(node.node, frame)
        self.write("(")
        for argument in (*node.args, *node.kwargs):
            self.visit(argument, frame)
            self.write(", ")
        self.write(")")

    def macro_def(self, macro_ref: MacroRef, frame: Frame) -> None:
        """Make a macro of the function that was written for it."""
        if macro_ref.accesses_caller or macro_ref.accesses_kwargs or macro_ref.accesses_varargs:
            super().macro_def(macro_ref, frame)
        else:
            self.write(f"environment.macro(macro, {[one.name for one in macro_ref.node.args]!r})")

    def _output_child_pre(self, node: Expr, frame: Frame, finalize: Any) -> None:
        context = frame.eval_ctx
        if context.autoescape and not context.volatile and finalize.src is None:
            self.write("written(")
        else:
            super()._output_child_pre(node, frame, finalize)


class _Context(Context):
    """A context and its macros hold each other, and through them a page of some hundred objects would stay
    until Python's collector comes by: `PlainOutput.shown` lets go of them.
    """

    def __init__(self, environment: Environment, parent: dict[str, Any], *more: Any, **named: Any) -> None:
        super().__init__(environment, parent, *more, **named)
        if MADE in parent:
            parent[MADE].append(self)


class PlainOutput(Environment):
    """An environment whose templates join plain strings."""

    code_generator_class = _Writer
    context_class = _Context

    def shown(self, name: str, block: str = "", **values: object) -> str:
        """What a template, or one block of it as it stands within, shows of the values. Raises KeyError for a
        block that is not there.
        """
        template, made = self.get_template(name), list[_Context]()
        context = template.new_context({**values, MADE: made})
        try:
            text = template.root_render_func(context)
            if not block:
                return "".join(text)
            # Up to its first piece of output a template runs its imports and learns its parents' blocks, and
            # a block needs both.
            next(text, None)
            text.close()  # type: ignore[attr-defined]
            return "".join(context.blocks[block][0](context))
        except Exception:  # noqa: BLE001 - as Jinja's own `render`, which raises it with the template's line
            return self.handle_exception()
        finally:
            while made:
                made.pop().vars.clear()

    @staticmethod
    def written(value: object) -> str:
        """The value as it stands in the page: escaped, unless it is Markup already."""
        if type(value) is str:
            return _escaped(value) if len(value) < _SHORT else escape(value)
        if type(value) is int:
            return str(value)
        return value if type(value) is Markup else escape(value)

    @staticmethod
    def joined(texts: tuple[object, ...]) -> str:
        """The texts as one: Markup as soon as one of them is, with the others escaped."""
        return markup_join(texts) if Markup in map(type, texts) else "".join(map(str, texts))

    @staticmethod
    def macro(write: Callable[..., str], names: list[str]) -> Callable[..., Markup]:
        """What a template calls: it writes Markup of arguments, by their place or by these names."""
        wanted = len(names)

        def called(*given: Any, **named: Any) -> Markup:
            if named or len(given) != wanted:
                given += tuple([named.pop(name, missing) for name in names[len(given) :]])
                if named or len(given) != wanted:
                    raise TypeError(f"a macro takes {names}, and no more: {list(named) or len(given)}")
            return str.__new__(Markup, write(*given))

        return called
