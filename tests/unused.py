"""`python -m tests.unused`: names of the app that nothing in it reads, by vulture. None: exit status 0.

Vulture goes by names alone. The tests are not looked at, so that what only they call is found; the
expressions of the templates are. What a framework reads is allowed below with its reason, while it is needed.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from vulture import Vulture

ROOT = Path(__file__).resolve().parents[1]
EXPRESSION = re.compile(r"\{[{%](.*?)[%}]\}", re.DOTALL)

HOOKS = (
    "@router.*",
    "@share_router.*",
    "@choice.*",
    "@everyone.*",
    "@field_validator",
    "@model_validator",
    "@event.listens_for",
    "@compiles",
)
"""Decorators that hand a function to FastAPI, pydantic or SQLAlchemy, which call it."""

FIELDS = {
    "server/api/": "pydantic writes an answer's fields by its class",
    "server/domain/parts/": "forms, files and answers go through a part's fields by its class",
    "server/domain/scout/needs.py": "needs are read by the names that LIMITS and FLAGS give",
    "server/search/mixed.py": "the solver's model",
    "server/store/account_tables.py": "likewise",
    "server/store/tables.py": "rows are written by their columns' names, tables are found by their metadata",
}
"""Where fields and classes are read by other ways than by name."""

NAMES = {
    "trainwright": "the command, named in pyproject.toml",
    "worker_app": "named to the worker processes of the hosted form",
    "long_app": "likewise",
    "raw_headers": "starlette's answer",
    "context_class": "Jinja's hook",
    "converter": "logging's setting",
    "model_config": "pydantic's settings of a model",
    "schema_version": "written with the document, and read before it is a model",
    "code_generator_class": "Jinja's hook",
    "visit_Concat": "Jinja's hook",
    "visit_Getattr": "Jinja's hook",
    "capture_signals": "uvicorn's hook",
    "force_exit": "uvicorn's setting",
    "isolation_level": "sqlite3's setting",
    "inherit_cache": "SQLAlchemy's setting of a clause",
    "read_only": "psycopg's setting",
    "cache_ok": "SQLAlchemy's setting of a type",
    "impl": "SQLAlchemy's setting of a type",
    "process_bind_param": "SQLAlchemy's hook",
    "remaining": "sqlite3's signature",
    "writeable": "numpy's setting",
    "schema_text": "the command in DEVELOPERS.md that writes the schema of saved entries",
    "distance_km": "the Moon's parallax is tested by it",
    "mean_e": "what a sketch's noise is laid on, for its tests",
    "noise_e": "likewise",
    "sky_noise_e": "what a sketch that stands alone is stretched by",
    "low_per_k": "the published range beside a material's usual value",
    "high_per_k": "the published range beside a material's usual value",
    "lower_key": "names a joint of the guide branch",
}
"""Single names."""


def main() -> int:
    """Prints what is unused, and what is allowed in vain. Gives the exit status."""
    finder = Vulture(ignore_decorators=list(HOOKS))
    finder.scavenge([str(ROOT / "server")])
    for template in sorted((ROOT / "templates").rglob("*.html")):
        words = re.findall(r"[^\W\d]\w*", " ".join(EXPRESSION.findall(template.read_text(encoding="utf-8"))))
        finder.used_names.update(words)
    unused, allowed = [], set()
    for item in finder.get_unused_code():
        where = Path(item.filename).resolve().relative_to(ROOT).as_posix()
        place = next((place for place in FIELDS if where.startswith(place)), None)
        if item.name in NAMES:
            allowed.add(item.name)
        elif place and item.typ in ("variable", "class", "attribute"):
            allowed.add(place)
        else:
            unused.append(f"{where}:{item.first_lineno}: {item.message}")
    in_vain = [
        f"tests/unused.py: {name} is allowed in vain" for name in {**NAMES, **FIELDS} if name not in allowed
    ]
    print("\n".join([*unused, *in_vain]) or "Everything is read.")
    return 1 if unused or in_vain else 0


if __name__ == "__main__":
    sys.exit(main())
