"""Start the page, say where it is, serve until Ctrl-C."""

from __future__ import annotations

import os
from pathlib import Path

import click

from cli.phone.addresses import Place, code_for_terminal, open_place
from cli.phone.app import make_app
from cli.phone.drawer import KEPT_DAYS, drawer_folder, open_drawer
from cli.phone.keys import Keys, Role
from cli.phone.serving import serve
from cli.screen import print_lines

_CALLED: dict[Role, str] = {
    "maker": "Scan this with the phone, or open the address:",
    "pupil": "For the pupils to scan:",
    "teacher": "For the teacher alone to scan; it shows everybody's cards:",
}
_CALLED_HERE: dict[Role, str] = {
    "maker": "Open this address in a browser on this computer:",
    "pupil": "For the pupils, in a browser on this computer:",
    "teacher": "For the teacher alone, on this computer; it shows everybody's cards:",
}


_FOR_OTHERS = 0o077  # the rights that new files must not give


def run_page(
    *, only_here: bool, port: int | None, in_class: bool, drawer: Path | None, new_phones: bool
) -> None:
    """Serve the phone page until Ctrl-C. Raises PencilampError when it can't start."""
    os.umask(_FOR_OTHERS)  # what is in the drawer is for this user's eyes
    place = open_place(port, only_here)
    with open_drawer(drawer_folder(drawer)) as kept:
        if new_phones:
            kept.forget_phones()
        roles: tuple[Role, ...] = ("pupil", "teacher") if in_class else ("maker",)
        keys = Keys.fresh(kept.secret, roles)
        app = make_app(kept, keys, place, in_class=in_class)
        _say_where(place, keys, only_here=only_here)
        serve(app, place.listener)
    print_lines(f"Stopped. The cards are in {kept.folder}")


def _say_where(place: Place, keys: Keys, *, only_here: bool) -> None:
    # Whoever waits for the address in a pipe must see it at once, hence the flushing of echo.
    for role, key in keys.by_role.items():
        print_lines((_CALLED_HERE if only_here else _CALLED)[role])
        if not only_here:
            click.echo(code_for_terminal(place.address_for(key)))
        print_lines(place.address_for(key))
        print_lines()
    if not only_here:
        others = place.addresses[1:]
        if others:
            print_lines(f"This computer's other addresses: {', '.join(others)}.")
        print_lines("Phone and computer must be in the same network. The phone doesn't find it? See --help.")
        print_lines("On an open network others could read along; use it at home or in class.")
    print_lines(f"Cards go to the drawer and stay {KEPT_DAYS} days. Ctrl-C stops the page.")
