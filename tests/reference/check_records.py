"""Service records against outside tools: bagit (RFC 8493), sha256sum, OpenSSL both ways, salted digests by hand, areas by
GEOS from the record's strips, and the page by html5lib in strict mode. Keys and folders are made for the run."""

import hashlib
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile

import bagit
import html5lib
import shapely
from shapely.geometry import Polygon

NIGHT = "demo-data/night"
# The record's areas and GEOS's, m2.
OFF_M2 = 0.01


def run(*command, cwd=None, ok=(0,)):
    done = subprocess.run([str(part) for part in command], cwd=cwd, capture_output=True, text=True)
    assert done.returncode in ok, f"{command}: {done.returncode}\n{done.stdout}{done.stderr}"
    return done.stdout


def union(rings):
    return shapely.unary_union([Polygon(ring) for ring in rings], grid_size=1e-7)


def zone_ground(rings):
    """Outer rings run counter-clockwise, holes clockwise."""
    ground = Polygon()
    for ring in rings:
        shape = Polygon(ring)
        if shape.exterior.is_ccw:
            ground = shapely.union(ground, shape, grid_size=1e-7)
        else:
            ground = shapely.difference(ground, shape, grid_size=1e-7)
    return ground


def check_areas(strips, figures, name):
    """Liquid, gap, overlap and silence of every zone, from the strips alone."""
    checked = 0
    zones = {zone: zone_ground(rings) for zone, rings in strips["zones"]}
    for application, of in zip(strips["applications"], figures["applications"]):
        passes = [union(rings) for rings in application["passes"]]
        swept = shapely.unary_union(passes, grid_size=1e-7)
        twice = Polygon()
        seen = Polygon()
        for ground in passes:
            twice = shapely.union(twice, shapely.intersection(seen, ground, grid_size=1e-7), grid_size=1e-7)
            seen = shapely.union(seen, ground, grid_size=1e-7)
        silent = union(application["unlogged"]) if application["unlogged"] else Polygon()
        for zone in of["zones"]:
            if zone["liquid_m2"] is None:
                continue
            ground = zones[zone["zone"]]
            treated = shapely.intersection(ground, swept, grid_size=1e-7)
            left = shapely.difference(ground, swept, grid_size=1e-7)
            unlogged = shapely.intersection(left, silent, grid_size=1e-7)
            gap = left.area - unlogged.area
            stated_gap = zone["patches_m2"] + zone["perhaps_m2"] + zone["not_resolved_m2"]
            for what, stated, found in [
                ("area", zone["area_m2"], ground.area),
                ("liquid", zone["liquid_m2"], treated.area),
                ("gap", stated_gap, gap),
                ("overlap", zone["overlap_m2"], shapely.intersection(ground, twice, grid_size=1e-7).area),
                ("no fixes", zone["no_fixes_m2"], unlogged.area),
            ]:
                assert abs(stated - found) <= OFF_M2, f"{name} {zone['zone']} {what}: {stated} is not {found} m2"
                checked += 1
    return checked


def check_digests(folder, openings, night):
    """`cat salt file | sha256sum`, for every original."""
    commitments = json.loads((folder / "data/evidence/commitments.json").read_text())
    digests = sorted((of["role"], of["digest"]) for of in commitments["files"])
    assert digests == sorted((of["role"], of["digest"]) for of in openings), folder
    for opening in openings:
        salted = bytes.fromhex(opening["salt"]) + (night / opening["name"]).read_bytes()
        assert hashlib.sha256(salted).hexdigest() == opening["digest"], opening["name"]
    return len(openings)


def check_keys(program, folder, place):
    """OpenSSL verifies ours; the program verifies OpenSSL's."""
    verify = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", place / "pub.pem", "-rawin", "-in", "tagmanifest-sha256.txt"]
    run(*verify, "-sigfile", "signature.ed25519", cwd=folder)
    by_openssl = place / "by-openssl"
    run("openssl", "pkeyutl", "-sign", "-inkey", place / "key.pem", "-rawin", "-in", folder / "tagmanifest-sha256.txt", "-out", by_openssl)
    # Ed25519 signatures are the same whoever makes them (RFC 8032).
    assert by_openssl.read_bytes() == (folder / "signature.ed25519").read_bytes()
    der = subprocess.run(["openssl", "pkey", "-pubin", "-in", folder / "signer.pem", "-outform", "DER"], check=True, capture_output=True)
    report = json.loads(run(program, "verify", folder, "--trust", place / "pub.pem", "--json"))
    signature = next(of for of in report["checks"] if of["check"] == "signature")
    assert signature["result"] == "holds" and hashlib.sha256(der.stdout).hexdigest() in signature["details"][0]


