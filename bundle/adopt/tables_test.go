package adopt

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"
)

func TestQuantities(t *testing.T) {
	for _, c := range []struct {
		text string
		want quantity
	}{
		{"4", quantity{n: 4}}, {"4x", quantity{n: 4}}, {"x4", quantity{n: 4}}, {"4 pcs", quantity{n: 4}}, {"4 ×", quantity{n: 4}}, {"(x3)", quantity{n: 3}},
		{"four", quantity{n: 4}}, {"a pair", quantity{n: 2}}, {"2 packs of 10", quantity{n: 20, pack: 10}}, {"1 pack of 20", quantity{n: 20, pack: 20}}, {"pack of 50", quantity{n: 50, pack: 50}},
		{"8 (pack of 20)", quantity{n: 8, pack: 20}}, {"0,6 m", quantity{n: 0.6, unit: "m"}}, {"1.2 m", quantity{n: 1.2, unit: "m"}}, {"300 mm", quantity{n: 0.3, unit: "m"}},
		{"4 + 1 spare", quantity{n: 4}}, {"2 + 2", quantity{n: 4}}, {"3 Stück", quantity{n: 3}}, {"1,5", quantity{n: 1.5}}, {"1.250,5", quantity{n: 1250.5}},
	} {
		got, ok := parseQuantity(c.text)
		if !ok || got != c.want {
			t.Errorf("%q: %+v %v, want %+v", c.text, got, ok, c.want)
		}
	}
	for _, bad := range []string{"", "2-4", "a few", "M3", "?", "4 or 5", "1e9", strings.Repeat("9", 30)} {
		if q, ok := parseQuantity(bad); ok {
			t.Errorf("%q is read as %+v", bad, q)
		}
	}
}

func TestTimes(t *testing.T) {
	for text, want := range map[string]float64{"5h 20m": 19200, "5:20": 19200, "5h20": 19200, "5.5 h": 19800, "5,5 h": 19800, "320 min": 19200, "0.3125": 27000, "0,0486": 4199.04, "1d 2h": 93600, "45m": 2700, "7h 40 min": 27600, "2:05:30": 7530} {
		got, ok := parseTime(text)
		if !ok || got-want > 0.5 || want-got > 0.5 {
			t.Errorf("%q: %v %v, want %v", text, got, ok, want)
		}
	}
	for _, bad := range []string{"", "20", "5:75", "soon", "12.5", "h"} {
		if s, ok := parseTime(bad); ok {
			t.Errorf("%q is read as %v s", bad, s)
		}
	}
}

func TestCountsInLines(t *testing.T) {
	for _, c := range []struct {
		text string
		n    float64
		rest string
	}{{"4x M3x10", 4, "M3x10"}, {"4 × M3 nuts", 4, "M3 nuts"}, {"2 sieves", 2, "sieves"}, {"x3 feet", 3, "feet"}, {"four M3x8", 4, "M3x8"}, {"6pcs ferrule", 6, "ferrule"}} {
		if n, rest, ok := countAhead(c.text); !ok || n != c.n || rest != c.rest {
			t.Errorf("%q: %v %q %v", c.text, n, rest, ok)
		}
	}
	for _, none := range []string{"4 mm hose", "12 V supply", "M3x8", "lid", "0.2 mm layers"} {
		if n, _, ok := countAhead(none); ok {
			t.Errorf("%q is read as %v", none, n)
		}
	}
	for text, want := range map[string]float64{"Arm (x2)": 2, "lid.stl - 1": 1, "foot, 3 pcs": 3, "hood: qty 2": 2} {
		if n, _, ok := countBehind(text); !ok || n != want {
			t.Errorf("%q: %v %v", text, n, ok)
		}
	}
}

// tableOf reads the first table of a text.
func firstTable(t *testing.T, file, body string) *table {
	t.Helper()
	x := &text{file: file, lines: strings.Split(body, "\n")}
	if strings.HasSuffix(file, "sv") {
		return fileTable(x)
	}
	for _, b := range blocksOf(x) {
		if b.kind == tableBlock {
			return b.table
		}
	}
	t.Fatalf("no table in %q", body)
	return nil
}

