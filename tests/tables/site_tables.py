"""A small invented site as text, with one of everything, for the tests of the input side."""

from __future__ import annotations

from pathlib import Path

TABLES = {
    "holes.csv": """hole,easting_m,northing_m,elevation_m,length_m,trend_deg,plunge_deg,diameter_mm
B1,100,200,50,60,136,55,96
B2,120,210,51,40,20,-10,96
B3,130,190,52,50,0,90,76
""",
    "surveys.csv": """hole,depth_m,trend_deg,plunge_deg
B1,0,136,55
B1,30,138,56
B1,60,141,57.5
B2,20,21,-9
B2,40,23,-8
""",
    "logged.csv": """hole,from_m,to_m,method
B1,2,25,image
B1,27,60,image
B1,0,40,core
B2,0,40,core
B3,1,50,image
B3,1,50,core
""",
    "fractures.csv": """hole,depth_m,method,dip_deg,dip_direction_deg,alpha_deg,beta_deg,type,aperture_mm,remark
B1,3.5,image,45,120,,,joint,1.5,wet
B1,12.25,image,62.5,201,,,joint,,
B1,14,core,,,35,210,joint,0,"clean, planar"
B1,31,image,70,10,,,vein,0.2,
B2,5,core,,,50,15,joint,,
B2,7.5,core,,,,,joint,,not oriented
B2,39,core,,,25,300,fault,3,
B3,9,image,5,300,,,bedding,,
B3,44,image,88,355,,,joint,,
""",
    "site.toml": """name = "Small site"
north = "true"
reference = "low side"
blind_angle_deg = 12
""",
}


def in_feet(text: str) -> str:
    """A table whose depths and lengths along the hole are called feet."""
    header, body = text.split("\n", 1)
    for name in ("depth_m", "from_m", "to_m", "length_m"):
        header = header.replace(name, name.replace("_m", "_ft"))
    return f"{header}\n{body}"


def write_tables(folder: Path, **changed: str | None) -> Path:
    """Write the tables; a keyword such as ``holes_csv`` replaces one (None leaves it out)."""
    for name, text in TABLES.items():
        text = changed.get(name.replace(".", "_"), text)
        if text is not None:
            (folder / name).write_text(text, encoding="utf-8")
    return folder
