"""An exact trace of one ray in a plane through two conic mirrors, written out with nothing but Snell's "
"mirror.

Light comes along -z, meets the primary (vertex at 0, concave towards +z), then the secondary at the
separation.
"""

import math


def _meet(z, r, dz, dr, vertex, radius, conic):
    """Where a ray meets the conic r^2 - 2 R s + (1 + K) s^2 = 0 with s = z - vertex, next to the vertex."""
    # Rays that leave from far away are moved to the vertex' plane first, which keeps the digits.
    along = (vertex - z) / dz
    z, r = vertex, r + along * dr
    a = dr * dr + (1.0 + conic) * dz * dz
    b = 2.0 * (r * dr - radius * dz)
    c = r * r
    root = math.sqrt(b * b - 4.0 * a * c)
    t = 2.0 * c / (-b + root if -b > 0.0 else -b - root)
    z, r = z + t * dz, r + t * dr
    normal_z, normal_r = -radius + (1.0 + conic) * (z - vertex), r
    length = math.hypot(normal_z, normal_r)
    normal_z, normal_r = normal_z / length, normal_r / length
    across = dz * normal_z + dr * normal_r
    return z, r, dz - 2.0 * across * normal_z, dr - 2.0 * across * normal_r


def focus_and_focal_length(height, separation, radii, conics):
    """The focus behind the primary's vertex and h / tan(u) for a ray that comes in parallel to the axis."""
    z, r, dz, dr = _meet(2.0 * separation, height, -1.0, 0.0, 0.0, radii[0], conics[0])
    z, r, dz, dr = _meet(z, r, dz, dr, separation, radii[1], conics[1])
    return -(z - r * dz / dr), abs(height * dz / dr)
