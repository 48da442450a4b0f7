"""The stars of a measurement as CSV."""

from __future__ import annotations

import csv
import io

from server.domain.frames.measured import Measured


def star_csv(measured: Measured) -> str:
    """Return a row for each star: place, light, and by frame its half-flux diameter and moments, px."""
    out = io.StringIO()
    table = csv.writer(out)
    heads = ["x_px", "y_px", "light"]
    for number in range(1, len(measured.frames) + 1):
        heads += [f"half_flux_px_{number}", f"moment_across_px2_{number}", f"moment_up_px2_{number}"]
    table.writerow(heads)
    stars = measured.stars
    for n in range(len(stars.x)):
        row = [stars.x[n], stars.y[n], stars.flux[n]]
        for columns in zip(stars.half_flux, stars.moment_across, stars.moment_up, strict=True):
            row += [column[n] for column in columns]
        table.writerow(row)
    return out.getvalue()
