"""The Logbook: rigs as they were saved. `sheet` is an entry to read, `files` an entry as a file."""
