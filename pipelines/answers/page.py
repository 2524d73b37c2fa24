"""A page to print or send: HTML without scripts or anything fetched, from a template of `wording/`."""

from __future__ import annotations

from importlib.metadata import version
from importlib.resources import files


def page(template: str, **values: object) -> bytes:
    """Return the page. Whatever comes from the log or from a person is shown as it is, never run."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    wording = files("pipelines.wording")
    pages = Environment(
        loader=FunctionLoader(lambda name: wording.joinpath(name).read_text(encoding="utf-8")), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True,
    )  # fmt: skip
    return pages.get_template(template).render(version=version("stickfleet"), **values).encode()
