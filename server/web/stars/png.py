"""Stars as PNG in an address of their own (data:), grey on black; the page's theme colours them."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

Floats: TypeAlias = "npt.NDArray[np.float64]"

STRETCH = 100.0
"""How strongly a stretched picture draws faint light up: what is a hundredth as bright is drawn a sixth as
bright.
"""


def star_png(values: Floats, white: float, *, stretched: bool, cells: int | None = None) -> str:
    """Return a picture as a data: address; `white` is drawn white, rows upwards as on the sensor.

    cells: the side that is shown, cut or filled up with black about the middle; None for all. Stretched
    is asinh: faint parts straight, bright ones as their logarithm.
    """
    import numpy as np
    from PIL import Image

    shown = values if cells is None else about_the_middle(values, cells)
    share = np.clip(shown / max(white, 1e-300), 0.0, None)
    if stretched:
        share = np.arcsinh(share * STRETCH) / np.arcsinh(STRETCH)
    grey = np.round(np.clip(share, 0.0, 1.0) * 255.0).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(grey[::-1]).save(file, "PNG", compress_level=6)
    return "data:image/png;base64," + base64.b64encode(file.getvalue()).decode("ascii")


def about_the_middle(values: Floats, cells: int) -> Floats:
    """The picture cut or filled up to `cells` a side; the same parity, so that the middle stays."""
    import numpy as np

    n = values.shape[0]
    cells += (cells - n) % 2
    pad = (cells - n) // 2
    found: Floats = np.pad(values, pad) if pad >= 0 else values[-pad:pad, -pad:pad]
    return found
