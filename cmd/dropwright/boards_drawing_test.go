package main

import (
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"dropwright/bundle/board"
)

// inked is one mark of an SVG: a text with what it covers, or a line.
type inked struct {
	words string
	of    area
	class string
}

// inkOf reads a drawing back from its SVG, y downwards: texts (2.5 mm, letters 0.55 wide, which is what common
// sans-serif fonts need), lines, the sides of rectangles and of the outline, rings.
func inkOf(t *testing.T, svg string) []inked {
	t.Helper()
	var out []inked
	dec := xml.NewDecoder(strings.NewReader(svg))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		at := map[string]string{}
		for _, a := range e.Attr {
			at[a.Name.Local] = a.Value
		}
		f := func(key string) float64 { v, _ := strconv.ParseFloat(at[key], 64); return v }
		line := func(x0, y0, x1, y1 float64) {
			out = append(out, inked{"", area{min(x0, x1) - 0.05, min(y0, y1) - 0.05, max(x0, x1) + 0.05, max(y0, y1) + 0.05}, at["class"]})
		}
		switch e.Name.Local {
		case "text":
			var words string
			if err := dec.DecodeElement(&words, &e); err != nil {
				t.Fatal(err)
			}
			w := float64(len([]rune(words))) * 2.5 * 0.55
			from := map[string]float64{"start": 0, "middle": -w / 2, "end": -w}[at["text-anchor"]]
			x, y := f("x"), f("y")
			of := area{x + from, y - 1.8, x + from + w, y + 0.4}
			if at["transform"] != "" {
				of = area{x - 1.8, y - from - w, x + 0.4, y - from}
			}
			out = append(out, inked{words, of, ""})
		case "line":
			line(f("x1"), f("y1"), f("x2"), f("y2"))
		case "circle":
			line(f("cx")-f("r"), f("cy")-f("r"), f("cx")+f("r"), f("cy")+f("r"))
		case "rect":
			if at["class"] == "" { // the paper
				continue
			}
			x0, y0, x1, y1 := f("x"), f("y"), f("x")+f("width"), f("y")+f("height")
			line(x0, y0, x1, y0)
			line(x0, y1, x1, y1)
			line(x0, y0, x0, y1)
			line(x1, y0, x1, y1)
		case "path":
			if at["class"] != "thick" {
				continue
			}
			var points [][2]float64
			for _, m := range regexp.MustCompile(`[ML](\S+) (-?[0-9.]+)`).FindAllStringSubmatch(at["d"], -1) {
				x, _ := strconv.ParseFloat(m[1], 64)
				y, _ := strconv.ParseFloat(m[2], 64)
				points = append(points, [2]float64{x, y})
			}
			for i, p := range points {
				q := points[(i+1)%len(points)]
				line(p[0], p[1], q[0], q[1])
			}
		}
	}
}

// overlaps are the texts of a drawing that touch another text or a line, or stand beyond its edge.
func overlaps(t *testing.T, svg string) []string {
	t.Helper()
	var out []string
	ink := inkOf(t, svg)
	m := regexp.MustCompile(`viewBox="(\S+) (\S+) (\S+) (\S+)"`).FindStringSubmatch(svg)
	var v [4]float64
	for i := range v {
		v[i], _ = strconv.ParseFloat(m[i+1], 64)
	}
	for i, a := range ink {
		if a.words == "" {
			continue
		}
		if a.of.x0 < v[0] || a.of.y0 < v[1] || a.of.x1 > v[0]+v[2] || a.of.y1 > v[1]+v[3] {
			out = append(out, fmt.Sprintf("%q stands beyond the edge", a.words))
		}
		for k, b := range ink {
			if k != i && a.of.shared(b.of) > 0 && (b.words == "" || k > i) {
				out = append(out, fmt.Sprintf("%q touches %q %s at %.1f, %.1f", a.words, b.words, b.class, b.of.x0, b.of.y0))
			}
		}
	}
	return out
}

// TestBoardNamesStandFree: names in the drawings stood on lines and on one another. The drawing that is wrong on
// purpose has two names in one place.
func TestBoardNamesStandFree(t *testing.T) {
	for _, id := range board.Builtin() {
		p, err := board.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range overlaps(t, drawBoard(p)) {
			t.Errorf("%s: %s", id, x)
		}
	}
	for _, x := range overlaps(t, drawMeasures()) {
		t.Errorf("what to measure: %s", x)
	}
	d := &drawing{x1: 50, y1: 50}
	d.text(10, 10, "start", false, "one")
	d.text(12, 11, "start", false, "two")
	if n := len(overlaps(t, d.done("", ""))); n != 1 {
		t.Errorf("two names in one place: %d overlaps found", n)
	}
}

// TestCrowdedBoardNames: three connectors side by side, closer than their names are high, as a maker may measure them.
func TestCrowdedBoardNames(t *testing.T) {
	m := measuredBoard{length: "30", width: "20", holes: []string{"2.5,1,1", "2.5,26,1"},
		ports: []string{"a,jst-ph-2,front,10,11,0", "b,jst-ph-2,front,12,13,0", "c,jst-ph-2,front,14,15,0"}}
	connector := board.Families()[0]
	for i, x := range m.ports {
		m.ports[i] = strings.Replace(x, "jst-ph-2", connector, 1)
	}
	text, err := m.profile("crowd")
	if err != nil {
		t.Fatal(err)
	}
	p, found := board.Parse("crowd.yaml", []byte(text))
	if p == nil {
		t.Fatal(found)
	}
	svg := drawBoard(p)
	var names []inked
	for _, x := range inkOf(t, svg) {
		if f := strings.Fields(x.words); len(f) == 2 && strings.Contains("abc", f[0]) {
			names = append(names, x)
		}
	}
	if len(names) != 3 {
		t.Fatalf("%d names, want 3", len(names))
	}
	for i, a := range names {
		for _, b := range names[i+1:] {
			if a.of.shared(b.of) > 0 {
				t.Errorf("%q touches %q", a.words, b.words)
			}
		}
	}
}

// TestBoardLegend: the legend told of grey receptacles and chain lines that were not drawn, and not of lands.
func TestBoardLegend(t *testing.T) {
	for _, id := range board.Builtin() {
		p, err := board.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		svg := drawBoard(p)
		for words, mark := range map[string]string{"Grey:": `class="body"`, "Chain line:": `class="plug"`, "Broken rectangle:": `<rect class="dash"`, "Broken ring:": `<circle class="dash"`} {
			if strings.Contains(svg, ">"+words) != strings.Contains(svg, mark) {
				t.Errorf("%s: legend %q %v, drawn %v", id, words, strings.Contains(svg, ">"+words), strings.Contains(svg, mark))
			}
		}
	}
}
