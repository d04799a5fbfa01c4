package sheet

import (
	"testing"

	"dropwright/bundle/design"
)

// TestCountsAreTheBillsAndTheTallys holds that a sheet states the numbers of the bill of materials and of the
// tally, for every design and variant of the demo season.
func TestCountsAreTheBillsAndTheTallys(t *testing.T) {
	everyVariant(t, func(t *testing.T, name, variant string) {
		in, _ := demo(t, name, variant, "en")
		s := Compose(in)
		got := map[[2]string]float64{}
		for _, c := range s.Counts {
			got[[2]string{c.Section, c.Name}] += c.Count
		}
		stated := func(section, name string, want float64) {
			t.Helper()
			k := [2]string{section, name}
			if got[k] != want {
				t.Errorf("%s %s: the sheet says %v, the bill %v", section, name, got[k], want)
			}
			delete(got, k)
		}
		bill := in.BOM.Variants[0]
		for _, p := range bill.Parts {
			stated("print", p.Name, float64(p.Copies+p.Mirrored))
		}
		for _, f := range bill.Fasteners {
			stated("fastener", f.Designation, float64(f.Count))
		}
		for _, b := range bill.Bought {
			stated("bought", b.Name, b.Count)
		}
		items, _ := in.Design.Tally(variant)
		steps := false
		for _, it := range items {
			if it.Used == 0 {
				continue
			}
			steps = true
			stated("step", it.Name, it.Used)
			if it.Kind != design.MadeItem && !it.Free && it.Used != it.Listed {
				t.Errorf("%s: listed %v, used %v", it.Name, it.Listed, it.Used)
			}
		}
		if len(got) > 0 {
			t.Errorf("the sheet counts what neither bill nor tally has: %v", got)
		}
		if !steps && name != "soil-stake" {
			t.Error("no step uses anything: the test saw nothing")
		}
	})
}
