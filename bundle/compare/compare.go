// Package compare says what changed between two states of a design and what a builder must print anew.
//
// It compares plain values and the outcome of comparing shapes (mesh/same); it opens no file, and it does not
// know where the two states come from: a revision, a bundle, a folder. Whether parts still mate is for the maker
// to say; Level proposes.
//
// Conventions: millimetres, mm3; every list is in the order of the newer state, what is gone after it.
package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/facts"
	"dropwright/bundle/mesh/same"
)

// Side is one state of a design.
type Side struct {
	Name     string // how people call it: "vent-minder 1.0.0", the zip's name
	Design   string
	Revision string
	Variants []Variant
}

// Variant is one buildable version of a state.
type Variant struct {
	Name      string
	Parts     []Part
	Fasteners []Line
	Bought    []Line
	Wiring    []Line
	Settings  []Line
	Steps     []Line
}

// Line is one thing of a list: what it is known by, and what is said of it. Lines with one key and another text
// have changed.
type Line struct{ Key, Text string }

// Part is a printed part.
type Part struct {
	Name     string
	Mesh     string // key under which the caller finds the mesh
	SHA256   string // of the file as drawn; "" when not known
	Copies   int
	Mirrored int
	Filament string
	Optional bool
	Joined   bool         // a fastener joins it to something
	Holes    []facts.Hole // nil: not measured
	Print    string       // settings that strength and fit depend on, in words
}

// The kinds of change of a part.
const (
	Same     = "same"
	Moved    = "moved"
	Turned   = "turned"
	Mirrored = "mirrored"
	Changed  = "changed"
	Added    = "added"
	Removed  = "removed"
)

// The answers to: must I print it again?
const (
	Yes    = "yes"
	No     = "no"
	OnlyIf = "only-if"
)

// PartChange is the verdict on one part.
type PartChange struct {
	Part      string      `json:"part"`
	Variant   string      `json:"variant,omitempty"`      // "" when it is so in all variants
	Was       string      `json:"renamed_from,omitempty"` // its name before
	Change    string      `json:"change"`
	Reprint   string      `json:"reprint"`
	Why       string      `json:"why"`
	Volume    *[2]float64 `json:"volume_mm3,omitempty"`
	Deviation *float64    `json:"max_deviation_mm,omitempty"`
	At        *[3]float64 `json:"at_mm,omitempty"`   // a place where it is that large, in the newer mesh
	Low       *[3]float64 `json:"low_mm,omitempty"`  // the box of all places that differ
	High      *[3]float64 `json:"high_mm,omitempty"` //
	Holes     []HoleMove  `json:"holes,omitempty"`

	Picture string `json:"picture,omitempty"` // file that shows where it differs, when one was written

	// Found is what comparing the shapes said; Meshes are the keys of the two meshes in the states, "" where there is none.
	Found  same.Result `json:"-"`
	Meshes [2]string   `json:"-"`

	moves bool // holes of a joined part came, went or moved
	grave bool // the part is needed and joined to others
}

// HoleMove is a hole whose diameter changed.
type HoleMove struct {
	At  [3]float64 `json:"at_mm"`
	Was float64    `json:"was_mm"`
	Is  float64    `json:"is_mm"`
}

// LineChange is a line of a list that came, went or changed.
type LineChange struct {
	Name    string `json:"name"`
	Variant string `json:"variant,omitempty"`
	Change  string `json:"change"` // added, removed, changed
	From    string `json:"from,omitempty"`
	To      string `json:"to,omitempty"`
}

// Diff is everything that changed.
type Diff struct {
	From      string       `json:"from"`
	To        string       `json:"to"`
	Parts     []PartChange `json:"parts"`
	Fasteners []LineChange `json:"fasteners"`
	Bought    []LineChange `json:"bought"`
	Wiring    []LineChange `json:"wiring"`
	Settings  []LineChange `json:"settings"`
	Steps     []LineChange `json:"steps"`

	Variants []LineChange `json:"variants,omitempty"` // that came or went
}

// Shapes compares two meshes by their keys: of the older state, of the newer one.
type Shapes func(a, b string) (same.Result, error)

// negligible (mm) is a difference that no printed part shows: half of what consumer printers repeat to, about
// 0.1 mm. Common practice, no source.
const negligible = 0.05

