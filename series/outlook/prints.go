package outlook

import (
	"cmp"
	"fmt"
	"slices"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/trial"
)

// What a print is for.
const (
	ForTrial = "trial"
	ForBuild = "build"
)

// prints are equal prints of one part that a design still needs.
type prints struct {
	part, variant string
	use           string // ForTrial or ForBuild
	count         int    // prints, one after another
	copies        int    // of the part in each
	seconds       float64
	grams, most   float64 // of each print
	filament      string
	on            []string // printers that take it
	optional      bool
}

// thing is a fastener or a bought part that builds still need.
type thing struct {
	kind, item, unit string
	count            float64
	pack, price      float64 // of a pack; 0: not known
	each             float64 // price of one; 0: not known
}

// wants is what one design still needs, and what of it is not known.
type wants struct {
	prints  []prints
	things  []thing
	unknown []string
}

// wantsOf works out what is still to be printed and put together of a design. Test prints: as many of each mesh
// as are planned, less those that were logged of it, one at least, and none when the last one was accepted.
// Builds: as many of each variant as are planned, less those that are booked. All copies of a part for one build
// are one print.
func wantsOf(name string, k Known, house *design.House, plan Plan, log []trial.Record, built func(design, variant string) float64, boardTitle func(string) string) wants {
	var out wants
	if k.Design == nil || k.Facts == nil {
		return wants{unknown: []string{name + ": its manifest cannot be read"}}
	}
	d, f := k.Design, k.Facts
	lacks := map[string]bool{}
	lack := func(part, why string) {
		if text := name + "/" + part + ": " + why; !lacks[text] {
			lacks[text] = true
			out.unknown = append(out.unknown, text)
		}
	}
	print := func(p design.Part, x *facts.Part, use, variant string, count, copies int) {
		if count <= 0 || copies <= 0 {
			return
		}
		if x == nil || x.Estimate == nil {
			why := "its mesh is not there or cannot be measured"
			if x != nil && x.Unestimated != "" {
				why = x.Unestimated
			}
			lack(string(p.Name.V), why)
			return
		}
		pal, _ := d.Colours.Get(string(p.Colour.V))
		n := float64(copies)
		pr := prints{part: string(p.Name.V), variant: variant, use: use, count: count, copies: copies, seconds: n * x.Estimate.Seconds, grams: n * x.Estimate.Grams,
			most: n * x.Estimate.GramsHigh, filament: string(pal.First().V), on: x.FitsOn, optional: bool(p.Optional.V)}
		if len(x.FitsOn) > 0 {
			if m, ok := f.Printer(x.FitsOn[0]); ok {
				pr.seconds += m.Start + m.ChangeOver
			}
		}
		out.prints = append(out.prints, pr)
	}
	tried := map[[2]string]bool{}
	for i := range f.Parts {
		x := &f.Parts[i]
		key := [2]string{x.Part, x.Mesh}
		if tried[key] {
			continue
		}
		tried[key] = true
		p, ok := d.Part(x.Part)
		if !ok {
			continue
		}
		variant := x.Variant
		if len(d.Variants) == 0 || !meshDiffers(f, x) {
			variant = ""
		}
		print(p, x, ForTrial, variant, trialsLeft(f, x, plan.Trials, log), 1)
	}
	jigs := map[string]bool{}
	for _, v := range d.VariantNames() {
		n := plan.Builds - int(built(name, v))
		if n <= 0 {
			continue
		}
		for _, p := range d.PartsOf(v) {
			if p.Role.V == "reference" || bool(p.Optional.V) {
				continue
			}
			drawn, mirrored := p.CopiesOf(v)
			count := n
			if p.Role.V == "jig" { // one serves for all builds
				if count = 1; jigs[string(p.Name.V)] {
					continue
				}
				jigs[string(p.Name.V)] = true
			}
			x, _ := f.Part(string(p.Name.V), v)
			variant := v
			if len(d.Variants) == 0 {
				variant = ""
			}
			print(p, x, ForBuild, variant, count, drawn+mirrored)
		}
		out.things = append(out.things, thingsOf(d, house, v, n, boardTitle)...)
	}
	return out
}

// meshDiffers says whether a part has another mesh in another variant.
func meshDiffers(f *facts.Design, x *facts.Part) bool {
	return slices.ContainsFunc(f.Parts, func(y facts.Part) bool { return y.Part == x.Part && y.Mesh != x.Mesh })
}

// trialsLeft is how many test prints of a part's present mesh are still planned.
func trialsLeft(f *facts.Design, x *facts.Part, planned int, log []trial.Record) int {
	m, ok := f.Mesh(x.Mesh)
	if !ok || planned == 0 {
		return planned
	}
	if _, ok := trial.Accepted(log, m.SHA256); ok {
		return 0
	}
	done := 0
	for _, r := range log {
		if r.Mesh == m.SHA256 && m.SHA256 != "" && r.Outcome != "" {
			done++
		}
	}
	return max(planned-done, 1)
}

// thingsOf are the fasteners and bought parts of some builds of a variant.
func thingsOf(d *design.Design, house *design.House, variant string, builds int, boardTitle func(string) string) []thing {
	var out []thing
	// Nothing of it follows from the meshes; without their facts the bill lays no parts out on beds, which takes
	// longer than all the rest.
	for _, v := range bom.Compute(d, &facts.Design{}, house, []string{variant}, builds, boardTitle).Variants {
		for _, x := range v.Fasteners {
			if !x.Optional {
				out = append(out, thing{"fastener", x.Designation, "pcs", float64(x.Count), 0, 0, 0}.priced(x.Packs, x.PackOf, x.Cost))
			}
		}
		for _, x := range v.Bought {
			if !x.Optional {
				out = append(out, thing{"bought", x.What, cmp.Or(x.Unit, "pcs"), x.Count, 0, 0, 0}.priced(x.Packs, x.PackOf, x.Cost))
			}
		}
	}
	return out
}

// priced takes over what a pack holds and costs, or what one costs.
func (t thing) priced(packs *int, of, cost *float64) thing {
	if packs != nil && of != nil && *packs > 0 {
		t.pack = *of
		if cost != nil {
			t.price = *cost / float64(*packs)
		}
		return t
	}
	if cost != nil && t.count > 0 {
		t.each = *cost / t.count
	}
	return t
}

// called names a print for people.
func (p prints) called(design string) string {
	text := design + "/" + p.part
	if p.variant != "" {
		text += fmt.Sprintf(" (%s)", p.variant)
	}
	return text
}
