"""The blade, contacts, wear and particles."""

import math
from math import radians

import numpy as np
from validation_rows import Row, Rows, check, stated, table, values, within

import libblade as lb

STRIP = {
    "blade.free_length": "20 mm",
    "blade.thickness": "0.02 mm",
    "roll.radius": "2 m",
    "setting.chamber_pressure": 0.0,
    "setting.orientation": "doctoring",
}


def stiffness(case: lb.Case) -> float:
    """D [N m]."""
    E, nu, t = (case[f"blade.{n}"] for n in ("material.youngs_modulus", "material.poissons_ratio", "thickness"))
    return E * t**3 / (12.0 * (1.0 - nu**2))


@check(
    "Elastica: a strip pressed on a plane with friction",
    "Equation of {cite:t}`frischfay1962`; numbers recomputed two ways.",
    "recomputed",
    "The plane is a roll of 2 m, the strip a thousandth as thick as long: 1 % for both. tests/cpp holds the plane itself to 1e-8.",
)
def blade_on_plane() -> Rows:
    ref = values("frisch_fay_1962/blade_on_plane.csv")
    cases = {
        "A6-b30-d0.02-mu0+1": (30, 0.02, 0.0, "doctoring"),
        "A6-b30-d0.05-mu0.2+1": (30, 0.05, 0.2, "trailing"),
        "A6-b45-d0.1-mu0.2-1": (45, 0.1, 0.2, "doctoring"),
    }
    for name, (degrees, advance, friction, way) in cases.items():
        case = lb.example_case("folding_carton_water").replace(
            STRIP
            | {
                "setting.set_angle_deg": degrees,
                "setting.orientation": way,
                "setting.interference": advance * 0.02,
            }
        )
        bent = lb.bending(case, friction=friction)
        unit = stiffness(case) / 0.02**2
        words = f"{degrees} deg, advance {advance:g} L, friction {friction:g}, {way}"
        yield Row(f"{words}: load", ref[name, "normal"], bent.line_load / unit, 0.01, "D / L^2")
        yield Row(f"{words}: angle", ref[name, "angle_deg"], math.degrees(bent.effective_angle), 0.01, "deg")


@check(
    "Frequencies and buckling of a uniform blade",
    "Roots in beam tables {cite:p}`blevins1979`, from memory; recomputed here.",
    "recomputed",
)
def beam_tables() -> Rows:
    ref = values("beam_tables/beams.csv")
    case = lb.example_case("folding_carton_water").replace({"setting.chamber_pressure": 0.0})
    bent = lb.bending(case)
    t, length, rho = case["blade.thickness"], case["blade.free_length"], case["blade.material.density"]
    unit = math.sqrt(stiffness(case) / (rho * t)) / (2.0 * math.pi * length**2)
    for end, ours in (("free", bent.frequency_free), ("pinned", bent.frequency_pinned)):
        root = ref[f"clamped-{end}", "root"]
        yield Row(f"clamped-{end}: frequency", root**2, ours / unit, 1e-6, "sqrt(D / (rho t)) / (2 pi L^2)")


@check("Line contact", "{cite:t}`johnson1985`, ch. 4.", "recomputed")
def line_contact() -> Rows:
    ref = values("johnson_1985/line_contact.csv")
    cases = {
        "B1-1": ("two steel cylinders", 100e3, 20e-3, ref["B1-1", "modulus"]),
        "B1-2": ("rounded tip on a roll", 200.0, 1.0 / (1.0 / 20e-6 + 1.0 / 0.1), ref["B1-2", "modulus"]),
    }
    for case, (name, load, radius, modulus) in cases.items():
        found = lb.hertz_line(load, radius=radius, modulus=modulus)
        yield Row(f"{name}: half-width", ref[case, "half_width"], float(found.half_width), 1e-12, "m")
        yield Row(f"{name}: peak pressure", ref[case, "peak"], float(found.peak_pressure), 1e-12, "Pa")


@check("Gaussian asperity integrals", "{cite:t}`greenwood1966`, {cite:t}`greenwood1971`.", "recomputed")
def asperity_integrals() -> Rows:
    for row in table("greenwood_tripp_1971/gw_integrals.csv"):
        H = float(row["h_over_sigma"])
        if H <= 4.0:
            yield Row(f"F_5/2({H:g})", float(row["F5/2"]), float(lb.greenwood_tripp_integral(2.5, H)), 1e-9)


@check("Wear of a square edge under a constant load", "{cite:t}`archard1953` and plane geometry.", "recomputed")
def square_edge() -> Rows:
    for row in table("archard_1953/square.csv"):
        n = {name: float(value) for name, value in row.items()}
        a = radians(n["angle"])
        facet = lb.facet_from_retreat(n["depth"], a, thickness=n["thickness"])
        yield Row(f"{n['distance'] / 1e3:g} km: facet of the depth", n["facet"], float(facet), 1e-9, "m")
        grown = lb.facet_growth(n["thickness"], n["depth"], angle=f"{n['angle']} deg")
        worn = n["k"] * n["load"] * n["distance"]
        yield Row(f"{n['distance'] / 1e3:g} km: area worn away", worn, float(grown.area[0]), 1e-8, "m2")
    for row in table("archard_1953/full.csv"):
        t, degrees = float(row["thickness"]), float(row["angle"])
        longest = lb.facet_growth(t, t, angle=f"{degrees} deg").length[0]
        yield Row(f"cut face worn away at {degrees:g} deg", float(row["facet"]), float(longest), 1e-9, "m")


