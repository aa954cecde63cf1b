"""SenML unit symbols as UCUM codes.

Source: RFC 8428 section 12.1 and RFC 8798 (secondary units). Symbols that
mean nothing to a condition reading are left out: such a unit is refused.
"""

UCUM_OF_SENML = {
    "m": "m",
    "m/s": "m/s",
    "m/s2": "m/s2",
    "m3/s": "m3/s",
    "l/s": "L/s",
    "A": "A",
    "V": "V",
    "W": "W",
    "Pa": "Pa",
    "K": "K",
    "Cel": "Cel",
    "Hz": "Hz",
    "1/s": "/s",
    "1/min": "/min",
    "dB": "dB",
    "/": "1",
    "%": "%",
    "%EL": "%",
    "mm": "mm",
    "mA": "mA",
    "mV": "mV",
    "kW": "kW",
}
