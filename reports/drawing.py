"""A chart drawn into a page: SVG in the page's own colours and letters, which no script has to draw."""

import re
from typing import Any

import altair as alt
import vl_convert
from lxml import etree
from markupsafe import Markup

from reports.export import VEGA_LITE, chart_spec
from reports.theme import VARIABLES, chart_config

BROAD, NARROW = 712, 350
"""The widths of the two drawings of a chart, in px: of a page's column, and of a phone's; CSS shows one of them."""

DECIMALS = 1
"""The decimals of a coordinate, in px."""

_NUMBER = re.compile(r"-?\d*\.\d+(?:e-?\d+)?")
_LINE_END = "\ue000"
"""Stands between the lines of a mark's words, since an attribute holds no line end."""

_KEPT = ("d", "transform", "x", "y", "width", "height", "x2", "y2", "fill", "fill-opacity", "stroke")
_KEPT_LOOK = (
    "stroke-width",
    "stroke-dasharray",
    "stroke-opacity",
    "stroke-miterlimit",
    "stroke-linejoin",
    "opacity",
)
_KEPT_TEXT = ("text-anchor", "font-size", "font-weight")
_ATTRIBUTES = frozenset({*_KEPT, *_KEPT_LOOK, *_KEPT_TEXT})
_COORDINATES = frozenset({"d", "transform", "x", "y", "width", "height", "x2", "y2"})
_SAYS_NOTHING = frozenset(
    {
        ("opacity", "1"),
        ("font-weight", "normal"),
        ("font-size", "13px"),  # that of a drawing in page.css
        ("text-anchor", "start"),
        ("transform", "translate(0,0)"),
        ("stroke-width", "1"),
    }
)
_SHAPES = frozenset({"path", "line", "rect", "text"})
_CIRCLE = re.compile(r"M([\d.]+),0A\1,\1,0,1,1,-\1,0A\1,\1,0,1,1,\1,0")
_OWN = ("fill", "var(--ink)")
"""The colour of words, which page.css gives to those that name none."""


def draw_chart(chart: alt.LayerChart) -> Markup:
    """Return a chart as two SVG drawings, broad and narrow, without its title.

    Colours are the page's CSS variables and letters those of the page. What a mark says when it is pointed at is a
    `title` of the broad drawing: phones, which get the narrow one, point at nothing.
    """
    spec = chart_spec(chart)
    return Markup("\n").join(
        _draw(spec, width, name, pointed=name == "broad")
        for name, width in (("broad", BROAD), ("narrow", NARROW))
    )


def _draw(chart: dict[str, Any], width: int, name: str, *, pointed: bool) -> Markup:
    spec = {key: value for key, value in chart.items() if key != "title"} | {
        "width": width,
        "autosize": {"type": "fit-x", "contains": "padding"},
        "config": chart_config(VARIABLES) | {"aria": True},
        "layer": [
            _say_tooltip(layer, pointed=pointed) for layer in chart["layer"] if _shows(layer, pointed=pointed)
        ],
    }
    drawn = vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE, allowed_base_urls=[])
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)
    root = etree.fromstring(drawn.encode(), parser)
    slim = etree.Element("svg", {"class": name, "viewBox": root.get("viewBox", ""), "aria-hidden": "true"})
    _copy(root, slim)
    # All attributes come from the list above, and lxml escapes every text.
    return Markup(etree.tostring(slim, encoding="unicode"))


def _shows(layer: dict[str, Any], *, pointed: bool) -> bool:
    """Return whether a page needs a layer: its style sheet draws the halos, and some marks are only pointed at."""
    style = str(layer["mark"].get("style", ""))
    return not style.endswith("-halo") and (pointed or style != "touch")


def _say_tooltip(layer: dict[str, Any], *, pointed: bool) -> dict[str, Any]:
    """Return a layer whose tooltip is the description of its marks: the title's line, then `name: value` lines."""
    encoding = dict(layer["encoding"])
    said = encoding.pop("tooltip", None)
    if said is None or not pointed:
        return layer | {"encoding": encoding, "mark": layer["mark"] | {"aria": False}}
    lines = []
    for one in said if isinstance(said, list) else [said]:
        value = f"datum['{one['field']}']"
        value = f"({value} == null ? '' : {value})"
        name = one.get("title", one["field"])
        lines.append(value if name == "title" else f"'{name}: ' + {value}")
    words = f" + '{_LINE_END}' + ".join(lines)
    return layer | {"encoding": encoding, "mark": layer["mark"] | {"description": {"expr": words}}}


def _copy(node: etree._Element, into: etree._Element) -> None:
    """Copy what a reader can see of the children of a node, without the marks of the runtime."""
    for child in node:
        tag = etree.QName(child).localname
        if child.get("display") == "none":
            continue
        kept = {key: _short(key, value) for key, value in child.items() if key in _ATTRIBUTES}
        kept = {key: value for key, value in kept.items() if (key, value) not in _SAYS_NOTHING}
        if tag == "g":
            if not kept:
                _copy(child, into)
                continue
            group = etree.SubElement(into, "g", kept)
            _copy(child, group)
            if not len(group):
                into.remove(group)
        elif tag not in _SHAPES:
            raise ValueError(f"a chart drew <{tag}>, which a page does not take")
        elif "fill" in kept or "stroke" in kept:
            if tag == "text" and _OWN in kept.items():
                del kept["fill"]
            circle = _CIRCLE.fullmatch(kept.get("d", ""))
            if circle:
                tag, kept = (
                    "circle",
                    {key: value for key, value in kept.items() if key != "d"} | {"r": circle[1]},
                )
            shape = etree.SubElement(into, tag, kept)
            shape.text = child.text
            if child.get("aria-label"):
                etree.SubElement(shape, "title").text = child.get("aria-label", "").replace(_LINE_END, "\n")


def _short(key: str, value: str) -> str:
    return _NUMBER.sub(_round, value) if key in _COORDINATES else value


def _round(found: re.Match[str]) -> str:
    text = f"{float(found.group()):.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
