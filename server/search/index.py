"""A catalogue made ready for searching: built once from its pieces, used by many searches."""

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt

from server.search.problem import Piece

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


class Index:
    """The pieces as columns, one row for each way to use a copy: an entry.

    An entry is (piece, arc, lot): the lot says whether the copy is owned (price 0) or bought. Entries are
    in the order of the catalogue numbers, so that a search does not depend on the order in which pieces are
    given.
    """

    pieces: tuple[Piece, ...]
    start: Ints
    end: Ints
    length: Ints
    price: Ints
    mass: Ints
    piece: Ints
    arc: Ints
    bought: Bools
    shim: Bools

    def __init__(self, pieces: Sequence[Piece]) -> None:
        self.given = pieces
        self.pieces = tuple(sorted(pieces, key=lambda piece: piece.number))
        rows: list[tuple[int, int, int, int, int, int, int, bool, bool]] = []
        before: int | None = None
        for position, piece in enumerate(self.pieces):
            if piece.number == before:
                raise ValueError(f"Two pieces have the number {before}; add their copies up in one piece.")
            before = piece.number
            seen: set[tuple[int, int]] = set()
            for arc_index, arc in enumerate(piece.arcs):
                ends = (arc.start, arc.end)
                if ends in seen:
                    continue
                seen.add(ends)
                if piece.owned:
                    rows.append((*ends, piece.length, 0, piece.mass, position, arc_index, False, piece.shim))
                if piece.for_sale and piece.price is not None:
                    rows.append(
                        (*ends, piece.length, piece.price, piece.mass, position, arc_index, True, piece.shim)
                    )
        table = np.array(rows, dtype=np.int64).reshape(-1, 9)
        self._set(table)

    def _set(self, table: Ints) -> None:
        """Take the columns from a table of entries."""
        self.table = table
        columns = [np.ascontiguousarray(column) for column in table.T]
        self.start, self.end, self.length, self.price, self.mass, self.piece, self.arc = columns[:7]
        self.bought = columns[7].astype(np.bool_)
        self.shim = columns[8].astype(np.bool_)

    def without(self, numbers: Collection[int]) -> "Index":
        """The index of the same catalogue with the pieces of these ``numbers`` left out, much quicker than
        anew.

        A problem that goes with it names the pieces that are left; they are not compared one by one.
        """
        left_out = np.array(
            [at for at, piece in enumerate(self.pieces) if piece.number in numbers], dtype=np.int64
        )
        other = object.__new__(Index)
        other.given = ()
        other.pieces = self.pieces
        other._set(self.table[~np.isin(self.piece, left_out)])
        return other
