"""Builds for cards: one of which everything is known, one of which nothing is. All constructed."""

from __future__ import annotations

from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer

HOSTILE = (
    "<script>alert(1)</script><img src=x onerror=alert(1)> </style></article> {{7*7}} \x1b[31m "
    "\"quoted\" & 'single' " + "long " * 20_000
)


def make_full_build(writer: Writer, *, screw_count: int = 4) -> str:
    """The id of rear-a/2, a rebuild like rear-a/1, which leaked and was opened."""

    def add(kind: str, /, **values: object) -> str:
        return writer.insert(BY_NAME[kind], values)

    scale = add("scale", name="bench", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0, error_bound_g=0.01)
    lid_ring = add(
        "seal", label="lid ring 18x1", form="O-ring", inside_diameter_mm=18.0, section_mm=1.0,
        outside_diameter_mm=20.0, material="EPDM",
    )  # fmt: skip
    shaft_ring = add(
        "seal", label="shaft ring 5x2", form="O-ring", inside_diameter_mm=5.0, section_mm=2.0,
        outside_diameter_mm=9.0, material="FKM", groove_depth_mm=1.7, groove_width_mm=2.6,
    )  # fmt: skip
    diff = add(
        "diff", label="rear-a", usual_position="rear", housing_material="nylon", free_volume_cm3=1.82,
        free_volume_from="smallest of three fillings", screw_count=screw_count, screw_size="M2.5", screw_hole="blind",
        usual_dry_mass_g=9.52, joint_seal=lid_ring, shaft_seal=shaft_ring,
    )  # fmt: skip
    fluid = add("fluid", label="7k own label", medium="oil", viscosity_cst=7000.0, viscosity_source="its label")
    bottle = add(
        "bottle", fluid=fluid, lot="B2", viscosity_cst=6970.0, viscosity_uncertainty_cst=150.0, measured_on="2026-04-20"
    )
    ana = add("person", name="ana")
    before = add("build", label="rear-a/1", diff=diff, built_on="2026-04-12", kind="new", closed_mass_g=18.41)
    add(
        "opening", build=before, opened_on="2026-05-03", reason="leak", closed_mass_g=18.16,
        leak_place="lid-side shaft", leak_amount="drops", oil="grey",
    )  # fmt: skip
    build = writer.insert(
        BY_NAME["build"],
        {
            "label": "rear-a/2",
            "diff": diff,
            "built_on": "2026-05-03",
            "kind": "rebuild",
            "builder": ana,
            "like": before,
            "fluid": fluid,
            "bottle": bottle,
            "dry_mass_g": 9.52,
            "oil_mass_g": 1.50,
            "mass_basis": "open half",
            "scale": scale,
            "degassing": "3 min, pump running",
            "note": "new outdrive on the lid side",
        },
        entered={"mass_basis": "carried over from rear-a/1"},
    )
    add(
        "seal_fitting", build=build, place="joint", seal=lid_ring, condition="used", state="ok",
        measured_outside_diameter_mm=20.6,
    )  # fmt: skip
    add("seal_fitting", build=build, place="case-side shaft", seal=shaft_ring, condition="used")
    add("seal_fitting", build=build, place="lid-side shaft", seal=shaft_ring, condition="new")
    for place, thickness_mm, pieces in (
        ("behind case-side gear", 0.2, 1),
        ("behind lid-side gear", 0.2, 1),
        ("behind lid-side gear", 0.1, 2),
        ("small gears", 0.2, 1),
        ("small gears", -0.05, 1),
    ):
        add("build_shim", build=build, place=place, thickness_mm=thickness_mm, pieces=pieces)
    return build


def make_bare_build(writer: Writer) -> str:
    """The id of a build of which only the diff and the day are known."""
    diff = writer.insert(BY_NAME["diff"], {"label": "bare"})
    return writer.insert(BY_NAME["build"], {"label": "bare/1", "diff": diff, "built_on": "2026-05-05"})
