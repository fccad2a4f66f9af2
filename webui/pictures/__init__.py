"""Pictures that a printer would rather look at than read: the only place where SVG is drawn; pure."""

from __future__ import annotations

from webui.pictures.drawing import Face, Picture, TextBox
from webui.pictures.lamp_checks import Point, lamp_checks_picture
from webui.pictures.paper_curves import curves_picture, grid_picture, reach_picture
from webui.pictures.print_views import size_picture
from webui.pictures.printing_map import map_picture
from webui.pictures.strip import standing_strip, strip_picture
from webui.pictures.tally import tally_picture
from webui.pictures.timeline import Block, Press, TimedLight, plan_blocks, timeline_line, timeline_picture
from webui.pictures.wall import wall_picture

__all__ = [
    "Block",
    "Face",
    "Picture",
    "Point",
    "Press",
    "TextBox",
    "TimedLight",
    "curves_picture",
    "grid_picture",
    "lamp_checks_picture",
    "map_picture",
    "plan_blocks",
    "reach_picture",
    "size_picture",
    "standing_strip",
    "strip_picture",
    "tally_picture",
    "timeline_line",
    "timeline_picture",
    "wall_picture",
]
