"""Headings, tables and paragraphs in, one self-contained HTML page out; every text is escaped here.

The page forbids itself to load anything (Content-Security-Policy), so that it opens offline and a
stranger's text in it can do nothing.
"""

from collections.abc import Iterable, Sequence
from html import escape

STYLE = """
:root { color-scheme: light; }
body { font: 14px/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #1c2126;
       width: 900px; margin: 24px auto; background: #fff; }
h1 { font-size: 24px; margin: 0 0 2px; }
h2 { font-size: 15px; margin: 16px 0 4px; border-bottom: 1px solid #b9c0c6; padding-bottom: 2px;
     break-after: avoid; }
p { margin: 4px 0; }
.lead { font-size: 16px; margin: 2px 0 8px; }
.quiet { color: #59636c; }
table { border-collapse: collapse; width: 100%; font-size: 13px; }
th { text-align: left; font-weight: 600; color: #59636c; white-space: nowrap; }
th, td { padding: 2px 12px 2px 0; vertical-align: top; }
.facts th { width: 150px; }
.rows td, .rows th { border-bottom: 1px solid #e3e6e9; }
tr, .keep { break-inside: avoid; }
.num { font-variant-numeric: tabular-nums; white-space: nowrap; }
.cautions { border-left: 4px solid #8a6d00; padding: 2px 0 2px 10px; font-size: 12px; }
.cautions p { margin: 2px 0; }
details { margin: 4px 0; } summary { cursor: pointer; color: #1f5a94; }
@page { size: A4; margin: 12mm; }
@media print { body { zoom: 0.76; margin: 0; } .screen, .modebar { display: none !important; } }
"""
POLICY = (
    "default-src 'none'; script-src 'unsafe-inline' 'unsafe-eval'; style-src 'unsafe-inline'; "
    "img-src data: blob:; font-src data:; base-uri 'none'; form-action 'none'"
)


def page(title: str, parts: Iterable[str]) -> str:
    """A whole page; the parts are HTML already.

    Examples
    --------
    >>> "<title>a &lt;b&gt;</title>" in page("a <b>", [])
    True
    """
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style></head>\n<body>\n"
        + "\n".join(parts)
        + "\n</body></html>\n"
    )


def heading(text: str, level: int = 2) -> str:
    """A heading.

    >>> heading("Alarms & <marks>")
    '<h2>Alarms &amp; &lt;marks&gt;</h2>'
    """
    return f"<h{level}>{escape(text)}</h{level}>"


def paragraph(text: str, kind: str = "") -> str:
    """A paragraph; `kind` is one of the style's classes."""
    return f"<p{_of_class(kind)}>{escape(text)}</p>"


def facts(rows: Sequence[tuple[str, str]]) -> str:
    """Names and their values, one a line."""
    lines = [f"<tr><th>{escape(name)}</th><td>{escape(value)}</td></tr>" for name, value in rows]
    return f'<table class="facts">{"".join(lines)}</table>'


def table(names: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table with a head; the first column holds numbers or times."""
    head = "".join(f"<th>{escape(name)}</th>" for name in names)
    lines = []
    for row in rows:
        cells = "".join(
            f"<td{_of_class('' if at else 'num')}>{escape(cell)}</td>"
            for at, cell in enumerate(row)
        )
        lines.append(f"<tr>{cells}</tr>")
    return f'<table class="rows"><tr>{head}</tr>{"".join(lines)}</table>'


def folded(title: str, inner: str) -> str:
    """Something that a click on a screen unfolds; paper leaves it out. `inner` is HTML already."""
    return f'<details class="screen"><summary>{escape(title)}</summary>{inner}</details>'


def cautions(lines: Sequence[str]) -> str:
    """The cautions, kept together."""
    told = "".join(f"<p>{escape(line)}</p>" for line in lines)
    return f'<div class="cautions keep">{told}</div>'


def _of_class(kind: str) -> str:
    return f' class="{escape(kind)}"' if kind else ""