// Compare compares two states. An error is one of shapes.
func Compare(a, b Side, shapes Shapes) (Diff, error) {
	d := Diff{From: a.Name, To: b.Name, Parts: []PartChange{}}
	seen := memo(shapes)
	var lists [5][]LineChange
	shared := 0
	for _, v := range b.Variants {
		old, ok := find(a.Variants, v.Name)
		if !ok {
			d.Variants = append(d.Variants, LineChange{Name: v.Name, Change: Added})
			continue
		}
		shared++
		parts, err := partsOf(old, v, seen)
		if err != nil {
			return Diff{}, err
		}
		d.Parts = append(d.Parts, parts...)
		for i, pair := range [5][2][]Line{{old.Fasteners, v.Fasteners}, {old.Bought, v.Bought}, {old.Wiring, v.Wiring}, {old.Settings, v.Settings}, {old.Steps, v.Steps}} {
			lists[i] = append(lists[i], lines(pair[0], pair[1], v.Name)...)
		}
	}
	for _, v := range a.Variants {
		if _, ok := find(b.Variants, v.Name); !ok {
			d.Variants = append(d.Variants, LineChange{Name: v.Name, Change: Removed})
		}
	}
	d.Parts = mergeParts(d.Parts, shared)
	for i, to := range [5]*[]LineChange{&d.Fasteners, &d.Bought, &d.Wiring, &d.Settings, &d.Steps} {
		*to = mergeLines(lists[i], shared)
	}
	return d, nil
}

func find(list []Variant, name string) (Variant, bool) {
	i := slices.IndexFunc(list, func(v Variant) bool { return v.Name == name })
	if i < 0 {
		return Variant{}, false
	}
	return list[i], true
}

// memo compares each pair of meshes once.
func memo(shapes Shapes) Shapes {
	known := map[[2]string]same.Result{}
	return func(a, b string) (same.Result, error) {
		if r, ok := known[[2]string{a, b}]; ok {
			return r, nil
		}
		r, err := shapes(a, b)
		if err == nil {
			known[[2]string{a, b}] = r
		}
		return r, err
	}
}

// partsOf pairs the parts of two states of one variant: by name, and what is left over by shape, so that a part
// that was only renamed is found again.
func partsOf(a, b Variant, shapes Shapes) ([]PartChange, error) {
	taken := make([]bool, len(a.Parts))
	pair := make([]int, len(b.Parts))
	for i, p := range b.Parts {
		pair[i] = slices.IndexFunc(a.Parts, func(q Part) bool { return q.Name == p.Name })
		if pair[i] >= 0 {
			taken[pair[i]] = true
		}
	}
	for i, p := range b.Parts {
		for k := 0; k < len(a.Parts) && pair[i] < 0; k++ {
			if taken[k] {
				continue
			}
			r, err := shapes(a.Parts[k].Mesh, p.Mesh)
			if err != nil {
				return nil, err
			}
			if r.Kind == same.Same || r.Kind == same.Moved || r.Kind == same.Turned {
				pair[i], taken[k] = k, true
			}
		}
	}
	var out []PartChange
	for i, p := range b.Parts {
		if pair[i] < 0 {
			c := PartChange{Part: p.Name, Variant: b.Name, Change: Added, Reprint: Yes, Why: "the part is new"}
			if p.Optional {
				c.Reprint, c.Why = OnlyIf, "only if you want it: the part is new and optional"
			}
			out = append(out, c)
			continue
		}
		c, err := judge(a.Parts[pair[i]], p, shapes)
		if err != nil {
			return nil, err
		}
		c.Variant = b.Name
		out = append(out, c)
	}
	for k, p := range a.Parts {
		if !taken[k] {
			out = append(out, PartChange{Part: p.Name, Variant: a.Name, Change: Removed, Reprint: No, Why: "the part is no longer used", grave: p.Joined && !p.Optional})
		}
	}
	return out, nil
}

// judge compares two states of one part.
func judge(a, b Part, shapes Shapes) (PartChange, error) {
	c := PartChange{Part: b.Name, grave: b.Joined && !b.Optional}
	if a.Name != b.Name {
		c.Was = a.Name
	}
	r, err := shapes(a.Mesh, b.Mesh)
	if err != nil {
		return PartChange{}, fmt.Errorf("part %q: %w", b.Name, err)
	}
	c.Change = string(r.Kind)
	c.Found, c.Meshes = r, [2]string{a.Mesh, b.Mesh}
	zero := 0.0
	c.Volume, c.Deviation = &[2]float64{r.Volumes[0], r.Volumes[1]}, &zero
	switch r.Kind {
	case same.Same, same.Moved, same.Turned:
		c.Reprint, c.Why = settled(a, b, unchanged(r, a, b))
	case same.Mirrored:
		c.Reprint, c.Why = Yes, "it is the mirror image of what it was: the other hand does not fit in its place"
	case same.Changed:
		c.changed(a, b, r)
	}
	return c, nil
}

// unchanged says in what way a shape is the same.
func unchanged(r same.Result, a, b Part) string {
	switch {
	case r.Kind == same.Moved:
		return "the shape is the same, drawn in another place"
	case r.Kind == same.Turned:
		_, deg := r.Turn()
		return fmt.Sprintf("the shape is the same, turned by %.4g degrees in the file", math.Round(deg*100)/100)
	case a.SHA256 != "" && a.SHA256 == b.SHA256:
		return "the file is the same"
	}
	return "the shape is the same; only the file differs"
}

