"""Write skin_temperature.csv.gz from the test data of pvlib's source distribution.

python make_skin_temperature.py PVLIB_SOURCE: the unpacked source, with tests/data in it.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

EMISSIVITY = 0.97
SIGMA = 5.670374419e-8
COLUMNS = ["temp_air", "relative_humidity", "pressure", "wind", "ghi", "sw_up", "lw_down", "lw_up"]


def hourly(site, minutes):
    """Means of the hours of which nine minutes in ten are there."""
    minutes = minutes.reindex(columns=COLUMNS)
    means, counts = minutes.resample("h").mean(), minutes.resample("h").count()
    means = means.where(counts >= 54)
    means["relative_humidity"] = (means["relative_humidity"] / 100).clip(upper=1.0)
    emitted = (means["lw_up"] - (1 - EMISSIVITY) * means["lw_down"]) / EMISSIVITY
    means["skin_temp"] = (emitted / SIGMA) ** 0.25 - 273.15
    means.insert(0, "site", site)
    means.index = means.index.strftime("%Y-%m-%dT%H:%MZ")
    return means


def main(source):
    data = Path(source) / "tests" / "data"
    payerne, _ = pvlib.iotools.read_bsrn(
        data / "bsrn-pay0616.dat.gz", logical_records=("0100", "0300")
    )
    payerne = payerne.rename(columns={"gri": "sw_up", "lwd": "lw_down", "lwu": "lw_up"})
    alamosa, _ = pvlib.iotools.read_surfrad(data / "surfrad-slv16001.dat")
    alamosa = alamosa.rename(
        columns={
            "uw_solar": "sw_up", "dw_ir": "lw_down", "uw_ir": "lw_up", "wind_speed": "wind",
        }
    )  # fmt: skip
    table = pd.concat([hourly("Payerne", payerne), hourly("Alamosa", alamosa)])
    table["ghi"] = np.maximum(table["ghi"], 0.0)
    names = {
        "temp_air": "air_temp_c", "relative_humidity": "rel_humidity", "pressure": "pressure_hpa",
        "wind": "wind_m_s", "ghi": "ghi_w_m2", "sw_up": "sw_up_w_m2", "lw_down": "lw_down_w_m2",
        "lw_up": "lw_up_w_m2", "skin_temp": "skin_temp_c",
    }  # fmt: skip
    table.rename(columns=names).round(4).to_csv(
        Path(__file__).with_name("skin_temperature.csv.gz"), index_label="time_utc",
        compression={"method": "gzip", "mtime": 0},
    )  # fmt: skip


if __name__ == "__main__":
    main(sys.argv[1])
