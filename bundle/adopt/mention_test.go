package adopt

import (
	"fmt"
	"testing"
)

func TestMentions(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"4x M3x10", "4 screw M3 10  "},
		{"M3x8 socket head cap screw", "- screw M3 8  socket"},
		{"4 × M3 × 8 mm socket head screws and 4 M3 heat-set inserts (4.6 x 5.7)", "4 screw M3 8  socket; 4 insert M3 5.7 4.6 "},
		{"M3 heat-set insert, outer 4.6, length 5.7 - 4 pcs", "4 insert M3 5.7 4.6 "},
		{"Screw the board down with four M2.5x8 pan head screws, then close the lid with 4x M3x8.", "4 screw M2.5 8  pan; 4 screw M3 8  "},
		{"ISO 7045 M2,5x8 (x4)", "4 screw M2.5 8  "},
		{"M3 nuts x4", "4 nut M3 0  "},
		{"two M2 x 8 self-tapping screws", "2 screw M2 8  "},
		{"M3 screws, 12 mm long, 8 pcs", "8 screw M3 12  "},
		{"4 M3 nuts (ISO 4032)", "4 nut M3 0  "},
		{"M3x5.7x4.6 brass insert", "- insert M3 5.7 4.6 "},
		{"Put in the screws (M3x16) and nuts", "- screw M3 16  "},
		{"a USB lead of 1 m and a T-piece", ""},
		{"BM3x8 is no screw", ""},
		{"M4x16 button head, 3 off", "3 screw M4 16  button"},
	} {
		got := ""
		for i, m := range fastenersIn(c.text) {
			if i > 0 {
				got += "; "
			}
			n := "-"
			if m.counted {
				n = fmt.Sprint(m.count)
			}
			o := ""
			if m.outer > 0 {
				o = figureText(m.outer)
			}
			got += fmt.Sprintf("%s %s %s %s %s %s", n, m.kind, m.size, figureText(m.length), o, m.head)
		}
		if got != c.want {
			t.Errorf("%q:\n got %q\nwant %q", c.text, got, c.want)
		}
	}
}
