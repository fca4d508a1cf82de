"""The cautions that belong beside a coin cell: short, calm, deferring to doctors and to local rules.

In:    nothing, or where the words will stand.
Out:   sentences.

They are general knowledge, not advice for one case. Sources: Litovitz and others,
Pediatrics 125(6), 2010 (swallowed cells); pages of poison centres and children's hospitals; 16 CFR part
1263 (United States); Australia's button-battery standards of 2022; Publication 52 of the United States'
post; a household-battery page of the US EPA. Rules change: that is why each sentence sends on.
"""

from __future__ import annotations

from circuit.settings import Settings

SWALLOWED = (
    "Keep coin cells, new and used, away from small children and pets: a swallowed one can burn within two hours, "
    "often before anyone has seen it, and is an emergency at once."
)
IF_SWALLOWED = (
    "If you think that a cell was swallowed or put in a nose or ear, treat it as an emergency at once: call your "
    "emergency number or poison centre, don't wait for signs, don't make the person vomit."
)
SHORT_CIRCUIT = (
    "Put the cell in last and take it out while you work on the tapes; a loose cell touched by tape on both faces "
    "drains and can get hot."
)
HEAT = "Never solder to a coin cell or bring a hot tool near it, and never charge, open or crush it."
TOOLS = (
    "Prick and cut on a board, away from your fingers. Irons and glue guns burn them: solder in fresh air, with the "
    "cell out of the card, and use any glue as its label says."
)
GIVING = (
    "Nothing in a paper card keeps a child from its cell, so don't give it where small children live, and tell "
    "who gets it that there is a coin cell inside."
)
POSTING = (
    "Post and air carriers have rules for lithium cells; ask yours before you post a card with its cell."
)
DISPOSAL = (
    "Never throw a used cell in the bin: tape over both faces and take it to a collection point; "
    "local rules decide."
)


def summary_cautions() -> tuple[str, ...]:
    """For the command's summary when a cell is chosen: the two that matter at the table."""
    return (SWALLOWED, SHORT_CIRCUIT)


def mending_cautions() -> tuple[str, ...]:
    """For who looks for a fault in a built card, cell and tools at hand."""
    return (SHORT_CIRCUIT, HEAT, TOOLS)


def caution_lines(settings: Settings) -> tuple[str, ...]:
    """For the build sheet: what matters while making the card and giving it away, the cell named."""
    first = SWALLOWED.replace(
        "Keep coin cells,", f"This card takes a {settings.cell.name}. Keep coin cells,", 1
    )
    return (first, IF_SWALLOWED, SHORT_CIRCUIT, HEAT, TOOLS, GIVING, POSTING, DISPOSAL)
