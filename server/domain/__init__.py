"""The boxes, in the order the data goes: what an imaging rig is and what is true of it.

Pure: no web, no database.


connections      what screws into what, in the trade's own writing
measure, fields  quantities with tolerance and basis; what a form needs to know of a field
parts            the kinds of part
train, rig       parts in order, with mount, gear and rules
checks, findings what is true of a rig, in sentences with their working
entry, changes   a rig as it was saved; what changed between two
observer, errors who; what can go wrong
"""
