"""The arrows: what people do, one verb a file. Pure of web and database: they ask a `Store` (protocols.py).

find_parts, edit_catalogue, keep_shelf   the catalogue and an observer's shelf
keep_rigs, assemble_train                a rig and each change on its bench
bridge_gap, _wishes, _stock, _glue, _offers   a gap made a search, and its stacks made trains
bridge_alike, _closing                   stacks laid beside one another; the ring that no drawer has
run_checks                               findings, the one judge
save_entry, compare_entries, share_entry, take_in_entry   the logbook and what leaves it
workbench, views                         all of it in one hand, for the doors, and what it shows
"""
