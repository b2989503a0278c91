"""The words of the lash map, used on every screen and page."""

from courses.mapping.trade import CURLS as CURLS
from courses.mapping.trade import DIAMETERS as DIAMETERS

EYE_WORDS = {"left": "left eye", "right": "right eye"}
ZONE_WORDS = {"inner": "inner", "inner_mid": "inner-mid", "outer_mid": "outer-mid", "outer": "outer"}
LAYER_WORDS = {"top": "top layer", "middle": "middle layer", "bottom": "bottom layer"}

ZONES = tuple(ZONE_WORDS)
LAYERS = tuple(LAYER_WORDS)
LAYERS_FOR = {1: ("top",), 2: ("top", "bottom"), 3: LAYERS}
