"""Virtual rasters with anything inside."""

from habitat.commands.check.account import check_study
from tests.layers import builders as make

VRT = ('<VRTDataset rasterXSize="40" rasterYSize="30"><SRS>EPSG:32617</SRS><GeoTransform>337500, 5, 0, '
       '4418350, 0, -5</GeoTransform>'
       '<VRTRasterBand dataType="Float32" '
       'band="1"{attributes}>{inside}</VRTRasterBand></VRTDataset>')  # fmt: skip

SOURCE = (
    '<SimpleSource><SourceFilename relativeToVRT="{relative}">{name}</SourceFilename>'
    "<SourceBand>1</SourceBand>"
    "</SimpleSource>"
)


def virtual(tmp_path, inside, attributes=""):
    make.yards().to_file(tmp_path / "y.fgb")
    (tmp_path / "ph.vrt").write_text(VRT.format(inside=inside, attributes=attributes), encoding="utf-8")
    return check_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "ph.vrt"}))
