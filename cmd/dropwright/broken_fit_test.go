package main

import (
	"maps"
	"path/filepath"
	"regexp"
	"testing"
)

func init() { maps.Copy(broken, brokenFit) }

// brokenFit is the part of the table about screws, holes and the order of steps. The meshes are made by
// examples/broken/make-meshes.sh; where the manifest is the same as that of a clean design, only the mesh is
// wrong.
var brokenFit = map[string][]string{
	"clean-insert":        nil,
	"clean-nut":           nil,
	"screw-unknown":       {"screw-unknown 11:30"},
	"screw-unmade":        {"screw-unmade 11:30"},
	"screw-short":         {"screw-short 11:30"},
	"screw-long":          {"screw-long 11:30"},
	"thread-differs":      {"thread-differs 11:120"},
	"standard-withdrawn":  {"standard-withdrawn 11:30"},
	"lengths-many":        {"lengths-many 12:35"},
	"hole-missing":        {"hole-missing 11:56"},
	"boss-missing":        {"boss-missing 11:68"},
	"boss-low":            {"boss-missing 11:68"},
	"hole-offset":         {"hole-offset 11:68"},
	"hole-spread":         {"hole-offset 11:56"},
	"screw-proud":         {"screw-proud 11:30"},
	"hole-narrow":         {"hole-narrow 11:68"},
	"hole-facets":         {"hole-narrow 11:56"},
	"hole-wide":           {"hole-wide 11:68"},
	"hole-falls":          {"hole-wide 11:56"},
	"hole-loose":          {"hole-loose 11:56"},
	"hole-uneven":         {"hole-uneven 11:68"},
	"boss-thin":           {"boss-thin 11:68"},
	"sink-missing":        {"sink-missing 11:75"},
	"sink-narrow":         {"sink-narrow 11:56"},
	"cone-narrow":         {"sink-narrow 11:76"},
	"head-proud":          {"head-proud 11:56"},
	"board-hole-narrow":   {"board-hole-narrow 11:69"},
	"insert-hole-narrow":  {"insert-hole-narrow 11:120"},
	"insert-hole-wide":    {"insert-hole-wide 11:120"},
	"insert-hole-shallow": {"insert-hole-shallow 11:120"},
	"insert-wall-thin":    {"insert-wall-thin 11:120"},
	"nut-pocket-missing":  {"nut-pocket-missing 11:89"},
	"nut-pocket-narrow":   {"nut-pocket-narrow 11:89"},
	"nut-pocket-wide":     {"nut-pocket-wide 11:89"},
	"nut-pocket-shallow":  {"nut-pocket-shallow 11:89"},
	"joint-unlisted":      {"joint-unlisted 8:12"},
	"hole-unused":         {"hole-unused 11:43"},
	"gap-narrow":          {"gap-narrow 9:90"},
	"parts-overlap":       {"parts-overlap 9:90"},
	"tenfold-insert":      {"value-tenfold 11:109", "value-tenfold 11:97"},
	"tenfold-fan":         {"value-tenfold 10:60"},
	"tenfold-thick":       {"value-tenfold 10:97"},
	"fastener-early":      {"fastener-early 13:63"},
	"made-late":           {"made-late 13:62"},
	"step-order":          {"step-order 13:88"},
	"cover-early":         {"cover-early 16:64"},
	"tool-missing":        {"tool-missing 13:88"},
	"size-unlisted":       {"size-unlisted 13:29"},
}

// figure is a number with a unit.
var figure = regexp.MustCompile(`[0-9] (mm|diameters?)\b`)

// Findings from measurement print what was measured and what is needed: two figures with units at least.
func TestMeasuredFindingsNameFigures(t *testing.T) {
	a := testApp(t, filepath.Join(repository(t), "examples", "broken"))
	s, err := a.openSeries()
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	measured := regexp.MustCompile(`^(screw-short|screw-long|hole-|boss-|sink-|head-|board-hole-|insert-|nut-|joint-unlisted|cover-early)`)
	n := 0
	for name := range brokenFit {
		c, err := a.checkOne(s, name, "", texts{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range c.list {
			if !measured.MatchString(f.Code) {
				continue
			}
			n++
			if len(figure.FindAllString(f.Text, -1)) < 2 {
				t.Errorf("%s: fewer than two figures with units: %s", name, f.Text)
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d findings from measurement were looked at", n)
	}
	if len(figure.FindAllString("the hole is too small", -1)) != 0 {
		t.Error("the test would pass a finding without figures")
	}
}
