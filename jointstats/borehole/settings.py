"""The settings of a site: what its angles and depths refer to, and what to trust."""

from __future__ import annotations

from dataclasses import dataclass, field

from jointstats.sphere.angles import as_azimuth


#: Metres of a foot, exact.
FOOT_M = 0.3048


@dataclass(frozen=True)
class ReadingErrors:
    """Standard errors of what is read; None where it was not stated.

    Parameters
    ----------
    alpha_deg, beta_deg : float or None
        Of the angles on core.
    image_dip_deg, image_azimuth_deg : float or None
        Of a plane read on the unrolled wall.
    dip_deg, dip_direction_deg : float or None
        Of true dips and dip directions.
    pick_mm : float or None
        Of a point of a trace, along the hole.
    diameter_mm : float or None
        Of the diameter of a hole.
    survey_deg : float or None
        Of the direction of a hole, about each of two axes square to it.
    roll_deg : float or None
        Of the reference line round the wall: marks on core, the roll of a camera.

    Examples
    --------
    >>> ReadingErrors(alpha_deg=2.0).alpha_deg
    2.0
    """

    alpha_deg: float | None = None
    beta_deg: float | None = None
    image_dip_deg: float | None = None
    image_azimuth_deg: float | None = None
    dip_deg: float | None = None
    dip_direction_deg: float | None = None
    pick_mm: float | None = None
    diameter_mm: float | None = None
    survey_deg: float | None = None
    roll_deg: float | None = None


@dataclass(frozen=True)
class SiteSettings:
    """What the tables of a site mean.

    Parameters
    ----------
    blind_angle_deg : float
        Angle between hole and plane below which readings are not trusted, degrees.
    north : str
        The north that azimuths refer to: "true", "grid" or "magnetic"; "mixed" where the tables
        differ.
    declination_deg : float
        Bearing of magnetic north from true north, degrees, east positive; added to azimuths
        from magnetic north.
    depth_unit : str
        Unit of the depths and lengths in the tables, "m" or "ft". In memory they are metres.
    figures_in : str
        Units of P32 and spacing in the report and sets.csv, "m" or "m and ft".
    reference : str or None
        Where the reference line of core and wall readings lies: "low side", "high side" or
        "north"; None where no reading needs one.
    bedding : tuple of float or None
        Dip and dip direction of the bedding, degrees, from the north of the fractures.
    convergence_deg : float
        Bearing of grid north from true north, degrees, east positive; added to azimuths from
        grid north.
    north_of : tuple of (str, str)
        Table and its north, where the tables differ.
    errors : ReadingErrors
        Standard errors of the readings.
    title : tuple of (str, str)
        What the title block of a report says, by key: project, client, number, prepared, checked,
        revision, coordinate_system.
    ignore : tuple of str
        Names of files, sheets and columns that are left unread on purpose.
    depths_follow : str or None
        The log whose depths stand where ties bring two together, "core" or "image".
    fracture_radius_m : float or None
        Radius of the fractures as discs, metres; None takes it from the traces on the wall where
        these tell, and holes as lines where they don't.

    Examples
    --------
    >>> SiteSettings(north="magnetic", declination_deg=2.5).bearing_of("holes")
    2.5
    """

    blind_angle_deg: float = 10.0
    north: str = "true"
    declination_deg: float = 0.0
    depth_unit: str = "m"
    figures_in: str = "m"
    reference: str | None = None
    bedding: tuple[float, float] | None = None
    convergence_deg: float = 0.0
    north_of: tuple[tuple[str, str], ...] = ()
    errors: ReadingErrors = field(default_factory=ReadingErrors)
    ignore: tuple[str, ...] = ()
    depths_follow: str | None = None
    fracture_radius_m: float | None = None
    title: tuple[tuple[str, str], ...] = ()

    def bearing_of(self, table: str) -> float:
        """Bearing of the north of a table from true north, degrees: added to its azimuths."""
        # Where tables differ each has its own north; else that of all.
        north = dict(self.north_of).get(table, self.north)
        return {"magnetic": self.declination_deg, "grid": self.convergence_deg}.get(north, 0.0)

    @property
    def true_bedding(self) -> tuple[float, float] | None:
        """Dip and dip direction of the bedding from true north, degrees; None where not given."""
        if self.bedding is None:
            return None
        dip, direction = self.bedding
        return dip, float(as_azimuth(direction + self.bearing_of("fractures")))
