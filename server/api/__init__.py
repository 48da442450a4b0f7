"""The JSON door, below /api: the same stations as the pages, over the same workbench, in its own schemas.

observers, shelf, bench, bridge, stars, frames, sky, scout, logbook, share
                                          a station each: what it takes, what it answers, its routes
findings                                  what a check says, raw and in the reader's units
reading                                   bodies that hold whole documents, read strictly
errors                                    the one shape in which anything is refused
deps                                      the workbench of the observer that the path names
naming, document                          what stays, since programs are written against it
door                                      all stations, put on an app

A number stands in the fixed unit of its field (mm, kg, um for pixels, nm, arcsec, A, V, degrees); null means
not known. Nothing is answered before it is stored.
"""
