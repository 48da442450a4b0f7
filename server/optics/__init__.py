"""Optics: numbers in, numbers out, with the standard library's `math`; some modules bring numpy.

Signs and units, the same in every module of this package:

* Light travels to +z, from the sky to the sensor.
* Distances "before the sensor" are positive towards the sky; a focus shift is positive away from
  the sky, that is, the focus has moved towards the sensor's side.
* A drawtube moves "out" (positive) away from the sky and "in" (negative) towards it.
* Heights in the image are measured from the axis and are never negative.
* Lengths are mm, pixels and blurs um, wavelengths nm, angles on the sky arcsec, fields degrees.
  The unit stands in the name where it could be mistaken. Obstruction is linear: the secondary's
  diameter over the aperture's.
* A value outside its range raises ValueError with the value, the range and what to do. Unknown
  (None) never comes this far: the caller says what is missing.

Modules:

* `collimation`: what an axis off its place costs, and how far off it may be.
* `colour`: how far apart a lens of two glasses brings the colours to focus.
* `diffraction`: the star image of a circular or annular aperture; Bessel's J1; contrast (MTF).
* `draws` (numpy): many trains made at random within their tolerances; the shims that make sure.
* `field`: the wave of one star from its place on the sensor, and the focus that serves a curved field best.
* `filter_size`: how large a filter must be at its place.
* `focus`: how far the sensor may be from the focus.
* `focus_zone`: the focus through a night: the zone in this air, a motor's steps, when to refocus.
* `glass`: how far a plane-parallel plate moves the focus.
* `beam`: the light traced once from the sky to the sensor, and what an opening anywhere takes of it.
* `diagonal`: what a Newtonian's diagonal lights.
* `discs`: the area common to two discs.
* `imaging`: focal length, focal ratio, scale, field, diagonal, sampling.
* `light_map`, `areas` (numpy): the light that each point of the sensor gets past everything on the way.
* `openings`: what a beam meets on its way; how far in a guider's prism may reach.
* `reach`: whether a focuser brings the focus to the sensor.
* `seeing`: the width of a star after air, telescope and pixel.
* `thermal`: how a tube's length, and with it the focus, follows the temperature.
* `thin_lens`: a reducer or extender away from its nominal spacing.
* `threads`: diameters of a screw thread, for the bore that it leaves.
* `tilt`: from joints that are not square to the focus in the sensor's corners.
* `tolerance`: how several plus/minus tolerances add up.
* `two_mirror`: tubes that focus by moving the primary: focal length and good range with back distance.
* `wavefront`: the error of the wave that forms a star, and how it grows over the field.
* `spikes` (numpy): the far picture of a bright star, with the spider's spikes.
* `third_order`: how the stars of a kind of tube grow over the field; what a secondary out of place costs.
* `pupil`, `star_image`, `star_numbers` (numpy): the opening that a wave sees, the star it draws, its numbers.
* `narrow_band`: what a slanting beam leaves of a line behind an interference filter.
* `ranges` and `roots` are the tools of the others: range checks and bisection.
"""
