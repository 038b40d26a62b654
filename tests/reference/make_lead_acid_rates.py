"""Make lead_acid_rates.csv with PyBaMM (an open battery model; not a dependency of this project).

    python make_lead_acid_rates.py > lead_acid_rates.csv

Parameters "Sulzer2019": a 17 Ah, 12 V valve-regulated battery, fitted to measured discharges in V. Sulzer et al.,
"Faster lead-acid battery simulations from porous-electrode theory", Journal of the Electrochemical Society 166 (2019).
"""

import os
import sys

os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"

import numpy as np
import pybamm

CURRENTS = (0.85, 1.7, 3.4, 8.5, 17.0)
REMOVED = (2.0, 6.0, 10.0, 14.0)


def main() -> None:
    """Discharge at each current to 10.5 V and write the table."""
    out = sys.stdout.write
    out(
        f"# Discharge to 10.5 V of a 12 V 17 Ah lead-acid battery, made by make_lead_acid_rates.py with PyBaMM "
        f"{pybamm.__version__}, model lead_acid.Full, parameters Sulzer2019 (J. Electrochem. Soc. 166, 2019)\n"
    )
    out("current_A,duration_h,charge_Ah," + ",".join(f"v_after_{x:g}_Ah_V" for x in REMOVED) + "\n")
    for current in CURRENTS:
        values = pybamm.ParameterValues("Sulzer2019")
        values["Current function [A]"] = current
        run = pybamm.Simulation(pybamm.lead_acid.Full(), parameter_values=values)
        found = run.solve(np.linspace(0.0, 1.8 * 17 * 3600 / current, 1441))
        hours, volts = found["Time [h]"].entries, found["Battery voltage [V]"].entries
        at = [float(np.interp(x / current, hours, volts)) for x in REMOVED]
        out(f"{current},{hours[-1]:.4f},{current * hours[-1]:.3f}," + ",".join(f"{v:.3f}" for v in at) + "\n")


if __name__ == "__main__":
    main()
