"""A team's own check: fills that miss their target by more than this team likes, in the builds that are in use."""

from collections.abc import Iterator

from bevelbook import Finding, Reader, about_build, hookimpl

OWN_WINDOW_G = 0.01
"""Our own limit, either way, whatever the limit 'fill window' says: one step of our scale. Invented here."""
LEAST_G = 1e-6
"""Readings that are this close to the limit are at it: a sum of hundredths is not exact."""

FILLS_IN_USE = """
SELECT b.id AS build, b.label, b.target_oil_mass_g AS target_g, f.oil_in_g AS oil_g
FROM builds b
JOIN build_facts f ON f.build = b.id
JOIN diff_facts d ON d.current_build = b.id
WHERE b.target_oil_mass_g IS NOT NULL AND f.oil_in_g IS NOT NULL
ORDER BY b.label, b.id
"""


@hookimpl
def bevelbook_checks(reader: Reader) -> Iterator[Finding]:
    for fill in reader.rows(FILLS_IN_USE):
        off_g = fill["oil_g"] - fill["target_g"]
        if abs(off_g) > OWN_WINDOW_G + LEAST_G:
            yield about_build(
                fill,
                "fill_not_close",
                "worth a look",
                f"holds {fill['oil_g']:.2f} g, {abs(off_g):.2f} g {'more' if off_g > 0 else 'less'} than the target "
                f"{fill['target_g']:.2f} g; our own window is {OWN_WINDOW_G:.2f} g either way",
                "Fill to the target at the next opening, with the lid beside the scale.",
            )
