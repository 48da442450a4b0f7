"""The ground of a user's own frames: files read, stars found and measured, surfaces fitted; numpy in, numpy
out.

Places on a frame are pixels: x along a row, y along rising rows as the file has them, the first pixel's
centre at 0. Places on the field are w = u + iv in half diagonals of the sensor, from its middle, so that a
corner has |w| = 1.
"""