@check(
    "A blade's history in a film that carries next to nothing",
    "{cite:t}`archard1953`: b = sqrt(2 k N s / (sin a cos a)).",
    "recomputed",
    "The whole of `lb.wear` against the closed form, taken at the angle at which the loaded blade ends.",
)
def worn_history() -> Rows:
    thin = {
        "ink.rheology.law": "newtonian",
        "ink.viscosity": "0.1 mPa s",
        "setting.surface_speed": "0.02 m/s",
        "setting.holding": "floating",
        "setting.line_load": "100 N/m",
        "blade.specific_wear": "1e-15 m2/N",
        "tip.kind": "square_edge",
        "ink.andrade_constant": 0.0,
    }
    case = lb.example_case("folding_carton_water").replace(thin)
    story = lb.wear(case, "20 km").dataset
    a = float(story.effective_angle[-1])
    closed = math.sqrt(2.0 * 1e-15 * 100.0 * 20e3 / (math.sin(a) * math.cos(a)))
    yield Row("facet after 20 km", closed, float(story.facet_length[-1]), 2e-3, "m")


@check("A wedge pressed on one face", "{cite:t}`levy1898`, {cite:t}`timoshenko1951`, from memory.", "recomputed")
def feather_wedge() -> Rows:
    for row in table("feather/wedge.csv"):
        angle, p, tau = (float(row[name]) for name in ("angle", "pressure", "shear"))
        found = lb.feather_index(f"{angle} deg", p, tau)
        words = f"{angle:g} deg, {p / 1e6:g} MPa, shear {tau / 1e6:g} MPa"
        yield Row(f"{words}: loaded face", float(row["loaded_face"]), found.loaded_face, 1e-8, "Pa")
        yield Row(f"{words}: free face", float(row["free_face"]), found.free_face, 1e-8, "Pa")


@check(
    "Life of an engraving under the blade",
    "{cite:t}`archard1953` per pass of a land, cells by quadrature.",
    "recomputed",
)
def roll_life() -> Rows:
    for row in table("roll_wear/life.csv"):
        number = {name: float(value) for name, value in row.items() if name not in {"pattern", "profile"}}
        engraving = {
            "pattern": row["pattern"],
            "profile": row["profile"],
            "screen": 1.0 / number["pitch"],
            "wall_width": number["wall"],
            "cell_depth": number["depth"],
        }
        changes = {f"roll.engraving.{name}": value for name, value in engraving.items()}
        case = lb.example_case("folding_carton_water").replace(
            changes | {"roll.radius": number["radius"], "roll.specific_wear": number["wear"]}
        )
        found = lb.roll_wear(case, volume_share=number["share"], asperity_load=number["load"])
        words = f"{row['pattern']}, {row['profile']}, {100 * number['share']:g} % of the volume"
        yield Row(f"{words}: loss of height", number["land_loss"], found.land_loss, 1e-9, "m")
        yield Row(f"{words}: revolutions", number["revolutions"], found.revolutions, 1e-9)


@check("Efficiency of a filter's beta ratio", "ISO 16889; the pairs from memory.", "recomputed")
def filter_beta() -> Rows:
    from libblade import _core

    for row in table("particles/filter.csv"):
        beta = float(row["beta"])
        loop = lb.InkLoop(filter=lb.Filter(size=10e-6, beta=beta))
        held = _core.loop_efficiency(loop._core(), lb.Particles("grain")._core(), np.array([10e-6]), False, 0.03)
        yield Row(f"beta {beta:g}", float(row["efficiency"]), float(held[0]), 1e-9)


@check(
    "Which particle scratches which surface",
    "{cite:t}`pintaude2010`, abstract; hardness from handbooks, from memory.",
    "statement",
    "A surface is scratched from a hardness ratio of 1.2 on.",
)
def scratch_hardness() -> Rows:
    ratio = lb.scoring.__kwdefaults__["hardness_ratio"]
    for row in table("particles/hardness.csv"):
        scratches = float(row["particle_hardness"]) >= float(ratio) * float(row["surface_hardness"])
        published = "scratches" if row["scratches"] == "1" else "does not"
        found = ("scratches" if scratches else "does not") == published
        yield stated(f"{row['particle']} on {row['surface']}", published, found, "the other way")


@check("Materials of blades", "Engineering handbooks, from memory; ranges written down first.", "common practice")
def blade_materials() -> Rows:
    ranges = values("handbook_solids/ranges.csv")
    solids = {entry.name.replace("_", " "): entry for entry in lb.solids_table()}
    names = {"modulus": "youngs_modulus", "ratio": "poissons_ratio", "hardness": "hardness"}
    for (solid, quantity), low in ranges.items():
        if not quantity.endswith("_low"):
            continue
        kind = quantity.removesuffix("_low")
        ours = getattr(solids[solid], names[kind])[0]
        unit = "" if kind == "ratio" else "Pa"
        yield within(f"{solid}: {kind}", low, ranges[solid, f"{kind}_high"], ours, unit)


@check(
    "Density laws of a print",
    "{cite:t}`murray1936`; ISO 5-4.",
    "recomputed",
    "By hand: R = a Rs + 1 - a, D = -log10 R.",
)
def murray_davies() -> Rows:
    for area in (0.25, 0.5, 0.75):
        density = -math.log10(area * 10**-1.5 + 1.0 - area)
        yield Row(f"tint of {100 * area:g} % under a solid of 1.5", density, float(lb.tint_density(area, 1.5)), 1e-12)
        yield Row(f"dot area of a density of {density:.3f}", area, float(lb.dot_area(density, 1.5)), 1e-12)
