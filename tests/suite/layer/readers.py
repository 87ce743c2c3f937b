"""Ids of a layer as other programs read them: segments joined to edges by id.

Called with the name of a reader, the layer, and a folder with what ogr2ogr made of it. Prints JSON: sorted rows of
segment_id, way_id, part, edge_id, from_node, to_node, one for each segment driven in node order.
"""

import glob
import json
import os
import sys

SEGMENT = ["segment_id", "way_id", "part", "edge_forward"]
EDGE = ["edge_id", "from_node", "to_node"]


def joined(segments, edges):
    import pandas

    driven = segments[SEGMENT].dropna(subset=["edge_forward"]).astype("int64")
    both = pandas.merge(driven, edges[EDGE].astype("int64"), left_on="edge_forward", right_on="edge_id")
    return both[SEGMENT[:3] + EDGE].values.tolist()


def with_geopandas(layer, _):
    import geopandas

    return joined(*(geopandas.read_file(layer, layer=table) for table in ("segments", "edges")))


def with_flatgeobuf(_, folder):
    import geopandas
    import pandas

    return joined(geopandas.read_file(f"{folder}/segments.fgb"), pandas.read_csv(f"{folder}/edges.csv"))


def with_fiona(layer, _):
    import fiona
    import pandas

    def table(name):
        with fiona.open(layer, layer=name) as rows:
            return pandas.DataFrame([dict(row["properties"]) for row in rows])

    return joined(table("segments"), table("edges"))


def with_duckdb(layer, _):
    import duckdb
    import duckdb_extension_spatial

    # The extension comes as a package; by itself DuckDB would fetch it from a server of its own.
    folder = os.path.dirname(duckdb_extension_spatial.__file__)
    (extension,) = glob.glob(f"{folder}/extensions/v{duckdb.__version__}/spatial.duckdb_extension")
    base = duckdb.connect()
    base.execute(f"LOAD '{extension}'")
    rows = base.execute(
        f"""SELECT s.segment_id, s.way_id, s.part, e.edge_id, e.from_node, e.to_node
            FROM st_read('{layer}', layer='segments') s
            JOIN st_read('{layer}', layer='edges') e ON s.edge_forward = e.edge_id"""
    ).fetchall()
    return [list(row) for row in rows]


READERS = {
    "geopandas": with_geopandas,
    "flatgeobuf": with_flatgeobuf,
    "fiona": with_fiona,
    "duckdb": with_duckdb,
}

json.dump(sorted(READERS[sys.argv[1]](*sys.argv[2:4])), sys.stdout)
