"""The store: everything that is kept, in one SQLite file or one PostgreSQL database. Domain objects go in
and come out.

tables     the row classes; they never leave this folder
mapping    rows to domain objects, and back
dialects   what differs between the two databases, and nothing else does
session    opening the database, and units of work
prepare    creating it, and bringing it to the newest schema
passkeys, accounts, account_tables   the same of the hosted form
unit, observers, catalogue, shelves, searching, rigs, skies, logbook   what a unit of work offers
backup     copies of a file, and back
dumps      copies of a PostgreSQL database, and back
moving     what one database holds, into another
"""

from __future__ import annotations

from server.store.prepare import PreparedDatabase, prepare_database
from server.store.session import SqlStore, Stores, open_stores

__all__ = ["PreparedDatabase", "SqlStore", "Stores", "open_stores", "prepare_database"]