func TestTablesOfAllForms(t *testing.T) {
	want := [][]string{{"lid.stl", "2", "red"}, {"base|box.stl", "1", "blue & black"}}
	for name, body := range map[string]string{
		"pipes.md":    "Text\n\n| File | Qty | Colour |\n|------|----:|:------|\n| `lid.stl` | 2 | **red** |\n| base\\|box.stl | 1 | blue & black |\n\nmore",
		"bare.md":     "File | Qty | Colour\n--- | --- | ---\nlid.stl | 2 | red\nbase\\|box.stl | 1 | blue & black\n",
		"html.md":     "<table>\n<tr><th>File</th><th>Qty</th><th>Colour</th></tr>\n<tr><td><code>lid.stl</code></td><td>2</td><td>red</td></tr>\n<tr><td>base|box.stl<td align=right>1<td>blue &amp; black</tr>\n</table>",
		"comma.csv":   "File,Qty,Colour\nlid.stl,2,red\nbase|box.stl,1,blue & black\n",
		"semi.csv":    "What to print;;\nFile;Qty;Colour\nlid.stl;2;red\nbase|box.stl;1;\"blue & black\"\n",
		"tabs.tsv":    "File\tQty\tColour\nlid.stl\t2\tred\nbase|box.stl\t1\tblue & black",
		"german.csv":  "Datei;Anzahl;Farbe\nlid.stl;2;red\nbase|box.stl;1;blue & black",
		"comment.md":  "<!-- old --><TABLE><TR><TH>File<TH>Qty<TH>Colour<TR><TD>lid.stl<TD>2<TD>red<TR><TD>base|box.stl<TD>1<TD>blue &amp; black</TABLE>",
		"rowspan.htm": "<table><tr><th>File</th><th>Qty</th><th>Colour</th></tr><tr><td>lid.stl</td><td>2</td><td>red</td></tr><tr><td>base|box.stl</td><td>1</td><td>blue &amp; black</td></tr></table>",
	} {
		tb := firstTable(t, name, body)
		l := layoutOf(tb.head)
		if !reflect.DeepEqual(l.kinds, []column{fileColumn, countColumn, colourColumn}) {
			t.Errorf("%s: columns %v of %q", name, l.kinds, tb.head)
		}
		var got [][]string
		for _, r := range tb.rows {
			got = append(got, r.cells)
			if line := strings.Split(body, "\n")[r.line-1]; len(r.cells) > 0 && !strings.Contains(line, strings.SplitN(r.cells[0], "|", 2)[0]) {
				t.Errorf("%s: the row %q is said to stand in %q", name, r.cells, line)
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %q", name, got)
		}
	}
	// a cell that reaches over rows belongs to each of them
	tb := firstTable(t, "span.md", "<table><tr><th>Item</th><th>Size</th><th>Qty</th></tr><tr><td rowspan=2>screw</td><td>M3x8</td><td>4</td></tr><tr><td>M3x10</td><td>2</td></tr></table>")
	if fmt.Sprint(tb.rows[1].cells) != "[screw M3x10 2]" {
		t.Errorf("%v", tb.rows)
	}
	for _, none := range []string{"a | b", "no table\n---\n", "| a | b |\ntext"} {
		for _, b := range blocksOf(&text{file: "x.md", lines: strings.Split(none, "\n")}) {
			if b.kind == tableBlock {
				t.Errorf("%q is read as a table", none)
			}
		}
	}
}

func TestColumns(t *testing.T) {
	for head, want := range map[string]column{"Part": nameColumn, "Quantity needed": countColumn, "Qty (CE)": countColumn, "STL file": fileColumn, "How many": countColumn, "Print time": timeColumn, "Price each (EUR)": priceColumn, "Weight (g)": gramsColumn,
		"Used for": whereColumn, "Stück": countColumn, "Länge": lengthColumn, "Quantité": countColumn, "Layer height": layerColumn, "Notes": noteColumn, "Xyzzy": unknownColumn, "Infill %": infillColumn} {
		if k, _ := columnOf(head); k != want {
			t.Errorf("%q: %v, want %v", head, k, want)
		}
	}
	if _, rest := columnOf("Qty CE"); rest != "ce" {
		t.Errorf("what is left of the head is %q", rest)
	}
	// a running number is no quantity
	l := layoutOf([]string{"#", "Item", "Qty"})
	l.settle([]row{{1, []string{"1", "screw", "9"}}, {2, []string{"2", "nut", "9"}}, {3, []string{"3", "fan", "1"}}})
	if l.kinds[0] != numberColumn || l.find(countColumn) != 2 {
		t.Errorf("%v", l.kinds)
	}
}

func TestEncodings(t *testing.T) {
	want := "8 °C – Größe\n"
	utf16le := []byte{0xFF, 0xFE}
	utf16be := []byte{0xFE, 0xFF}
	for _, u := range utf16.Encode([]rune(want)) {
		utf16le = append(utf16le, byte(u), byte(u>>8))
		utf16be = append(utf16be, byte(u>>8), byte(u))
	}
	for name, data := range map[string][]byte{"utf-8": []byte(want), "utf-8 with mark": append([]byte("\ufeff"), want...), "utf-16 little": utf16le, "utf-16 big": utf16be,
		"windows-1252": []byte("8 \xb0C \x96 Gr\xf6\xdfe\n"), "line ends": []byte("8 °C – Größe\r\n")} {
		if got, ok := decodeText(data); !ok || got != want {
			t.Errorf("%s: %q %v", name, got, ok)
		}
	}
	if _, ok := decodeText([]byte("PK\x03\x04\x00\x00\x00")); ok {
		t.Error("an archive is read as text")
	}
}

func TestLicences(t *testing.T) {
	for text, want := range map[string]string{
		"SPDX-License-Identifier: CERN-OHL-W-2.0":                                      "CERN-OHL-W-2.0",
		"Creative Commons Attribution-ShareAlike 4.0 International":                    "CC-BY-SA-4.0",
		"Creative Commons Attribution-NonCommercial 3.0 Unported":                      "CC-BY-NC-3.0",
		"Creative Commons Attribution-NonCommercial-ShareAlike 4.0":                    "CC-BY-NC-SA-4.0",
		"see https://creativecommons.org/licenses/by-nd/4.0/":                          "CC-BY-ND-4.0",
		"Licence: CC BY-SA 4.0":                                                        "CC-BY-SA-4.0",
		"CC0":                                                                          "CC0-1.0",
		"MIT License\n\nCopyright":                                                     "MIT",
		"Permission is hereby granted, free of charge, to any person obtaining a copy": "MIT",
		"CERN Open Hardware Licence Version 2 - Strongly Reciprocal":                   "CERN-OHL-S-2.0",
		"GNU GENERAL PUBLIC LICENSE Version 3, 29 June 2007":                           "GPL-3.0-or-later",
		"Apache License Version 2.0, January 2004":                                     "Apache-2.0",
		"all rights reserved":                                                          "",
	} {
		if got, _, _ := licenceIn(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	if _, guessed, _ := licenceIn("CC BY-SA"); !guessed {
		t.Error("a licence without its version is taken for certain")
	}
}

func TestSettings(t *testing.T) {
	for text, want := range map[string]wish{
		"0.2 mm layers, 3 perimeters, 15 % infill, no supports":                    {layer: "0.2", walls: "3", infill: "15 %", supports: "none"},
		"Layer height 0,25. Four walls, infill: 40%.":                              {layer: "0.25", walls: "4", infill: "40 %"},
		"Print it solid in PETG with supports.":                                    {infill: "100 %", supports: "needed", material: "PETG"},
		"Nothing needs supports":                                                   {supports: "none"},
		"100% infill so it dims evenly":                                            {infill: "100 %"},
		"Turn it by 90 degrees, it supports the board and rests on a layer of tar": {},
	} {
		var w wish
		w.prose(text)
		if w != want {
			t.Errorf("%q: %+v", text, w)
		}
	}
}
