"""The unit of work of the hosted form, which knows what a club has in common."""

from __future__ import annotations

from typing import cast

from server.flow.account_protocols import AccountStore
from server.flow.workbench import Workbench


def club_store(bench: Workbench) -> AccountStore:
    """The unit that a workbench of the hosted form is over."""
    return cast(AccountStore, bench.store)
