"""Orbital elements of an invented pattern of satellites, in every form that is read (AIAA 2006-6753; CCSDS 502.0-B)."""

import csv
import io
import json

EPOCH = "2026-06-15T00:00:00.000000"
PLANES, PER_PLANE = 4, 3
Fields = dict[str, str]


def pattern() -> list[Fields]:
    sets = []
    for number in range(PLANES * PER_PLANE):
        plane, slot = divmod(number, PER_PLANE)
        sets.append(
            {
                "OBJECT_NAME": f"PATTERN-{number + 1}",
                "OBJECT_ID": f"2026-001{chr(65 + number)}",
                "EPOCH": EPOCH,
                "MEAN_MOTION": "15.05000000",
                "ECCENTRICITY": "0.0001000",
                "INCLINATION": "53.5000",
                "RA_OF_ASC_NODE": f"{plane * 360 / PLANES:.4f}",
                "ARG_OF_PERICENTER": "0.0000",
                "MEAN_ANOMALY": f"{slot * 360 / PER_PLANE + plane * 31:.4f}",
                "EPHEMERIS_TYPE": "0",
                "CLASSIFICATION_TYPE": "U",
                "NORAD_CAT_ID": str(90001 + number),
                "ELEMENT_SET_NO": "999",
                "REV_AT_EPOCH": "1",
                "BSTAR": "0.00010000",
                "MEAN_MOTION_DOT": "0.00000100",
                "MEAN_MOTION_DDOT": "0",
            }
        )
    return sets


def checked(line: str) -> str:
    """A line with its sum: digits add up, a minus counts one, modulo ten."""
    return line + str(sum(int(c) if c.isdigit() else c == "-" for c in line) % 10)


def two_lines() -> str:
    out = []
    for one in pattern():
        number = one["NORAD_CAT_ID"]
        out.append(one["OBJECT_NAME"])
        # The 15th of June is day 166.
        out.append(checked(f"1 {number}U 26001A   26166.00000000  .00000100  00000-0  10000-3 0  999"))
        degrees = (f"{float(one[key]):8.4f}" for key in ("INCLINATION", "RA_OF_ASC_NODE"))
        rest = (f"{float(one[key]):8.4f}" for key in ("ARG_OF_PERICENTER", "MEAN_ANOMALY"))
        out.append(checked(f"2 {number} {' '.join(degrees)} 0001000 {' '.join(rest)} 15.05000000    1"))
    return "\n".join(out) + "\n"


def omm_json() -> str:
    return json.dumps(pattern(), indent=1) + "\n"


def omm_csv() -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(pattern()[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(pattern())
    return out.getvalue()


METADATA = {"CENTER_NAME": "EARTH", "REF_FRAME": "TEME", "TIME_SYSTEM": "UTC", "MEAN_ELEMENT_THEORY": "SGP4"}


def omm_kvn() -> str:
    out = []
    for one in pattern():
        out += ["CCSDS_OMM_VERS = 2.0", f"CREATION_DATE = {EPOCH}", "ORIGINATOR = INVENTED"]
        names = {key: one[key] for key in ("OBJECT_NAME", "OBJECT_ID")}
        rest = {key: value for key, value in one.items() if key not in names}
        out += [f"{key} = {value}" for key, value in {**names, **METADATA, **rest}.items()]
        out.append("")
    return "\n".join(out) + "\n"


def omm_xml() -> str:
    mean = (
        "EPOCH",
        "MEAN_MOTION",
        "ECCENTRICITY",
        "INCLINATION",
        "RA_OF_ASC_NODE",
        "ARG_OF_PERICENTER",
        "MEAN_ANOMALY",
    )
    out = ['<?xml version="1.0" encoding="UTF-8"?>', "<ndm>"]
    for one in pattern():
        names = {key: one[key] for key in ("OBJECT_NAME", "OBJECT_ID")}
        rest = {key: value for key, value in one.items() if key not in names and key not in mean}
        out.append(
            '<omm id="CCSDS_OMM_VERS" version="2.0"><header><CREATION_DATE/><ORIGINATOR/></header><body><segment>'
        )
        out += ["<metadata>", *tags({**names, **METADATA}), "</metadata><data><meanElements>"]
        out += [*tags({key: one[key] for key in mean}), "</meanElements><tleParameters>", *tags(rest)]
        out.append("</tleParameters></data></segment></body></omm>")
    return "\n".join([*out, "</ndm>"]) + "\n"


def tags(fields: Fields) -> list[str]:
    return [f"<{key}>{value}</{key}>" for key, value in fields.items()]
