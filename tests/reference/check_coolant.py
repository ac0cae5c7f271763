#!/usr/bin/env python3
"""Computes the coolant tables anew and compares.

Library: CoolProp (pip install CoolProp==8.0.0). Sources behind it: Melinder 2010 (MEG, MPG),
ASHRAE Handbook, Fundamentals, 2001 (AEG, APG), IAPWS-95 (Water).

Without options: the tables in tests/reference/coolant/ against the library.
With --binary PATH: also what `PATH coolant ... --json` prints against the library.

Exit code 0: all within tolerance. 1: not.
"""

import argparse
import csv
import json
import math
import pathlib
import subprocess
import sys

from CoolProp.CoolProp import PropsSI

TABLES = pathlib.Path(__file__).parent / "coolant"
ZERO_C_IN_K = 273.15
# Any pressure at which the mixture is liquid: the correlations do not depend on it.
LIQUID_PA = 5e5
# Pure liquids at 20 °C in kg/m³, from memory of the usual tables.
PURE_DENSITY = {"MEG": 1113.2, "MPG": 1036.1}
WATER_DENSITY = 998.2

misses = []
checked = 0


def near(what, found, wanted, tolerance):
    global checked
    checked += 1
    if math.isnan(wanted) and math.isnan(found):
        return
    if not abs(found - wanted) <= tolerance:
        misses.append(f"{what}: {found} is not {wanted} ± {tolerance}")


def mass_fraction(fluid, vol_pct):
    glycol = vol_pct / 100 * PURE_DENSITY[fluid]
    return glycol / (glycol + (1 - vol_pct / 100) * WATER_DENSITY)


def library(fluid, strength, celsius=None):
    """Freezing point, and at a temperature density, viscosity and volume over that at 20 °C."""
    name = f"INCOMP::{fluid}[{strength}]"
    of = lambda what, at: PropsSI(what, "T", at + ZERO_C_IN_K, "P", LIQUID_PA, name)
    freeze = PropsSI("T_freeze", "T", 300, "P", LIQUID_PA, name) - ZERO_C_IN_K
    if celsius is None:
        return freeze, None, None, None
    density = of("D", celsius)
    return freeze, density, of("V", celsius), of("D", 20.0) / density


def table(name):
    with open(TABLES / name, newline="") as file:
        yield from csv.DictReader(file)


def check_tables():
    for row in table("glycol_coolprop.csv"):
        if row["status"] != "ok":
            continue
        fluid, celsius = row["fluid"], float(row["T_C"])
        # The column is rounded to five digits, the values beside it are not.
        strength = mass_fraction(fluid, float(row["vol_pct"]))
        near(f"{fluid} mass fraction", float(row["mass_frac"]), strength, 1e-5)
        compare_row(row, *library(fluid, strength, celsius))
    for row in table("glycol_ashrae_volume.csv"):
        fluid, celsius = row["fluid"], float(row["T_C"])
        liquid = row["rho_kg_m3"] != "nan"
        compare_row(row, *library(fluid, float(row["vol_pct"]) / 100, celsius if liquid else None))
    for row in table("water_saturation.csv"):
        kpa = float(row["p_abs_kPa"])
        celsius = PropsSI("T", "P", kpa * 1000, "Q", 0, "Water") - ZERO_C_IN_K
        near(f"water boils at {kpa} kPa", float(row["Tsat_CoolProp_IAPWS95_C"]), celsius, 1e-3)
        near(f"IF97 against IAPWS-95 at {kpa} kPa", float(row["Tsat_IF97_C"]), celsius, 0.01)


def compare_row(row, freeze, density, viscosity, volume):
    what = f"{row['fluid']} {row['vol_pct']} % {row['T_C']} °C"
    near(f"{what} freeze", float(row["Tfreeze_C"]), freeze, 1e-3)
    if density is None:
        return
    near(f"{what} density", float(row["rho_kg_m3"]), density, 1e-6 * density)
    near(f"{what} viscosity", float(row["mu_Pa_s"]), viscosity, 1e-6 * viscosity)
    near(f"{what} volume", float(row["V_over_V20"]), volume, 1e-6)


def check_binary(binary):
    """Tolerances: freezing ±1 K, density ±0.5 %, viscosity ±5 %, expansion ±0.3 points."""
    for glycol, pure, inhibited in [("ethylene", "MEG", "AEG"), ("propylene", "MPG", "APG")]:
        for percent in (10, 20, 25, 30, 35, 40, 45, 50, 55, 60):
            for fluid in (pure, inhibited):
                if fluid == pure and percent == 60:
                    continue  # outside Melinder's 60 % by mass
                strength = mass_fraction(fluid, percent) if fluid == pure else percent / 100
                freeze = library(fluid, strength)[0]
                for celsius in (-30, -15, 0, 20, 60, 95):
                    if celsius <= freeze + 0.5:
                        continue
                    command = [binary, "coolant", "--json", "--glycol", glycol]
                    command += ["--percent", str(percent), "--at", f"{celsius} °C", "--hot", "90 °C"]
                    command += ["--pure"] if fluid == pure else []
                    run = subprocess.run(command, capture_output=True, text=True)
                    what = f"{fluid} {percent} % {celsius} °C"
                    if run.returncode != 0:
                        misses.append(f"{what}: exit code {run.returncode}: {run.stderr.strip()}")
                        continue
                    told = json.loads(run.stdout)
                    _, density, viscosity, _ = library(fluid, strength, celsius)
                    hot = library(fluid, strength, 90.0)[1]
                    near(f"{what} freeze", told["freeze_c"], freeze, 1.0)
                    near(f"{what} density", told["density_kg_m3"], density, 0.005 * density)
                    near(f"{what} viscosity", told["viscosity_mpa_s"], 1000 * viscosity, 50 * viscosity)
                    near(f"{what} expansion", 100 * told["expansion"], 100 * (density / hot - 1), 0.3)


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--binary", help="the seepwise program to compare as well")
    options = arguments.parse_args()
    check_tables()
    if options.binary:
        check_binary(options.binary)
    for miss in misses:
        print(miss)
    print(f"{checked} values compared, {len(misses)} outside their tolerance")
    # A comparison that compared nothing has not passed.
    sys.exit(0 if checked > 300 and not misses else 1)


if __name__ == "__main__":
    main()
