package toolpath

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// plate prints outlines of a w x d rectangle, turned by an angle about its corner, 0.2 mm layers,
// with a purge line far out on the first layer.
func plate(w, d float64, layers int, turn float64) string {
	var b strings.Builder
	b.WriteString("M83\nG1 Z0.2 F3000\nG0 X-5 Y-5\nG1 X150 E10\n")
	sin, cos := math.Sincos(turn)
	for k := range layers {
		fmt.Fprintf(&b, "G1 Z%.3f\n", 0.2*float64(k+1))
		for i, p := range [][2]float64{{0, 0}, {w, 0}, {w, d}, {0, d}, {0, 0}} {
			e := " E1"
			if i == 0 {
				e = ""
			}
			fmt.Fprintf(&b, "G1 X%.3f Y%.3f%s\n", p[0]*cos-p[1]*sin, p[0]*sin+p[1]*cos, e)
		}
	}
	return b.String()
}

func TestMisfits(t *testing.T) {
	box := Shape{Size: [3]float64{40, 20, 6}, Layers: 30, Line: 0.4,
		Outline: [][2]float64{{0, 0}, {40, 0}, {40, 20}, {0, 20}}}
	for _, c := range []struct {
		name string
		text string
		want int
	}{
		{"as it stands", plate(39.6, 19.6, 30, 0), 0},
		{"quarter turn", plate(19.6, 39.6, 30, 0), 0},
		{"turned by 30 degrees", plate(39.6, 19.6, 30, math.Pi/6), 0},
		{"other layers", plate(39.6, 19.6, 40, 0), 2},
		{"larger", plate(49.6, 19.6, 30, 0), 1},
		{"as wide and as deep as when turned by 20 degrees", plate(44, 32, 30, 0), 1},
		{"half as wide again, turned", plate(59.6, 19.6, 30, math.Pi/6), 1},
		{"smaller", plate(35, 15, 30, 0), 1},
		{"cut off", plate(39.6, 19.6, 12, 0), 2},
	} {
		r := read(t, c.text)
		if got := r.Misfits(box); len(got) != c.want {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	// Without the outline a slanted turn cannot be told from another part: the finding names both sizes.
	box.Outline = nil
	got := read(t, plate(39.6, 19.6, 30, math.Pi/6)).Misfits(box)
	if len(got) != 1 || !strings.Contains(got[0], "40.0 x 20.0") {
		t.Errorf("got %q", got)
	}
}
