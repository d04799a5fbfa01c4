package measure

import (
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/unit"
)

// What was learnt goes before the series' figure, a part's own before both; the design itself is not changed.
func TestAllowancesAreHandedOn(t *testing.T) {
	learnt, later := 0.21, 0.3
	d := &design.Design{Parts: []design.Part{
		{Name: val(design.Name("case"))},
		{Name: val(design.Name("lid")), Print: design.Print{HoleAllowance: val(unit.Length(0.05))}},
		{Name: val(design.Name("knob"))},
	}}
	d.Parts[0].At = val(0).At
	parts := []facts.Part{{Part: "case", Variant: "a", HoleAllowance: &learnt}, {Part: "case", Variant: "b", HoleAllowance: &later},
		{Part: "lid", HoleAllowance: &learnt}, {Part: "knob"}, {Part: "gone", HoleAllowance: &learnt}}
	house := design.Print{HoleAllowance: val(unit.Length(0.15))}
	got := withAllowances(d, parts)
	for i, want := range []unit.Length{0.21, 0.05, 0.15} {
		if a := got.Parts[i].Print.Over(house).HoleAllowance.V; a != want {
			t.Errorf("%s: %v, want %v", got.Parts[i].Name.V, a, want)
		}
	}
	if d.Parts[0].Print.HoleAllowance.Set() {
		t.Error("the design itself was changed")
	}
	if withAllowances(d, parts[3:4]) != d {
		t.Error("nothing was learnt, and the design was copied")
	}
}
