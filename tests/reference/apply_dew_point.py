"""Dew points by psychrolib (ASHRAE Handbook Fundamentals 2017, Hyland and Wexler)."""

import psychrolib

from apply_values import finish, settle

psychrolib.SetUnitSystem(psychrolib.SI)
ROWS = []
for celsius in (2.0, 5.0, 10.0, 20.0, 23.0, 30.0, 40.0):
    for humidity in (0.2, 0.5, 0.8, 1.0):
        dew = psychrolib.GetTDewPointFromRelHum(celsius, humidity)
        if dew >= 0.0:
            ROWS.append([celsius, humidity, dew])

finish(
    settle(
        "reference_dew_point.csv",
        ["Dew point over water by psychrolib 2.5.0; rows whose dew point is below 0 degC are left out,",
         "because ASHRAE then gives the frost point over ice and the WMO formula the dew point."],
        ["air_c", "rh_ratio", "dew_point_c"],
        ROWS,
        relative=1e-6,
    )
)
