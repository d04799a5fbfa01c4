package adopt

import (
	"fmt"
	"testing"
)

func TestFileNames(t *testing.T) {
	for _, c := range []struct{ file, want string }{
		{"meshes/case_CE_x1.stl", "case-ce 1x"},
		{"Arm (x2).stl", "arm 2x"},
		{"cheek-L.stl", "cheek left"},
		{"cheekLeft.STL", "cheek left"},
		{"Lid v2 final.stl", "lid v[2] age 2"},
		{"lid_v1.3.stl", "lid v[1 3]"},
		{"old/lid.stl", "lid old"},
		{"lid (1).stl", "lid copy"},
		{"lid - Copy.stl", "lid copy"},
		{"2x_foot.stl", "foot 2x"},
		{"foot 3 pcs.stl", "foot 3x"},
		{"box_black.stl", "box black"},
		{"hood_2026-04-01.stl", "hood v[20260401]"},
		{"full assembly.stl", "full-assembly reference"},
		{"drill jig.stl", "drill-jig jig"},
		{"v2.stl", "v2 v[2]"},
		{"left.stl", "left"},
		{"filter-frame.stl", "filter-frame"},
		{"m3x8-holder.stl", "m3x8-holder"},
	} {
		n := nameOf(c.file, nil)
		got := n.stem()
		if n.copies > 0 {
			got += fmt.Sprintf(" %dx", n.copies)
		}
		if n.side != "" {
			got += " " + n.side
		}
		if n.colour != "" {
			got += " " + n.colour
		}
		if n.version != nil {
			got += fmt.Sprintf(" v%v", n.version)
		}
		if n.age != 0 {
			got += fmt.Sprintf(" age %d", n.age)
		}
		if n.old {
			got += " old"
		}
		if n.noise > 0 {
			got += " copy"
		}
		if n.role != "" {
			got += " " + n.role
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.file, got, c.want)
		}
	}
	if newer(nameOf("lid v2.stl", nil), nameOf("lid.stl", nil)) <= 0 || newer(nameOf("lid old.stl", nil), nameOf("lid.stl", nil)) >= 0 || newer(nameOf("lid v2 final.stl", nil), nameOf("lid v2.stl", nil)) <= 0 {
		t.Error("the newer state is not known by its name")
	}
}
