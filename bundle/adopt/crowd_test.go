package adopt_test

import (
	"fmt"
	"strings"
	"testing"

	"dropwright/bundle/adopt"
)

// TestCrowdedFolder: many parts, long lists and long texts at once end in notes, not in hours.
func TestCrowdedFolder(t *testing.T) {
	files := map[string][]byte{}
	for i := range 400 {
		k := 1 + float64(i)/100
		s := strings.ReplaceAll(string(smallMesh), "20", fmt.Sprintf("%.2f", 20*k))
		files[fmt.Sprintf("part%03d.stl", i)] = []byte(s)
	}
	var list, prose strings.Builder
	list.WriteString("Item;Qty;Where\n")
	prose.WriteString("# Crowd\n\nA crowd of parts.\n\n")
	for i := range 6000 {
		fmt.Fprintf(&list, "M3x%d socket;%d;part%03d\n", 6+i%20, 1+i%9, i%400)
		fmt.Fprintf(&prose, "Print part%03d with 4 walls.\n\n", i%400)
	}
	files["list.csv"], files["README.md"] = []byte(list.String()), []byte(prose.String())
	d, m := read(t, lay(files), adopt.Options{})
	if len(m.Parts) != 400 {
		t.Errorf("%d parts", len(m.Parts))
	}
	notes := strings.Join(d.Notes, "\n")
	if !strings.Contains(notes, "fasteners; those after") || !strings.Contains(notes, "was not searched for their names") {
		t.Errorf("the limits are not told: %s", notes)
	}
}
