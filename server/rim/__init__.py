"""The rim: what people type and read. Text comes in and becomes parts; values go out and become text.

cells     one field: its text -> its value, and back
forms     the texts of a form -> a part, or one sentence per field; a part -> the texts of its edit form
tables    CSV -> parts, with every problem by line and column; parts -> CSV
gist      a part in one line
wording   amounts, phrases, figures and fields of parts -> text in the reader's units

Beside the doors this is the only place that uses `server.units`.
"""
