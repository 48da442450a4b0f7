"""Mechanical connections: what they are, how the trade writes them, which of them mate.

    kinds      one frozen value per kind of connection, and their union `Connection`
    printing   connection -> canonical text, and -> a short key for an index
    reading    what people type -> connection, or a sentence about why not
    mating     two connections at a joint -> do they mate, and why

This package is pure: text and numbers in, values out.
"""

from __future__ import annotations

from server.domain.connections.kinds import (
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    Dovetail,
    Gender,
    InchThread,
    MetricThread,
    gender_of,
    opposite,
    thread_length_of,
)
from server.domain.connections.mating import Mating, Verdict, mate
from server.domain.connections.printing import connection_key, print_connection
from server.domain.connections.reading import ConnectionTextError, read_connection

__all__ = [
    "Barrel",
    "Bayonet",
    "BoltPattern",
    "Connection",
    "ConnectionTextError",
    "Dovetail",
    "Gender",
    "InchThread",
    "Mating",
    "MetricThread",
    "Verdict",
    "connection_key",
    "gender_of",
    "mate",
    "opposite",
    "print_connection",
    "read_connection",
    "thread_length_of",
]
