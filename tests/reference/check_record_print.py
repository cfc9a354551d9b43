"""A printed service record, read back with poppler: the statement stands first, every table's figures are there, and the
commands that check it stand on the last page only.

    check_record_print.py PAGE.html PAGE.pdf
"""

import pathlib
import re
import subprocess
import sys

import html5lib

HTML = "{http://www.w3.org/1999/xhtml}"
COMMANDS = ["sha256sum -c", "openssl pkeyutl", "swathbook verify"]


def plain(text):
    return re.sub(r"\s+", " ", text).strip()


def main(page_path, pdf):
    page = html5lib.parse(pathlib.Path(page_path).read_bytes(), transport_encoding="utf-8")
    printed = subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True).stdout.decode()
    pages = [text for text in printed.split("\f") if text.strip()]
    statement = plain("".join(page.find(f".//{HTML}p[@class='note']").itertext()))
    assert statement in plain(pages[0]), "the statement is not on the first page"
    text = plain(printed)
    cells = 0
    for row in page.iter(HTML + "tr"):
        for cell in row:
            # Broken lines of a cell stand apart in the layout: words are looked for one by one.
            for word in plain("".join(cell.itertext())).split():
                assert word in text or all(part in text for part in re.split("(?<=-)", word)), f"{word!r} is not on paper"
                cells += 1
    for command in COMMANDS:
        found = [number for number, lines in enumerate(pages, 1) if command in plain(lines)]
        assert found == [len(pages)], f"{command!r} is on pages {found} of {len(pages)}"
    print(f"{pathlib.Path(pdf).name}: {len(pages)} pages, {cells} words of tables, commands on the last page only")


if __name__ == "__main__":
    main(*sys.argv[1:])
