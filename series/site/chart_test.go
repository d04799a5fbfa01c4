package site

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
)

// marks reads a drawing back as XML: how many elements it has of each class, and its texts.
func marks(drawing string) (classes map[string]int, texts []string, err error) {
	classes = map[string]int{}
	dec := xml.NewDecoder(strings.NewReader(drawing))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return classes, texts, nil
		}
		if err != nil {
			return nil, nil, err
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		for _, a := range e.Attr {
			if a.Name.Local == "class" {
				classes[a.Value]++
			}
			if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
				return nil, nil, fmt.Errorf("%s %s=%q", e.Name.Local, a.Name.Local, a.Value)
			}
		}
		if e.Name.Local == "text" || e.Name.Local == "title" || e.Name.Local == "desc" {
			var words string
			if err := dec.DecodeElement(&words, &e); err != nil {
				return nil, nil, err
			}
			texts = append(texts, words)
		}
	}
}

func TestColumns(t *testing.T) {
	bars := []Bar{{Label: "1", Value: 10, Limit: 20}, {Label: "2", Value: 30, Limit: 20, Over: 10, Mark: true}, {Label: "3", None: true}, {Label: "<4>", Value: 0, Limit: 20}}
	got := string(Columns("load", `Load of "a" & b`, "Two <weeks>.", "h", 0, bars))
	classes, texts, err := marks(got)
	if err != nil {
		t.Fatal(err)
	}
	if classes["bar"] != 2 || classes["over"] != 1 || classes["limit"] != 4 { // three limits, one under the present week
		t.Errorf("%d bars, %d lined, %d strokes: %v", classes["bar"], classes["over"], classes["limit"], classes)
	}
	all := strings.Join(texts, "|")
	for _, want := range []string{`Load of "a" & b`, "Two <weeks>.", "<4>", "?", "h", "30"} {
		if !strings.Contains(all, want) {
			t.Errorf("the drawing does not say %q: %s", want, all)
		}
	}
	if _, _, err := marks(strings.Replace(got, "&lt;4&gt;", "<4>", 1)); err == nil {
		t.Error("the judge takes a text that is not escaped")
	}
}

// TestScale: round figures from 0 to the top or beyond, few of them, none apart by an odd step.
func TestScale(t *testing.T) {
	for _, top := range []float64{0.3, 1, 7, 12, 60, 100, 101, 999, 1234, 5e6} {
		s := steps(top)
		if s[0] != 0 || s[len(s)-1] < top || len(s) < 2 || len(s) > 6 || s[len(s)-1] > 2.6*top {
			t.Errorf("up to %g: %v", top, s)
		}
	}
	for _, top := range []float64{0, -1, math.Inf(1), math.NaN()} {
		if s := steps(top); len(s) != 2 {
			t.Errorf("up to %g: %v", top, s)
		}
	}
	if s := steps(100); fmt.Sprint(s) != "[0 25 50 75 100]" {
		t.Errorf("percent: %v", s)
	}
}

func TestEmptyCharts(t *testing.T) {
	for name, got := range map[string]string{"columns": string(Columns("a", "t", "s", "h", 0, nil)), "levels": string(Levels("b", "t", "s", nil, func(Bar) string { return "" })),
		"all zero": string(Levels("c", "t", "s", []Bar{{Label: "x"}}, func(Bar) string { return "0" })), "strip": string(Strip("d", "t", "s", 6, nil))} {
		if _, _, err := marks(got); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestStrip: each kind of week has marks of its own, so that a print in black tells them apart.
func TestStrip(t *testing.T) {
	kinds := map[string]Slot{"free": {}, "begun": {Name: "x", Done: 1}, "half": {Name: "x", Done: 3}, "late": {Name: "x", Done: 3, Late: true}, "early": {Name: "x", Out: true},
		"public": {Name: "x", Public: true}, "withdrawn": {Name: "x", Public: true, Void: true}}
	seen := map[string]string{}
	for name, k := range kinds {
		got := string(Mark("k", k, 6))
		if _, _, err := marks(got); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if other := seen[got]; other != "" {
			t.Errorf("%s looks like %s", name, other)
		}
		seen[got] = name
	}
	var slots []Slot
	for i := range 52 {
		slots = append(slots, Slot{Number: i + 1, Name: "x", Now: i == 30})
	}
	classes, texts, err := marks(string(Strip("s", "t", "s", 6, slots)))
	if err != nil || classes["slot"] != 52 || classes["limit"] != 1 {
		t.Errorf("%v %v", classes, err)
	}
	if n := len(texts); n != 2+2*52 {
		t.Errorf("%d texts", n)
	}
}

func TestFrame(t *testing.T) {
	for p, want := range map[string]string{"index.html": "", "boards/index.html": "../", "designs/x/index.html": "../../"} {
		if got := (Frame{Path: p}).Root(); got != want {
			t.Errorf("%s: %q", p, got)
		}
	}
}
