"""Makes the page's colours, line widths and sizes from the look that the drawings have.

``python docs/make_page_tokens.py`` writes page/src/style/tokens.css; a test holds it true.
"""

from __future__ import annotations

from pathlib import Path

from legwright.views import tokens

PAGE = Path(__file__).parents[1] / "page" / "src" / "style" / "tokens.css"

PX_PER_MM = 4.0
"""Line widths of the sheet on a screen."""
FACES = (
    ("Barlow Semi Condensed", 400, "normal", "lettering-400"),
    ("Barlow Semi Condensed", 500, "normal", "lettering-500"),
    ("Barlow Semi Condensed", 600, "normal", "lettering-600"),
    ("Source Serif 4", 400, "normal", "text-400"),
    ("Source Serif 4", 400, "italic", "text-italic"),
)


def page_tokens() -> str:
    """The style sheet that all others of the page take their values from."""
    lines = {
        "frame": tokens.FRAME,
        "thick": tokens.THICK,
        "thin": tokens.THIN,
        "fine": tokens.FINE,
        "red-trace": tokens.RED_TRACE,
    }
    widths = "".join(f"--w-{name}:{PX_PER_MM * mm:g}px;" for name, mm in lines.items())
    faces = "\n".join(
        f'@font-face{{font-family:"{family}";font-weight:{weight};font-style:{style};'
        f'font-display:swap;src:url("/faces/{name}.woff2") format("woff2")}}'
        for family, weight, style, name in FACES
    )
    return f"""/* Made by `python docs/make_page_tokens.py` from legwright.views.tokens. */
{faces}
:root{{color-scheme:light;--lettering:{tokens.LETTERING_STACK};--text:{tokens.TEXT_STACK};
--on-yellow:{tokens.ON_YELLOW};{widths}
{tokens.css_variables(tokens.LIGHT)}}}
:root[data-theme="dark"]{{color-scheme:dark;
{tokens.css_variables(tokens.DARK)}}}
"""


if __name__ == "__main__":
    PAGE.write_text(page_tokens(), encoding="utf-8")
    print(f"wrote {PAGE}")
