"""The rules of a light-up card, in one table: name, limits, unit, what to tell the maker.

In:    nothing; the table is data. `limit_of` takes the maker's `Settings`.
Out:   `RULES`, one `Rule` per name; `limit_of(settings, key)`, the limit in force.
Fails: `UsageError` for a limit of the maker's own that no rule has, or that is no length;
       KeyError for a key that the table does not know (a programming mistake).

Limits are edge to edge in millimetres unless the key says degrees. A maker's own limits come in
as `Settings.limits`, keyed like the table: "rule" for a rule's single limit, "rule.part" where
a rule has several.

Adding a rule: one entry in `table.py`, its words and how it is measured in `words.toml`, and one in
`circuit.check.measures`, which says what measures it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from circuit.errors import UsageError
from circuit.layout import Tongue
from circuit.near_names import did_you_mean
from circuit.rules.kinds import Limit, Rule
from circuit.rules.table import RULES
from circuit.settings import Settings
from circuit.switch import shape_of

__all__ = ["LIMITS", "RULES", "RULE_BY_NAME", "limit_of", "require_known_limits", "straight_limit_mm"]

RULE_BY_NAME: Mapping[str, Rule] = {rule.name: rule for rule in RULES}
LIMITS: Mapping[str, Limit] = {limit.key: limit for rule in RULES for limit in rule.limits}


def limit_of(settings: Settings, key: str) -> float:
    """The limit in force for `key`: the maker's own, else the table's for the parts in use."""
    if settings.limits:
        require_known_limits(settings)
        if key in settings.limits:
            return settings.limits[key]
    limit = LIMITS[key]
    return limit.default if limit.for_part is None else limit.for_part(settings)


def straight_limit_mm(settings: Settings, tongue: Tongue) -> float:
    """`battery-zone.straight` for that form of the flap's tongue: the end runs are straight to its outer edge."""
    key = "battery-zone.straight"
    return limit_of(settings, key) if key in settings.limits else shape_of(settings, tongue).reach_mm


def require_known_limits(settings: Settings) -> None:
    """UsageError when one of the maker's own limits has a name the table lacks, or is below 0 or endless."""
    for key, value in settings.limits.items():
        if key not in LIMITS:
            raise UsageError(
                f"There is no rule limit called {key!r}. {did_you_mean(key, LIMITS)}"
                f"Known are: {', '.join(sorted(LIMITS))}."
            )
        if not 0 <= value < math.inf:
            raise UsageError(f"The limit {key} must be 0 or more, not {value}.")
