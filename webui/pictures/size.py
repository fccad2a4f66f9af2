"""The picture of a change of size: the old print and the new one to scale, one in the other's corner."""

from __future__ import annotations

from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to


def size_picture(
    old_mm: tuple[float, float],
    new_mm: tuple[float, float],
    *,
    ident: str,
    words: str,
    captions: tuple[str, str],
    face: Face = Face.DAY,
) -> Picture:
    """Draw two prints (width, height in mm, above 0) to one scale, with a caption for the old and the new one.

    `words` says what the change costs.
    """
    drawing = Drawing(ident, face)
    largest_across = max(old_mm[0], new_mm[0])
    largest_down = max(old_mm[1], new_mm[1])
    scale = min((WIDTH - 2) / largest_across, 200 / largest_down)
    foot = largest_down * scale + 1
    _draw_print(drawing, new_mm, scale, foot, new=True)
    _draw_print(drawing, old_mm, scale, foot, new=False)
    for row, caption in enumerate(captions):
        y, new = foot + 18 + row * 20, row == 1
        drawing.line(1, y - 4, 27, y - 4, stroke=face.ink, thick=2 if new else 1.2, dash="" if new else "5 3")
        drawing.text(36, y, cut_to(caption, WIDTH - 38, 12, bold=True), size=12, bold=new)
    return drawing.finish(foot + 44, words)


def _draw_print(drawing: Drawing, size_mm: tuple[float, float], scale: float, foot: float, *, new: bool) -> None:
    width, height = size_mm[0] * scale, size_mm[1] * scale
    thick, dash = (2.0, "") if new else (1.2, "5 3")
    drawing.rect(1, foot - height, width, height, stroke=drawing.face.ink, thick=thick, dash=dash)
