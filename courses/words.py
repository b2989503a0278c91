"""The words of the lash map, used on every screen and page."""

EYE_WORDS = {"left": "left eye", "right": "right eye"}
ZONE_WORDS = {"inner": "inner", "inner_mid": "inner-mid", "outer_mid": "outer-mid", "outer": "outer"}
LAYER_WORDS = {"top": "top layer", "middle": "middle layer", "bottom": "bottom layer"}

ZONES = tuple(ZONE_WORDS)
LAYERS = tuple(LAYER_WORDS)
LAYERS_FOR = {1: ("top",), 2: ("top", "bottom"), 3: LAYERS}
# Diameters the trade sells, in hundredths of a millimetre; curl letters have no standard geometry.
DIAMETERS = (3, 4, 5, 6, 7, 8, 10, 12, 15, 18, 20, 25)
CURLS = ("J", "B", "C", "CC", "D", "DD", "L", "LC", "M", "U")
