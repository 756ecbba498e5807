"""The preview put together: one HTML file that runs its own scripts and asks for nothing.

What a user wrote is on it as data alone, in an element that no browser executes, and the scripts
set it as text. The content security policy lets nothing run but the scripts named by their
digests, and lets nothing be fetched.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from planner.plan import Plan
from planner.proof.prove import Verdict
from planner.report.preview.data import page_data

LIBRARIES = ("vendor/d3.min.js", "vendor/plot.umd.min.js")
SCRIPTS = (
    "script/drawing.js",
    "script/laid_flat.js",
    "script/views.js",
    "script/charts.js",
    "script/tables.js",
    "script/page.js",
)
"""Put together in this order to one script."""
_STYLE = "page.css"
_PAGE = "page.html"


def preview_html(
    plan: Plan, plan_data: Mapping[str, Any], verdicts: Mapping[str, Verdict]
) -> bytes:
    """The whole page; ``plan_data`` is plan.json, ``verdicts`` its proof by program."""
    page = _package_text(_PAGE)
    scripts = [_package_text(name) for name in LIBRARIES]
    scripts.append("".join(_package_text(name) for name in SCRIPTS))
    style = _package_text(_STYLE)
    parts = {
        "policy": _policy(scripts, style),
        "style": style,
        "data": json_for_html(page_data(plan, plan_data, verdicts)),
        "scripts": "\n".join(f"<script>{script}</script>" for script in scripts),
    }
    # One pass over the page: what is put in is not looked at again.
    pieces = page.split("%%")
    return "".join(parts[p] if n % 2 else p for n, p in enumerate(pieces)).encode()


def json_for_html(data: Any) -> str:
    r"""JSON that cannot end the element that it stands in, nor begin another.

    >>> print(json_for_html("</script><b> & \u2028"))
    "\u003c/script\u003e\u003cb\u003e \u0026 \u2028"
    """
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _policy(scripts: list[str], style: str) -> str:
    allowed = " ".join(_hash(script) for script in scripts)
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash(style)}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


@cache
def _package_text(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")
