"""Words of field, sampling and focal ratio."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_RATIO = Working(
    "N' <= rule x pixel in um; finest pixel = lambda N' / 2",
    f"The rule: {COMMON_PRACTICE} Finest pixel: cut-off 1 / (lambda N), Born & Wolf, sec. 9.5 (from memory).",
)

WORDS = {
    "sampling.unknown": "Field and sampling are not known yet: enter {missing}.",
    "sampling.field": (
        "Behind all glass the focal length is {focal}{ratio? at {ratio}}{factor? (at this spacing the factor is {factor}, not the stated {stated})}"
        "{primary? (the primary is moved to focus here: see Focus)}"
        "{primary_missing? (by the stated focal length; what moving the primary to focus makes of it is not counted: enter {primary_missing})}"
        "{width?; the sensor sees {width} by {height}|. The field is not known yet: enter {missing}}."
    ),
    "sampling.sees": "The scale is {scale}; through air of {seeing} a star in focus comes out {star} wide, {pixels} pixels: air, diffraction and pixel, guiding left out.",
    "sampling.sees_bare": "The scale is {scale}.",
    "sampling.coarse": "That is coarse: the rig's rule asks for {fine} to {coarse}, and the air would show finer detail.",
    "sampling.fine": "That is finer than the air shows: the rig's rule asks for {fine} to {coarse}; binning would cost nothing.",
    "sampling.sound": "That is within the rig's rule of {fine} to {coarse}.",
    "sampling.enter": "Not known yet: enter {missing}{without?; the star is worked out without an obstruction}.",
    "sampling.aperture_limits": "Diffraction, {diffraction}, is wider than the air's blur: the aperture limits.",
    "sampling.good_to": "the integral is good to {error}; the seeing put in rarely to 20 %",
    "sampling.no_obstruction": "{refractor?none, a refractor's lens stands free|not known, taken as none}",
    "sampling.slow": "{ratio} is slower than {limit}, a rule of thumb for pixels of {pixel}: it works, at the cost of longer exposures for detail that the air may hide. Binning wins the light back.",
    "sampling.ratio": "{ratio} keeps to {limit}, a rule of thumb for pixels of {pixel}.",
    "sampling.finest": "To draw all that the aperture resolves without air, pixels would have to be {nyquist} or smaller.",
}
TITLES = {
    "sampling": "Sampling",
    "sampling.field": "Field",
    "sampling.slow": "Focal ratio",
    "sampling.ratio": "Focal ratio",
}
WORKINGS = {
    "sampling": Working(
        "scale = 206 264.806 x pixel / f'; star = width of (Kolmogorov seeing * annular diffraction * square pixel) from the product of their transfer functions",
        "Fried, J. Opt. Soc. Am. 56, 1372 (1966) for the seeing, O'Neill, J. Opt. Soc. Am. 46, 285 (1956) for the annular aperture (both from memory). "
        f"Two to three pixels across the seeing: {COMMON_PRACTICE}",
    ),
    "sampling.field": Working(
        "f' = f x factor; the factor at the actual spacing d is 1 - (1 - factor) d / d0, d0 the back focus asked for; f of a tube that focuses by its primary = f1 (1 + p' / f2), p' the way from the secondary to the focus; "
        "N' = f' / D; field = 2 atan(side / (2 f'))",
        "Gaussian optics, a thin lens at the corrector's reference shoulder (a real one's principal plane lies a little before it: the change of factor is then somewhat less), and of two mirrors; rectilinear projection.",
    ),
    "sampling.slow": _RATIO,
    "sampling.ratio": _RATIO,
}
