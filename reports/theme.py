"""The one place for the look: colour tokens, type, the chart configuration and the CSS variables.

Charts name *styles* ("band-80", "rise", …), never colours; the colours of the styles come from here,
as plain values for figures elsewhere (LIGHT, DARK) and as CSS variables for the pages, so that a page
turns dark, or is printed, without drawing its charts again.
"""

from dataclasses import asdict, dataclass, fields
from typing import Any

SANS = 'system-ui, -apple-system, "Segoe UI", Roboto, "Helvetica Neue", "Noto Sans", "Liberation Sans", sans-serif'
SERIF = '"Iowan Old Style", "Palatino Linotype", Palatino, "Book Antiqua", P052, Georgia, serif'
JAPANESE_SANS = (
    'system-ui, -apple-system, "Hiragino Sans", "Yu Gothic UI", Meiryo, "Noto Sans CJK JP", sans-serif'
)
JAPANESE_SERIF = '"Hiragino Mincho ProN", "Yu Mincho", "MS PMincho", "Noto Serif CJK JP", serif'
PLAIN_SANS = '"Liberation Sans", Arial, Helvetica, sans-serif'
"""The letters of figures that leave the page: names that most machines have."""


@dataclass(frozen=True)
class Palette:
    """The colours of one mode, as CSS colours."""

    paper: str
    panel: str
    ink: str
    muted: str
    rule: str
    grid: str
    accent: str
    band_50: str
    band_80: str
    band_95: str
    rise: str
    fall: str
    warn: str
    warn_paper: str


LIGHT = Palette(
    paper="#fdfcf9",
    panel="#f5f2eb",
    ink="#20262b",
    muted="#5b636a",
    rule="#d9d4c8",
    grid="#e9e5db",
    accent="#1d5b70",
    band_50="#2d7188",
    band_80="#5a95a6",
    band_95="#4d8597",
    rise="#2d7188",
    fall="#b4622c",
    warn="#8a3f12",
    warn_paper="#fbf0e6",
)
DARK = Palette(
    paper="#14181b",
    panel="#1d2327",
    ink="#e9e6df",
    muted="#a5abad",
    rule="#3a4247",
    grid="#262d31",
    accent="#8cc5d4",
    band_50="#7cbccd",
    band_80="#4a8496",
    band_95="#5d97a8",
    rise="#7cbccd",
    fall="#e09a63",
    warn="#f0b184",
    warn_paper="#2c221a",
)
VARIABLES = Palette(**{field.name: f"var(--{field.name.replace('_', '-')})" for field in fields(Palette)})
"""The palette whose every colour is the page's CSS variable of that name."""


def css_variables(palette: Palette) -> str:
    """Return the CSS declarations that give the page's variables the colours of a palette."""
    return " ".join(f"--{name.replace('_', '-')}: {colour};" for name, colour in asdict(palette).items())


def chart_config(palette: Palette, font: str = PLAIN_SANS) -> dict[str, Any]:
    """Return the Vega-Lite configuration of every chart, in the colours of a palette."""
    return {
        "aria": False,
        "background": "transparent" if palette is VARIABLES else palette.paper,
        "font": font,
        "padding": 2 if palette is VARIABLES else 16,
        "view": {"stroke": None},
        "axis": {
            "domain": False,
            "ticks": False,
            "gridColor": palette.grid,
            "gridWidth": 1,
            "labelColor": palette.muted,
            "labelFontSize": 12,
            "labelPadding": 6,
            "titleColor": palette.muted,
            "titleFontSize": 12,
            "titleFontWeight": "normal",
            "titlePadding": 8,
        },
        "title": {
            "anchor": "start",
            "color": palette.ink,
            "fontSize": 15,
            "fontWeight": 600,
            "offset": 12,
            "subtitleColor": palette.muted,
            "subtitleFontSize": 12,
            "subtitlePadding": 4,
        },
        "style": _styles(palette),
    }


