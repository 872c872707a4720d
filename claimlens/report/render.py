"""One self-contained page: template, style, scripts, security policy."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, TemplateNotFound
from markupsafe import Markup

from claimlens.errors import ClaimlensError, ReportError
from claimlens.language import SOURCE, _, figures, language, month_word
from claimlens.marks import visible
from claimlens.monthly_inputs import MadeBy, sealed
from claimlens.report.live import live
from claimlens.resources import find
from claimlens.results import ChartHtml

__all__ = ["content_policy", "inline_json", "render_page"]

# an opening or closing tag, or a comment, must not end the script around it
_JSON_ESCAPES = str.maketrans(
    {
        "<": "\\u003c",
        ">": "\\u003e",
        "&": "\\u0026",
        "\u2028": "\\u2028",
        "\u2029": "\\u2029",
    }
)


def inline_json(text: str) -> Markup:
    """Return JSON that can stand inside a script element as it is."""
    return Markup(text.translate(_JSON_ESCAPES))


def content_policy(scripts: Sequence[str]) -> str:
    """Return the content security policy of a page with these inline scripts.

    Parameters
    ----------
    scripts : sequence of str
        Texts of the scripts; each is allowed by its digest. No script at all
        may run where there is none.

    Returns
    -------
    str
        Nothing may be fetched from anywhere; only styles of the page itself
        and pictures inside it are shown. Code made from text stays forbidden.
    """
    sources = " ".join(_digest(text) for text in scripts) or "'none'"
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {sources}",
            "style-src 'unsafe-inline'",
            "img-src data:",
            "connect-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _digest(text: str) -> str:
    """Return the source expression of a script, CSP level 3, section 2.3.1."""
    raw = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(raw).decode('ascii')}'"


def render_page(
    template: str,
    values: Mapping[str, object],
    *,
    made: MadeBy,
    charts: Sequence[ChartHtml],
    library: str,
    styles: Sequence[str] = (),
) -> str:
    """Render a template into a page that needs nothing outside itself.

    Parameters
    ----------
    template : str
        Name of a file in ``reports/``.
    values : mapping of str to object
        What the template prints; every text in it is escaped.
    made : MadeBy
        What makes the page; stands in its head, with a digest of all the rest.
    charts : sequence of ChartHtml
        Charts on the page; without any, no library is put in.
    library : str
        Drawing libraries as one script; empty for a page without any script:
        static charts, and tables that cannot be sorted.
    styles : sequence of str, optional
        Style sheets in ``reports/`` beside that of all pages.

    Returns
    -------
    str
        HTML; the same bytes for the same arguments.

    Raises
    ------
    ReportError
        If the library could break out of its script element, or a template or
        style sheet is missing.
    """
    scripts = _scripts(library, has_charts=bool(charts))
    environment = Environment(
        loader=FileSystemLoader(_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_readable,
    )
    environment.globals["_"] = _
    environment.filters["inline_json"] = inline_json
    environment.filters["drawing"] = Markup
    packed = live(charts)
    drawings = dict(zip(charts, packed.drawings, strict=True))
    environment.filters["live_drawings"] = lambda chart: inline_json(drawings[chart])
    style = "".join(_shipped(name) for name in ("style.css", *styles))
    try:
        page = environment.get_template(template)
    except TemplateNotFound as error:
        raise _missing(str(error.name or template)) from error
    text = page.render(
        **values,
        made=made.tags(),
        language=language(),
        page_words=_page_words(),
        # our own files, not data: they must not be escaped
        style=Markup(style),
        scripts=[Markup(text) for text in scripts],
        policy=content_policy(scripts),
        live_shared=inline_json(packed.shared) if scripts and charts else "",
    )
    return sealed(text)


def _readable(value: object) -> object:
    """Make visible what hides in a text; what is markup was made by us."""
    return visible(value) if type(value) is str else value


def _page_words() -> str:
    """Return what the script for tables says and reads, where it is not English."""
    if language() == SOURCE:
        return ""
    group, decimal = figures("1,0")[1], figures("1.0")[1]
    words = {
        "language": language(),
        "months": [month_word(number) for number in range(1, 13)],
        # the script reads every space as a plain one
        "group": " " if group.isspace() else group,
        "decimal": decimal,
        "component": _("component"),
        "detail": _("of these"),
        "search": _("Search these rows"),
        "copy": _("Copy as CSV"),
        "copied": _("{number} rows copied"),
        "copiedOne": _("{number} row copied"),
        "shown": _("{number} of {all} rows"),
        "everything": _("all components"),
        "choose": _("Show in tables and charts"),
    }
    return inline_json(json.dumps(words, sort_keys=True, ensure_ascii=False))


def _folder() -> Path:
    """Return the folder of the templates."""
    try:
        return find("reports")
    except ClaimlensError as error:
        raise _missing("") from error


def _shipped(name: str) -> str:
    """Return a shipped text of the pages."""
    try:
        return find(f"reports/{name}").read_text(encoding="utf-8")
    except ClaimlensError as error:
        raise _missing(name) from error


def _missing(name: str) -> ReportError:
    file = f"reports/{name}".rstrip("/")
    return ReportError(
        f"The page cannot be made: the shipped file {file} is missing.",
        source=file,
        remedy="install claimlens again; its files are incomplete",
    )


def _scripts(library: str, *, has_charts: bool) -> list[str]:
    """Return the scripts of a page: none without a library."""
    if not library:
        return []
    lowered = library.lower()
    if "</script" in lowered or "<!--" in lowered:
        raise ReportError(
            "The drawing library holds the end of a script element.",
            source="charts",
            remedy="make the page without a library, or use another version",
        )
    names = ["charts.js"] if has_charts else []
    own = [_shipped(name) for name in [*names, "tables.js"]]
    return [library, *own] if has_charts else own
