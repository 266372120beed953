"""A page of pairband inside the desk: the same HTML, with the desk's ways around it and its scripts as files.

A page that opens from disk carries its style, scripts and policy in itself; the desk's policy allows no script or style
in a page, so here each becomes a file, named by its content.
"""

import hashlib
import re
from collections.abc import Mapping, Sequence
from html import unescape

from markupsafe import Markup, escape

from pipeline.desk.desk import Desk
from pipeline.desk.forms import OPTION_NAMES, label_of
from reports.links import Link
from reports.page import template_text

NO_HTML = Markup()
SHARED = (
    '<link rel="stylesheet" href="/desk.css">\n<script src="/desk.js" defer></script>\n'
    '<script src="/tables.js" defer></script>'
)
"""The style and scripts that every page of the desk has."""

_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">\n?')
_REFERRER = '<meta name="referrer" content="no-referrer">'
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_SKIP = re.compile(r'(<a class="skip"[^\n]*\n)')
_MAIN = re.compile(r'<main id="main"')
_OPTION = re.compile(r"<code>--([a-z-]+)((?: [^<]*)?)</code>")
_COMMAND = re.compile(r"<code>pairband ([a-z]+)((?:[^<])*)</code>")


def in_desk(
    html: str,
    desk: Desk,
    *,
    ways: Markup,
    before: Markup = NO_HTML,
    places: Mapping[str, Link],
    scripts: Sequence[str] = (),
) -> str:
    """Return a page as the desk shows it: `ways` at its top, `before` above what it says, more `scripts` at its end.

    `places` are the desk's pages by command: a command that the page names becomes
    the name of its page, as a link.
    """
    page = _POLICY.sub("", html, count=1).replace(_REFERRER, "", 1)
    page = _STYLE.sub(lambda found: _style_link(found[1], desk), page, count=1)
    page = _SCRIPT.sub(lambda found: _script_link(found[1], desk), page)
    page = _SKIP.sub(lambda found: found[1] + str(ways), page, count=1)
    page = _MAIN.sub(lambda found: f"{before}{found[0]}", page, count=1)
    page = _COMMAND.sub(lambda found: _command_link(found, places), page)
    page = _OPTION.sub(_option_words, page)
    more = "\n".join(_script_link(template_text(name), desk) for name in scripts)
    start, end, rest = page.rpartition("</body>")
    return f"{start}{more}\n{end}{rest}" if more else page


def policy_of(html: str) -> str:
    """Return the policy that a page of pairband carries: what it allows itself."""
    found = _POLICY.search(html)
    return unescape(found[1]) if found else "default-src 'none'"


def _option_words(found: re.Match[str]) -> str:
    """Return an option that a page names as what its field is called, with the value that the page gives it."""
    return f"<b>{escape(label_of(OPTION_NAMES.get(found[1], found[1].replace('-', '_'))))}</b>{found[2]}"


def _style_link(style: str, desk: Desk) -> str:
    own = _asset(style, "css", "text/css; charset=utf-8", desk)
    return f'<link rel="stylesheet" href="{own}">\n{SHARED}'


def _script_link(script: str, desk: Desk) -> str:
    return f'<script src="{_asset(script, "js", "text/javascript; charset=utf-8", desk)}"></script>'


def _asset(text: str, ending: str, kind: str, desk: Desk) -> str:
    content = text.encode()
    name = f"{hashlib.sha256(content).hexdigest()[:32]}.{ending}"
    desk.assets.keep(name, (kind, content))
    return f"/assets/{name}"


def _command_link(found: re.Match[str], places: Mapping[str, Link]) -> str:
    place = places.get(found[1])
    if place is None:
        return found[0]
    return str(Markup('<a href="{}">{}</a>').format(place.href, place.words))