// settled is the answer for a part whose shape is the same: copies, colour and settings may still ask for more.
func settled(a, b Part, why string) (answer, because string) {
	var conds []string
	if n := b.Copies - a.Copies; n > 0 {
		conds = append(conds, fmt.Sprintf("you have fewer than %d: %d more is used now", b.Copies, n))
	}
	if n := b.Mirrored - a.Mirrored; n > 0 {
		conds = append(conds, fmt.Sprintf("you have fewer than %d of the mirror image: %d more is used now", b.Mirrored, n))
	}
	if a.Filament != b.Filament {
		conds = append(conds, fmt.Sprintf("you want the new colour: %s in place of %s", b.Filament, a.Filament))
	}
	if a.Print != b.Print {
		conds = append(conds, fmt.Sprintf("yours is too weak or failed: it is printed with %s now, was %s", b.Print, a.Print))
	}
	if len(conds) == 0 {
		return No, why
	}
	return OnlyIf, "only if " + strings.Join(conds, "; or ") + " (" + why + ")"
}

// changed judges a part of another shape.
func (c *PartChange) changed(a, b Part, r same.Result) {
	dev, at, low, high := r.Deviation, r.At, r.Low, r.High
	c.Deviation = &dev
	moved, holes := holesOf(a.Holes, b.Holes)
	c.Holes, c.moves = holes, moved
	switch {
	case dev == 0 && !r.Sampled:
		c.Reprint, c.Why = No, "the surface is the same; only its inside and outside were exchanged in the file"
		return
	case dev <= negligible:
		c.Reprint, c.Why = settled(a, b, fmt.Sprintf("it differs by at most %.3f mm, less than a printed part shows%s", dev, caveat(r)))
		return
	}
	c.At, c.Low, c.High = &at, &low, &high
	if len(holes) > 0 && !moved && onlyHoles(holes, dev) {
		c.Reprint, c.Why = OnlyIf, "only if what goes through binds or has play: "+tellHoles(holes)+caveat(r)
		return
	}
	c.Reprint = Yes
	what := "new surface"
	if r.OnFirst {
		what = "surface that is gone"
	}
	c.Why = fmt.Sprintf("it differs by up to %.2f mm (%s at %.1f, %.1f, %.1f)", dev, what, at[0], at[1], at[2])
	if len(holes) > 0 {
		c.Why += "; " + tellHoles(holes)
	}
	c.Why += caveat(r)
}

// caveat says when a deviation is only that of the places looked at.
func caveat(r same.Result) string {
	if !r.Sampled {
		return ""
	}
	return " (at the places sampled; the meshes are too large to look everywhere, so it may be more elsewhere)"
}

// onlyHoles reports whether the holes account for the whole difference: it is no larger than half of what a
// diameter changed by, less what sampling and facets add.
func onlyHoles(holes []HoleMove, dev float64) bool {
	most := 0.0
	for _, h := range holes {
		most = math.Max(most, math.Abs(h.Is-h.Was)/2)
	}
	return dev <= most+negligible
}

func tellHoles(holes []HoleMove) string {
	type size struct{ was, is float64 }
	count := map[size]int{}
	var order []size
	for _, h := range holes {
		s := size{math.Round(h.Was*100) / 100, math.Round(h.Is*100) / 100}
		if count[s] == 0 {
			order = append(order, s)
		}
		count[s]++
	}
	var out []string
	for _, s := range order {
		word := "holes go"
		if count[s] == 1 {
			word = "hole goes"
		}
		out = append(out, fmt.Sprintf("%d %s from %.4g to %.4g mm", count[s], word, s.was, s.is))
	}
	return strings.Join(out, ", ")
}

// samePlace (mm) is how far the middle of a hole may lie from where it was and still be the same hole; hole
// patterns are drawn to a tenth. Assumed.
const samePlace = 0.1

// holesOf pairs holes by axis and middle. moved tells that one came, went, or lies elsewhere.
func holesOf(a, b []facts.Hole) (moved bool, sizes []HoleMove) {
	if a == nil || b == nil {
		return false, nil
	}
	used := make([]bool, len(a))
	for _, h := range b {
		best, near := -1, samePlace
		for i, o := range a {
			if used[i] || fmt.Sprint(o.Axis) != fmt.Sprint(h.Axis) || o.Kind != h.Kind {
				continue
			}
			if d := distance(o.Centre, h.Centre); d <= near {
				best, near = i, d
			}
		}
		if best < 0 {
			moved = true
			continue
		}
		used[best] = true
		if math.Abs(a[best].Diameter-h.Diameter) > 0.01 {
			sizes = append(sizes, HoleMove{At: h.Centre, Was: a[best].Diameter, Is: h.Diameter})
		}
	}
	return moved || slices.Contains(used, false), sizes
}

func distance(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}
