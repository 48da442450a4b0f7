"""What routes are handed: the workbench of the observer whom the path names, over a unit of work of
`server/handed.py`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends

from server.flow.protocols import Store
from server.flow.workbench import Workbench
from server.handed import ONE_HEAVY, Number, ReadingStore, WritingStore, reading_store
from server.rim.phrasebook.tell import tell

HeavyStore = Annotated[Store, Depends(reading_store, scope="function", max_concurrency=ONE_HEAVY)]
"""For what is worked out for long; light answers never wait for it."""


def reading_bench(observer_id: Number, store: ReadingStore) -> Workbench:
    """The workbench of the path's observer, for looking. Raises NotFoundError."""
    return Workbench(store, store.observer(observer_id), tell)


def heavy_bench(observer_id: Number, store: HeavyStore) -> Workbench:
    """The workbench of the path's observer, for what is worked out for long. Raises NotFoundError."""
    return Workbench(store, store.observer(observer_id), tell)


def writing_bench(observer_id: Number, store: WritingStore) -> Workbench:
    """The workbench of the path's observer, for changing. Raises NotFoundError."""
    return Workbench(store, store.observer(observer_id), tell)


ReadingBench = Annotated[Workbench, Depends(reading_bench, scope="function")]
HeavyBench = Annotated[Workbench, Depends(heavy_bench, scope="function")]
WritingBench = Annotated[Workbench, Depends(writing_bench, scope="function")]
