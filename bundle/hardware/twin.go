package hardware

import (
	"fmt"
	"strings"
)

// Twin is an old DIN number, the ISO standard in its place, and where the two differ for a size.
type Twin struct {
	DIN         string       `json:"din"`
	ISO         string       `json:"iso"`
	Size        Size         `json:"size"`
	Differences []Difference `json:"differences"` // empty: the same as far as known
	Provenance
}

// Difference is one figure in which twins differ, as the two tables have it.
type Difference struct {
	Figure string `json:"figure"` // "head height"
	DIN    string `json:"din"`
	ISO    string `json:"iso"`
}

// String puts the twins in a sentence for a finding.
func (t Twin) String() string {
	if len(t.Differences) == 0 {
		return fmt.Sprintf("%s is now %s, the same for %s", t.DIN, t.ISO, t.Size)
	}
	var parts []string
	for _, d := range t.Differences {
		parts = append(parts, fmt.Sprintf("%s %s instead of %s", d.Figure, d.DIN, d.ISO))
	}
	return fmt.Sprintf("%s is not quite %s: for %s it has %s", t.DIN, t.ISO, t.Size, strings.Join(parts, ", "))
}

// TwinOf tells what became of a DIN number, for a size. ok is false for a number without a twin
// (an ISO number, or a DIN standard that is still in force).
func TwinOf(standard string, size Size) (t Twin, ok bool) {
	std, ok := StandardOf(standard)
	if !ok {
		return Twin{}, false
	}
	pair, ok := table("twin").find("DIN", std.Number)
	if !ok {
		return Twin{}, false
	}
	t = Twin{DIN: std.Number, ISO: pair.Text("ISO"), Size: size, Provenance: pair.from()}
	switch pair.Text("figures") {
	case "same":
	case "tables":
		t.Differences = differences(t.DIN, t.ISO, size)
	default: // one odd size, told in words: "M5 is thicker"
		if words, found := strings.CutPrefix(pair.Text("figures"), string(size)+" is "); found {
			din, iso, _ := strings.Cut(strings.TrimPrefix(pair.Note, string(size)+" "), " against ")
			t.Differences = []Difference{{Figure: "thickness (" + words + ")", DIN: din, ISO: iso}}
		}
	}
	return t, true
}

// differences compares the rows of two standards column by column.
func differences(din, iso string, size Size) []Difference {
	a, okA := StandardOf(din)
	b, okB := StandardOf(iso)
	if !okA || !okB {
		return nil
	}
	ra, okA := table(a.figures).find("size", string(size))
	rb, okB := table(b.figures).find("size", string(size))
	if !okA || !okB {
		return nil
	}
	var list []Difference
	for _, column := range ra.columns {
		x := ra.Text(column)
		y := rb.Text(column)
		if column == "size" || column == "thread height" || x == "" || y == "" || x == y {
			continue // thread heights are a least figure in one table and a nominal one in the other
		}
		list = append(list, Difference{Figure: column, DIN: x, ISO: y})
	}
	return list
}
