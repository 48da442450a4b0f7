"""Secondary spectra of thin doublets joined for F and C.

Worked independently of the project from the glasses' Sellmeier coefficients (maker's catalogue of 2017 in the
public-domain refractive-index database): focal length over the distance of two foci. Pair; C and F from d, C
from e, g from e. "About f/2000" for an ordinary doublet is in every text (Conrady; from memory).
Glass codes (index and Abbe's number) are printed in every glass catalogue.
"""

#: Lines of mercury, nm: e by ISO 7944, g as every glass catalogue has it.
LINE_E, LINE_G = 546.07, 435.83
SHIFTS = (
    ("crown_flint", 2002.0, 1787.0, 437.0),
    ("crown_dense_flint", 1914.0, 1673.0, 386.0),
    ("fluor_crown_short_flint", 7047.0, 5999.0, 1342.0),
)
SHIFT_TOLERANCE = 0.004
#: A doublet of the first pair, 80 mm at f/6, focused in e: diameter of the disc of C and of g, um.
BLUR_C_UM, BLUR_G_UM = 44.8, 183.0
#: The same lens in a band of 7 nm about H-alpha, focused there: its blur, um.
BLUR_H_ALPHA_UM = (2.0, 4.0)
#: The same lens over 400 to 700 nm at its best focus: Strehl ratio, diameter that holds 80 %, um.
STREHL, D80_UM = 0.342, 56.7
CODES = {
    "N_BK7": (1.517, 64.2),
    "F2": (1.620, 36.4),
    "N_SF5": (1.673, 32.2),
    "N_FK51A": (1.487, 84.5),
    "N_KZFS4": (1.613, 44.5),
}
