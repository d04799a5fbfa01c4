package bom

import (
	"bytes"
	"slices"
	"strings"
	"testing"
)

func figureOf(x float64) *float64 { return &x }

// twins is a bill of two variants that share a screw and differ in another, in a mesh, and in a bought part.
func twins() BOM {
	return BOM{Design: "twins", Title: "Twins", Revision: "1.0.0", Builds: 1, Variants: []Variant{
		{Variant: "ce", Title: "small", Parts: []Part{{Name: "case", Copies: 1, Mesh: "a.stl", Grams: figureOf(10), Seconds: figureOf(3600)}, {Name: "lid", Copies: 1, Mesh: "lid.stl", Grams: figureOf(4)}},
			Fasteners: []Fastener{{Designation: "ISO 4762 - M3 x 8", Kind: "screw", Count: 4}, {Designation: "ISO 7089 - 3", Kind: "washer", Count: 2}}},
		{Variant: "stack", Title: "large", Parts: []Part{{Name: "case", Copies: 1, Mesh: "b.stl", Grams: figureOf(12), Seconds: figureOf(3600)}, {Name: "lid", Copies: 1, Mesh: "lid.stl", Grams: figureOf(4)}},
			Fasteners: []Fastener{{Designation: "ISO 4762 - M3 x 8", Kind: "screw", Count: 6}, {Designation: "ISO 7045 - M3 x 10", Kind: "screw", Count: 4}, {Designation: "ISO 7089 - 3", Kind: "washer", Count: 2}},
			Bought:    []Bought{{Name: "pulser", What: "pulse | module", Count: 1, Kind: "bought"}}},
	}}
}

func TestBeside(t *testing.T) {
	s := twins().Beside()
	var got []string
	for _, r := range s.Rows {
		got = append(got, strings.Join(slices.Concat([]string{r.Item, r.What}, r.Cells, []string{s.Said(r)}), "; "))
	}
	want := []string{
		"case; count; 1; 1; ",
		"case; mesh; a.stl; b.stl; differs",
		"case; mass of one; 10.0; 12.0; differs",
		"lid; count; 1; 1; ",
		"ISO 4762 - M3 x 8; screw; 4; 6; differs",
		"ISO 7045 - M3 x 10; screw; ; 4; only stack",
		"ISO 7089 - 3; washer; 2; 2; ",
		"pulser; pulse | module; ; 1; only stack",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if n := s.Differ(); n != 5 {
		t.Errorf("%d lines differ", n)
	}
	one := twins()
	one.Variants = one.Variants[:1]
	if s := one.Beside(); len(s.Rows) > 0 {
		t.Errorf("one variant stands beside nothing: %v", s.Rows)
	}
	same := twins()
	same.Variants[1] = same.Variants[0]
	if s := same.Beside(); s.Differ() != 0 || s.summary() != "All 4 lines are the same in every variant." {
		t.Errorf("%d of equal variants differ: %s", s.Differ(), s.summary())
	}
}

// What differs has a sign and a word in every format, never colour alone.
func TestBesideStandsOut(t *testing.T) {
	var md, page bytes.Buffer
	if err := twins().WriteMarkdown(&md); err != nil {
		t.Fatal(err)
	}
	if err := twins().WriteHTML(&page); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"5 of 8 lines differ", "| ≠ | **ISO 7045 - M3 x 10** | **screw** | **pcs** | **–** | **4** | **only stack** |", `pulse \| module`, "|  | ISO 7089 - 3 | washer | pcs | 2 | 2 |  |"} {
		if !strings.Contains(md.String(), want) {
			t.Errorf("the Markdown lacks %q:\n%s", want, md.String())
		}
	}
	for _, want := range []string{`<tr class="d"><td>≠</td><th scope="row">ISO 7045 - M3 x 10</th>`, "<td>only stack</td>", `<tr><td></td><th scope="row">ISO 7089 - 3</th>`} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q:\n%s", want, page.String())
		}
	}
}

func TestSheetName(t *testing.T) {
	var used []string
	for _, x := range [][2]string{{"ce", "ce"}, {"CE", "CE 2"}, {"a/b[c]", "a-b-c-"}, {"", "variant"}, {strings.Repeat("long", 10), strings.Repeat("long", 7) + "lon"}, {strings.Repeat("long", 11), strings.Repeat("long", 7) + "l 2"}} {
		got := sheetName(x[0], used)
		if got != x[1] {
			t.Errorf("%q gives %q, want %q", x[0], got, x[1])
		}
		used = append(used, got)
	}
}
