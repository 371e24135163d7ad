"""Fills the templates of the reports; a page is one file that loads nothing.

Jinja2 escapes every text. The page's own policy allows its one script and style sheet, named by
their hashes (W3C, Content Security Policy Level 3), so that a stranger's text in it runs nowhere.
"""

import base64
import hashlib
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from monitor.base.moments import clock, local_minute, zone_text
from monitor.base.program import VERSION

Value = object  # what a template can print or ask for its attributes


def page(template: str, **values: Value) -> str:
    """A whole page from a template of this package and its values.

    Examples
    --------
    >>> "<title>Bath &lt;b&gt;</title>" in page(
    ...     "bath.html", title="Bath <b>", facts=[], chart=None, entries=[], dilutions=[],
    ...     cautions=[])
    True
    """
    templates = _templates()
    style, script = _source("report.css"), _source("chart.js")
    policy = (
        f"default-src 'none'; script-src {_hash(script)}; style-src {_hash(style)}; "
        "base-uri 'none'; form-action 'none'"
    )
    # Both are files of this package, the only text that is not escaped.
    own = {"style": Markup(style), "script": Markup(script)}
    return templates.get_template(template).render(policy=policy, version=VERSION, **own, **values)


@cache
def _templates() -> Environment:
    templates = Environment(
        loader=PackageLoader("monitor.export"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters |= {
        "cut": cut,
        "local_minute": local_minute,
        "clock": clock,
        "sentence": sentence,
        "zone": zone_text,
    }
    return templates


@cache
def _source(name: str) -> str:
    templates = _templates()
    assert templates.loader is not None
    return templates.loader.get_source(templates, name)[0]


def _hash(source: str) -> str:
    digest = base64.b64encode(hashlib.sha256(source.encode()).digest()).decode("ascii")
    return f"'sha256-{digest}'"


def cut(text: str, most: int | None) -> str:
    """As much of a text as has its place on paper; all of it for None.

    >>> cut("the clip was hot", 11)
    'the clip...'
    """
    return text if most is None or len(text) <= most else f"{text[: most - 3].rstrip()}..."


def sentence(text: str) -> str:
    """A text with a capital at its beginning.

    >>> sentence("not ended yet")
    'Not ended yet'
    """
    return f"{text[:1].upper()}{text[1:]}"
