"""The hosted app over a database of its own, with a steward and a member."""

from __future__ import annotations

from tests.web.hosted import club, hosted, hosted_settings, hosted_stores  # noqa: F401 - pytest finds them here
