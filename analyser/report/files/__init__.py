"""Exchange files of a debrief: GPX, GeoJSON, KML, tables (CSV) and images; those of a plan in ``plans``."""

from analyser.report.files.images import IMAGE_KINDS, write_images
from analyser.report.files.kml import kml_text
from analyser.report.files.maps import geojson_text, gpx_text
from analyser.report.files.tables import SAMPLE_COLUMNS, WIND_COLUMNS, samples_csv, winds_csv

__all__ = [
    "IMAGE_KINDS",
    "SAMPLE_COLUMNS",
    "WIND_COLUMNS",
    "geojson_text",
    "gpx_text",
    "kml_text",
    "samples_csv",
    "winds_csv",
    "write_images",
]