def check_refused(program, place, out):
    """Keys of other kinds, as OpenSSL writes them."""
    run("openssl", "genpkey", "-algorithm", "RSA", "-out", place / "rsa.pem")
    run("openssl", "genpkey", "-algorithm", "ed25519", "-aes256", "-pass", "pass:word", "-out", place / "locked.pem")
    run("openssl", "genpkey", "-algorithm", "ed448", "-out", place / "ed448.pem")
    for name in ["rsa.pem", "locked.pem", "ed448.pem", "pub.pem"]:
        run(program, "record", place / "night", "--site", "auk", "--out", out, "--sign", place / name, ok=(2,))
    assert not out.exists()


AUTHORITY = """[req]
distinguished_name = name
prompt = no
[name]
CN = An authority for one test
[ca]
basicConstraints = critical,CA:true
[stamp]
extendedKeyUsage = critical,timeStamping
[tsa]
default_tsa = one
[one]
serial = serial
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
ess_cert_id_alg = sha256
"""


def check_stamp(program, folder, place):
    """A time stamp (RFC 3161) by an authority made for the run, asked for and checked as docs/formats.md says it."""
    (place / "tsa.cnf").write_text(AUTHORITY)
    (place / "serial").write_text("01\n")
    made = ["-config", "tsa.cnf"]
    run("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", "ca.key", "-out", "ca.pem", "-extensions", "ca", *made, cwd=place)
    run("openssl", "req", "-newkey", "rsa:2048", "-nodes", "-keyout", "tsa.key", "-out", "tsa.csr", *made, cwd=place)
    signs = ["-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-extfile", "tsa.cnf", "-extensions", "stamp"]
    run("openssl", "x509", "-req", "-in", "tsa.csr", "-out", "tsa.pem", *signs, cwd=place)

    manifest = "tagmanifest-sha256.txt"
    run("openssl", "ts", "-query", "-data", manifest, "-sha256", "-cert", "-out", place / "request.tsq", cwd=folder)
    stamp = folder / "timestamp.tsr"
    answers = ["-section", "one", "-queryfile", "request.tsq", "-signer", "tsa.pem", "-inkey", "tsa.key", "-out", stamp]
    run("openssl", "ts", "-reply", *made, *answers, cwd=place)

    def stamped(ok):
        run("openssl", "ts", "-verify", "-data", manifest, "-in", stamp.name, "-CAfile", place / "ca.pem", cwd=folder, ok=ok)

    stamped(ok=(0,))
    assert "Time stamp: " in run("openssl", "ts", "-reply", "-in", stamp, "-text")
    # It lies beside what the lists name: the bag stays valid, and verify names it as not checked.
    assert bagit.Bag(str(folder)).is_valid()
    told = json.loads(run(program, "verify", folder, "--trust", place / "pub.pem", "--json"))
    checks = {check["check"]: check["result"] for check in told["checks"]}
    assert told["holds"] and checks["time stamp"] == "not_checked", checks
    with (folder / manifest).open("a") as file:
        file.write(" ")
    stamped(ok=(1,))


def main(program):
    program = pathlib.Path(program).resolve()
    with tempfile.TemporaryDirectory() as name:
        place = pathlib.Path(name)
        night, out = place / "night", place / "records"
        shutil.copytree(NIGHT, night)
        run("openssl", "genpkey", "-algorithm", "ed25519", "-out", place / "key.pem")
        run("openssl", "pkey", "-in", place / "key.pem", "-pubout", "-out", place / "pub.pem")
        run(program, "intake", night)
        run(program, "record", night, "--all", "--out", out, "--date", "2026-01-12", "--sign", place / "key.pem")
        openings = json.loads((out / "openings.json").read_text())["records"]
        folders = sorted(path for path in out.iterdir() if path.is_dir())
        areas = digests = 0
        for folder in folders:
            assert bagit.Bag(str(folder)).is_valid(), f"{folder.name} is no valid bag"
            for manifest in ["tagmanifest-sha256.txt", "manifest-sha256.txt"]:
                run("sha256sum", "--check", "--strict", "--quiet", manifest, cwd=folder)
            digests += check_digests(folder, openings[folder.name], night)
            run(program, "verify", folder, "--trust", place / "pub.pem", "--night", night, "--strips", place / "strips.json")
            [strips] = json.loads((place / "strips.json").read_text())
            record = json.loads((folder / "data/service-record.json").read_text())
            areas += check_areas(strips, record["figures"], folder.name)
            page = (folder / "data/service-record.html").read_bytes()
            html5lib.HTMLParser(strict=True).parse(page, transport_encoding="utf-8")
        check_keys(program, folders[0], place)
        check_refused(program, place, place / "refused")
        check_stamp(program, folders[0], place)
    assert len(folders) == 7 and areas >= 40 and digests >= 20, (len(folders), areas, digests)
    print(f"records: {len(folders)} bags valid, {digests} salted digests, {areas} areas within {OFF_M2} m2 of GEOS, signatures both ways and a time stamp with OpenSSL")


if __name__ == "__main__":
    main(sys.argv[1])