def _styles(palette: Palette) -> dict[str, dict[str, Any]]:
    """Return the mark styles that charts name."""
    words = {"fontSize": 13, "baseline": "middle"}
    halo = {**words, "color": palette.paper, "stroke": palette.paper, "strokeWidth": 6, "strokeJoin": "round"}
    return {
        "row-words": {**words, "color": palette.ink, "align": "left"},
        "row-words-halo": {**halo, "align": "left"},
        "row-figure": {**words, "color": palette.ink, "align": "right", "fontWeight": 600},
        "row-figure-halo": {**halo, "align": "right", "fontWeight": 600},
        "band-50": {"color": palette.band_50, "cornerRadius": 1},
        "band-80": {"color": palette.band_80, "cornerRadius": 1},
        "band-95": {"color": "transparent", "stroke": palette.band_95, "strokeWidth": 1.5, "cornerRadius": 1},
        **{
            f"band-{level}-weak": {
                "color": palette.paper,
                "stroke": palette.band_95,
                "strokeWidth": 1.5,
                "strokeDash": [4, 3],
            }
            for level in (50, 80, 95)
        },
        "error-weak": {"color": palette.ink, "strokeWidth": 1.5, "strokeDash": [3, 3]},
        "total-weak": {"color": palette.paper, "stroke": palette.ink, "strokeWidth": 1.5, "opacity": 1},
        "median": {"color": palette.ink, "strokeWidth": 1.5, "strokeDash": [4, 3]},
        "total": {"color": palette.ink, "stroke": palette.paper, "strokeWidth": 1, "opacity": 1},
        "rise": {"color": palette.rise, "stroke": palette.rise, "strokeWidth": 1},
        "fall": {"color": palette.fall, "stroke": palette.fall, "strokeWidth": 1},
        "no-change": {"color": palette.paper, "stroke": palette.ink, "strokeWidth": 1.5, "opacity": 1},
        "guess": {"color": "transparent", "stroke": palette.muted, "strokeWidth": 1.5, "strokeDash": [3, 2]},
        "link": {"color": palette.muted, "strokeWidth": 1},
        "error": {"color": palette.ink, "strokeWidth": 1.5},
        "sale": {"color": palette.accent, "stroke": palette.paper, "strokeWidth": 1.5, "opacity": 0.9},
        "index": {"color": palette.accent, "strokeWidth": 2},
        "index-band": {
            "color": palette.band_80,
            "fillOpacity": 0.3,
            "stroke": palette.band_80,
            "strokeWidth": 1,
        },
        "index-band-bar": {"color": palette.band_80, "strokeWidth": 5},
        "market-line": {"color": palette.muted, "strokeWidth": 1.25, "strokeDash": [4, 3]},
        "edge-low": {**words, "color": palette.ink, "align": "right", "dx": -5, "fontSize": 12},
        "edge-high": {**words, "color": palette.ink, "align": "left", "dx": 5, "fontSize": 12},
        "touch": {"color": "transparent", "opacity": 1},
        "zero": {"color": palette.ink, "strokeWidth": 1},
        "end-figure": {**words, "color": palette.ink, "align": "left", "dx": 6, "fontWeight": 600},
        "end-band": {**words, "color": palette.muted, "align": "left", "dx": 6, "dy": 16, "fontSize": 12},
        "other-part": {
            "color": palette.band_80,
            "fillOpacity": 0.3,
            "stroke": palette.band_80,
            "strokeWidth": 1,
        },
        "scale-words": {**words, "color": palette.muted, "align": "right", "fontSize": 12},
        "whole": {"color": palette.panel, "stroke": palette.muted, "strokeWidth": 0.75},
        "foot": {"color": palette.rule, "strokeWidth": 1},
        "curve-30": {"color": palette.band_50, "strokeWidth": 2.5},
        "curve-60": {"color": palette.band_50, "strokeWidth": 2, "strokeDash": [7, 3]},
        "curve-90": {"color": palette.band_50, "strokeWidth": 2, "strokeDash": [2, 3]},
        "curve-30-point": {"color": palette.band_50, "opacity": 1},
        "curve-60-point": {"color": palette.band_50, "opacity": 1},
        "curve-90-point": {"color": palette.band_50, "opacity": 1},
        "curve-words-halo": {**halo, "align": "left", "dx": 8},
        "curve-words": {**words, "color": palette.ink, "align": "left", "dx": 8},
        "paid": {"color": palette.paper, "stroke": palette.muted, "strokeWidth": 1.5, "opacity": 1},
    }
