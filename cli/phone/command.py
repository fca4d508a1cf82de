"""`pencilamp phone`: the whole job from a phone's browser."""

from __future__ import annotations

from pathlib import Path

import click

_LAST_PORT = 65535  # a port has sixteen bits (RFC 9293)


@click.command(short_help="Photograph, mend and print from a phone.")
@click.option("--only-here", is_flag=True, help="Serve this computer alone; needs no network.")
@click.option(
    "--port",
    type=click.IntRange(1, _LAST_PORT),
    metavar="NUMBER",
    help="The port to use.  [default: 8765, or the next that is free]",
)
@click.option(
    "--class",
    "in_class",
    is_flag=True,
    help="For a class: one code for pupils, who see their own cards only, one for the teacher, who sees all.",
)
@click.option(
    "--drawer",
    type=click.Path(path_type=Path),
    help="Folder for the cards.  [default: PENCILAMP_DRAWER, or the usual place]",
)
@click.option(
    "--new-phones", is_flag=True, help="Let in no phone from earlier; each must scan the code again."
)
def phone(only_here: bool, port: int | None, in_class: bool, drawer: Path | None, new_phones: bool) -> None:
    """Show a code to scan, and let a phone in the same network photograph cards, mend them and print.

    Phone and computer must be in the same network. If the phone doesn't find the page: a guest network keeps its
    visitors apart, so join the ordinary one; a firewall on the computer must let Python take connections in; a
    phone with a VPN or with mobile data preferred leaves the network, so switch that off for the while. A phone's
    own hotspot, joined by the computer, always works.

    What is sent is not encrypted: on an open network others could read along. Use it at home or in class.

    Ctrl-C stops it. Cards stay in the drawer for 14 days, kept ones for as long as they are kept.

    \b
    Example:
      pencilamp phone --only-here
    """
    from cli.phone.run import run_page

    run_page(only_here=only_here, port=port, in_class=in_class, drawer=drawer, new_phones=new_phones)
