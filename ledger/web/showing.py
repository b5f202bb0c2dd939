"""Templates filled in: everything is escaped, and a name that is missing is an error."""

from collections.abc import Iterable
from functools import partial
from typing import Final
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.routing import compile_path

from ledger.reports.entry_body import steps_of
from ledger.reports.svg import Drawing, spoken
from ledger.reports.tables import Table
from ledger.reports.tongue import LANGUAGES, Tongue
from ledger.store.people import Person
from ledger.web.access import EVERYONE, may_open
from ledger.web.body_form import is_figure

MenuItem = tuple[str, str, frozenset[str]]
"""What the menu says, where it leads, and who may go there."""

Door = tuple[str, frozenset[str]]
"""Where a page is, and who may open it."""

_PART: Final = "{}"


class Showing:
    """Fills templates in.

    Attributes:
        menu: Every item of the menu, in order.
        doors: Address of every page that is only opened, as Starlette writes it, and who
            may open it.
    """

    def __init__(self, menu: Iterable[MenuItem], doors: Iterable[Door]) -> None:
        """Read the templates of this package."""
        self.menu = tuple(menu)
        self.doors = tuple((compile_path(path)[0], may) for path, may in doors)
        self._environment = Environment(
            loader=PackageLoader("ledger.web", "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.filters["inline"] = inline
        self._environment.globals["linked"] = linked
        self._environment.globals["steps_of"] = steps_of
        self._environment.globals["is_figure"] = is_figure
        self._environment.globals["LANGUAGES"] = LANGUAGES

    def fill(
        self,
        template: str,
        *,
        tongue: Tongue,
        person: Person | None,
        **shown: object,
    ) -> str:
        """Return a template filled in.

        Args:
            template: Its name.
            tongue: The reader's language; a template says `_("…")`.
            person: Who reads.
            shown: What else the template asks for.
        """
        items = [(says, path) for says, path, may in self.menu if may_open(person, may)]
        return self._environment.get_template(template).render(
            _=tongue.says,
            tongue=tongue,
            person=person,
            menu=items,
            leads=partial(self.leads, person),
            **shown,
        )

    def leads(self, person: Person | None, address: str) -> bool:
        """Tell whether a link leads somebody to a page that they may open.

        Args:
            person: Who reads.
            address: Where it leads; parts of it may stand in braces.
        """
        path = address.partition("?")[0]
        found = (may for pattern, may in self.doors if pattern.match(path))
        return may_open(person, next(found, EVERYONE))


def inline(drawing: Drawing, tongue: Tongue) -> Markup:
    """Return a drawing as a part of the page, in the reader's words and figures.

    It is safe as it is: `ledger.reports.svg` escapes every text that it draws.
    """
    return Markup(spoken(drawing, tongue.drawn).svg)  # noqa: S704 - see above


def linked(table: Table, row: Iterable[str], address: str) -> str:
    """Return where a cell leads: an address with `{key}` for cells of its row.

    Nothing where a cell that the address needs is empty, or the table has none.
    """
    for column, cell in zip(table.columns, row, strict=True):
        part = f"{{{column.key}}}"
        if part in address:
            if not cell:
                return ""
            address = address.replace(part, quote(cell, safe=""))
    return "" if "{" in address else address
