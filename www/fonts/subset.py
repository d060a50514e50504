#!/usr/bin/env python3
"""Remakes the project's type from npm's @fontsource/barlow 5.3.0 (Barlow 1.408, SIL Open Font Licence 1.1, no
Reserved Font Name):

    npm pack @fontsource/barlow@5.3.0 && tar xzf fontsource-barlow-5.3.0.tgz
    pip install fonttools==4.68.0 brotli==1.2.1
    python3 www/fonts/subset.py package

writes, from the root of the project,

* www/fonts/barlow-{400,500,600}.woff2, for the page: Latin and Latin Extended joined in one file a weight, with `tnum`
  and kerning, without the glyphs only ligatures, fractions and proportional alternates need;
* src/grid/barlow-600-grid.ttf, for the grid: Basic Latin, Latin-1 and a little punctuation, the tabular figures in the
  figures' own places (the rasteriser applies no OpenType features) and the kerning of Basic Latin as a `kern` table;
* www/fonts/OFL.txt, the licence as the package carries it.

The same input gives the same bytes: time stamps are not touched.
"""
import sys
from pathlib import Path

from fontTools.merge import Merger, Options as MergeOptions
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont, newTable
from fontTools.ttLib.tables._k_e_r_n import KernTable_format_0

PAGE_WEIGHTS = (400, 500, 600)
PAGE_FEATURES = ["ccmp", "locl", "tnum", "kern", "mark", "mkmk"]
GRID_WEIGHT = 600
GRID_UNICODES = [*range(0x20, 0x7F), *range(0xA0, 0x100), 0x152, 0x153, 0x178, 0x2013, 0x2014, 0x2018, 0x2019, 0x201C,
                 0x201D, 0x2026, 0x20AC]
# Font units (1000 to the em). Smaller kerns are under a tenth of a pixel at 16 px and would only cost bytes.
LEAST_KERN = 6


def options(features):
    chosen = Options()
    chosen.layout_features = features
    chosen.name_IDs = [0, 1, 2, 5, 13, 14]
    chosen.notdef_outline = True
    chosen.hinting = False
    chosen.recalc_timestamp = False
    return chosen


def subset(font, unicodes, features):
    worker = Subsetter(options(features))
    worker.populate(unicodes=unicodes)
    worker.subset(font)
    return font


def page_font(files, weight, scratch):
    parts = []
    for name in ("latin", "latin-ext"):
        font = TTFont(files / f"barlow-{name}-{weight}-normal.woff2", recalcTimestamp=False)
        font.flavor = None
        for table in ("DSIG", "gasp", "fpgm", "prep", "cvt "):
            if table in font:
                del font[table]
        path = scratch / f"{name}-{weight}.ttf"
        font.save(path)
        parts.append(str(path))
    stamps = TTFont(parts[0])["head"]
    joined = Merger(MergeOptions(drop_tables=["vmtx", "vhea"])).merge(parts)
    joined.recalcTimestamp = False
    joined["head"].created, joined["head"].modified = stamps.created, stamps.modified
    subset(joined, sorted(joined.getBestCmap()), PAGE_FEATURES)
    joined.flavor = "woff2"
    return joined


def single_substitutions(font, tag):
    """{glyph: its replacement} of one feature."""
    table = font["GSUB"].table
    pairs = {}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag == tag:
            for index in record.Feature.LookupListIndex:
                for sub in table.LookupList.Lookup[index].SubTable:
                    sub = getattr(sub, "ExtSubTable", sub)
                    pairs.update(sub.mapping)
    return pairs


def kerning(font, left, right):
    """{(left, right): advance} from GPOS pair positioning; the first subtable that knows a pair has the say."""
    table = font["GPOS"].table
    lookups = sorted({index for record in table.FeatureList.FeatureRecord if record.FeatureTag == "kern"
                      for index in record.Feature.LookupListIndex})
    pairs = {}
    for index in lookups:
        for sub in table.LookupList.Lookup[index].SubTable:
            sub = getattr(sub, "ExtSubTable", sub)
            if sub.LookupType != 2:
                continue
            for a in left:
                if a not in sub.Coverage.glyphs:
                    continue
                if sub.Format == 1:
                    row = {r.SecondGlyph: r.Value1 for r in sub.PairSet[sub.Coverage.glyphs.index(a)].PairValueRecord}
                    values = [(b, row[b]) for b in right if b in row]
                else:
                    classes = sub.Class1Record[sub.ClassDef1.classDefs.get(a, 0)].Class2Record
                    values = [(b, classes[sub.ClassDef2.classDefs.get(b, 0)].Value1) for b in right]
                for b, value in values:
                    advance = getattr(value, "XAdvance", 0) if value is not None else 0
                    pairs.setdefault((a, b), advance)
    return {pair: value for pair, value in pairs.items() if abs(value) >= LEAST_KERN}


def grid_font(files):
    font = TTFont(files / f"barlow-latin-{GRID_WEIGHT}-normal.woff2", recalcTimestamp=False)
    font.flavor = None
    tabular = single_substitutions(font, "tnum")
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap = {code: tabular.get(glyph, glyph) if 0x30 <= code <= 0x39 else glyph
                          for code, glyph in table.cmap.items()}
    cmap = font.getBestCmap()
    basic = sorted({cmap[code] for code in range(0x21, 0x7F) if code in cmap and not 0x30 <= code <= 0x39})
    pairs = kerning(font, basic, basic)
    subset(font, GRID_UNICODES, [])
    for table in ("GSUB", "GPOS", "GDEF", "DSIG", "gasp", "fpgm", "prep", "cvt ", "STAT"):
        if table in font:
            del font[table]
    widths = {font["hmtx"][font.getBestCmap()[code]][0] for code in range(0x30, 0x3A)}
    assert len(widths) == 1, f"the figures are not tabular: {widths}"
    kern = KernTable_format_0()
    kern.version, kern.coverage, kern.apple, kern.kernTable = 0, 1, False, pairs
    font["kern"] = newTable("kern")
    font["kern"].version, font["kern"].kernTables = 0, [kern]
    return font


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: python3 www/fonts/subset.py DIRECTORY (the unpacked @fontsource/barlow)")
    import tempfile

    package = Path(sys.argv[1])
    root = Path(__file__).resolve().parents[2]
    with tempfile.TemporaryDirectory() as scratch:
        for weight in PAGE_WEIGHTS:
            page_font(package / "files", weight, Path(scratch)).save(root / f"www/fonts/barlow-{weight}.woff2")
    grid_font(package / "files").save(root / f"src/grid/barlow-{GRID_WEIGHT}-grid.ttf")
    (root / "www/fonts/OFL.txt").write_bytes((package / "LICENSE").read_bytes())


if __name__ == "__main__":
    main()
